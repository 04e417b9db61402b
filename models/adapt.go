package models

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"strikerose/dataset/rig"
)

// Own labels from which Adapt does more: chooses what answers and knows the turn
// of the sensor, corrects heights, corrects bearings.
const (
	AdaptsYaw     = leastToChoose
	AdaptsHeights = leastToCorrect
	AdaptsFully   = leastToTurn
)

// Target is a rig to adapt a detector to, and what there is to do it with.
type Target struct {
	Rig       *rig.Rig
	Own       []Example // labelled strikes of it
	Others    []Example // labelled strikes of other rigs and revisions
	Simulated []Example // strikes simulated for the rig; they never count as labels of it
	// Earlier describes rigs that the detector was trained on: a revision of the
	// same rig whose sensor is mounted alike lends its yaw offset.
	Earlier []*rig.Rig
	Board   bool // only what a board can run
}

// Bases: what answers before it is corrected.
const (
	BaseTrained   = "as trained"
	BaseRigFile   = "rig file"
	BaseAgain     = "trained again"
	BaseSimulated = "trained again with simulated strikes"
)

// Forms of what labels of the target teach on top, simplest first.
const (
	FormYaw       = "yaw"        // the mount's turn alone
	FormLine      = "line"       // heights shifted and stretched too
	FormTerms     = "terms"      // all terms of a Correction
	FormPooled    = "pooled"     // the same, from what other rigs taught
	FormSimulated = "simulation" // the same, from what simulated strikes taught
)

// Trial is one base with the forms that served it best, and its errors on
// strikes of the target that were held back in turn.
type Trial struct {
	Base     string `json:"base"`     // what answers before it is corrected: one of BaseTrained, BaseRigFile, BaseAgain or BaseSimulated
	Detector string `json:"detector"` // name of the detector that answers
	// Bearing is the form in which labels correct the bearing: one of FormYaw, FormLine,
	// FormTerms, FormPooled or FormSimulated.
	Bearing   string `json:"bearing"`
	Height    string `json:"height"`    // form in which labels correct the height, in the words of the bearing's
	Simulated bool   `json:"simulated"` // whether simulated strikes take part
	Score     Score  `json:"score"`     // errors on strikes of the target that were held back; all 0 where there were too few to hold any back
	Chosen    bool   `json:"chosen"`    // whether this one was taken
}

// Adapted is a detector for the target, and how it came about.
type Adapted struct {
	Detector *Model
	Chosen   Trial
	Trials   []Trial // none where too few labels are there to choose by
	// YawSDDeg is how far the yaw offset may be off, as a standard deviation:
	// from the scatter of the labels, the mount of an earlier revision, or none.
	YawSDDeg float64
	YawFrom  string // YawOwn, YawEarlier, YawBoth or YawNone
	// SimulatedGain is the share of the held-back error that simulated strikes
	// take off, bearing and height counted alike, and OthersGain that which the
	// labels of other rigs and revisions take off besides the detector given; NaN
	// where it was not measured. Either is used only where it is told from 0.
	SimulatedGain, OthersGain float64
}

// Where a target's yaw offset comes from.
const (
	YawNone    = "rig file"
	YawOwn     = "own labels"
	YawEarlier = "earlier revision"
	YawBoth    = "own labels and earlier revision"
)

// Round numbers of the settled rule; see the measurement in
// eval/fewshot_recordings_test.go.
const (
	leastToChoose  = 6   // own labels from which bases are chosen by held-back errors
	leastToCorrect = 12  // likewise corrections of the height
	leastToTurn    = 24  // and of the bearing
	againFrom      = 24  // own labels from which a family is worth training on them without others
	ownWeight      = 10  // an own strike among those of other rigs counts as so many
	againFolds     = 4   // of the own strikes, when a family is trained again
	mostHeldBack   = 30  // folds otherwise: one strike each up to so many
	outsideSuits   = 0.2 // of geometry, see Changes.suits: how far outside its rigs a detector is kept unmeasured
	priorStrikes   = 6   // that the certainty brought along counts as
	mostPooled     = 60  // strikes of each other rig that a correction is pooled from
)

// Adapt carries a detector to another rig.
//
// Without labels a rule answers as before. A fitted detector does where the
// rig's geometry lies within that of the rigs that taught it and both have a
// gyroscope; elsewhere the physics of the rig file stands in. Few labels teach
// the yaw offset. From six on, what answers best on own labels that are held
// back in turn is chosen: the detector as trained, the rig file, or the family
// trained again with own strikes counted tenfold among the others. From twelve
// on it is likewise chosen how heights are corrected on top, from 24 on how
// bearings are. A form with more
// weights, and a base further from the given one, must be better by a standard
// error of the difference (the rule of Breiman, Friedman, Olshen and Stone
// 1984, there for pruning trees); what simulated strikes taught by two.
//
// It is an error when labels are of another rig than said, or a fitted detector
// was trained on the target itself.
func Adapt(ctx context.Context, from Detector, to Target, seed uint64) (*Adapted, error) {
	m, ok := from.(*Model)
	if !ok {
		return nil, fmt.Errorf("adapt: %T is not one of this program's detectors", from)
	}
	own, err := to.checked()
	if err != nil {
		return nil, fmt.Errorf("adapt: %w", err)
	}
	if y, known := find(m.Rigs, to.Rig.Key()); known && y.Labels > 0 && m.info.Kind == Fitted {
		return nil, fmt.Errorf("adapt: %s was trained on rig %s itself: train it again with the new labels, or give the file from before", m.info.Name, to.Rig.Key())
	}
	if m.info.Kind == Rule && m.info.NeedsGyro && !to.Rig.HasGyro() {
		return nil, fmt.Errorf("adapt: %s needs a gyroscope, and rig %s has none: give another detector", m.info.Name, to.Rig.Key())
	}
	to.Own = cutRows(own, m.options.WithinMs)
	to.Others, to.Simulated = cutRows(to.Others, m.options.WithinMs), cutRows(to.Simulated, m.options.WithinMs)
	bases, err := basesFor(ctx, m, to, seed)
	if err != nil {
		return nil, fmt.Errorf("adapt: %w", err)
	}
	out := &Adapted{SimulatedGain: math.NaN(), OthersGain: math.NaN()}
	best := tried{base: bases[0], bearing: form{name: FormYaw}, height: form{name: FormYaw}}
	if len(to.Own) >= leastToChoose {
		if best, err = out.choose(ctx, bases, to); err != nil {
			return nil, fmt.Errorf("adapt: %w", err)
		}
	}
	out.Chosen = best.trial()
	out.Chosen.Chosen = true
	if err := out.build(m, best, to); err != nil {
		return nil, fmt.Errorf("adapt: %w", err)
	}
	return out, nil
}

// checked refuses labels that cannot be of what they are said to be, and returns
// the own ones in the order of their content.
func (t Target) checked() ([]Example, error) {
	if t.Rig == nil {
		return nil, errors.New("no rig is given")
	}
	if err := ConstantsOf(t.Rig).check(); err != nil {
		return nil, fmt.Errorf("rig %s: %w", t.Rig.Key(), err)
	}
	own, err := checked(t.Own)
	if err != nil {
		return nil, err
	}
	if _, err := checked(slices.Concat(t.Others, t.Simulated)); err != nil {
		return nil, err
	}
	key := t.Rig.Key()
	for _, e := range slices.Concat(own, t.Simulated) {
		if e.Rig.Key() != key {
			return nil, fmt.Errorf("a strike of session %q is of rig %s, not of %s: give it among the others", e.Session, e.Rig.Key(), key)
		}
	}
	for _, e := range t.Others {
		if e.Rig.Key() == key {
			return nil, fmt.Errorf("a strike of session %q among the others is of rig %s itself: give it as its own", e.Session, key)
		}
	}
	return own, nil
}

// cutRows returns the examples with their rows cut to a wait.
func cutRows(ex []Example, withinMs float64) []Example {
	out := slices.Clone(ex)
	for i := range out {
		out[i].Row = within(out[i].Row, withinMs)
	}
	return out
}
