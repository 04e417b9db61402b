package models

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"strikerose/dataset/bearing"
	"strikerose/features"
)

// recipe is how a family is fitted.
type recipe struct {
	info       Info
	prior      Certainty // stated where nothing was measured
	blind      Certainty // likewise where it works with a gyroscope and has none
	settings   []Setting
	candidates func(ex []Example, o Options) []candidate
	decode     func(data []byte) (core, error) // of the parameters in a file
}

// recipes lists every family, rules first.
func recipes() []recipe {
	return []recipe{peakArctangent(), kickDirection(), principalAxis(), pendulum(), physicsRule(), complexRidge(), kNearest(), cart(), forest(), boostedTrees(), informed(), discriminant(), perceptron()}
}

// Families lists every family of detectors, rules first.
func Families() []Family {
	var out []Family
	for _, r := range recipes() {
		out = append(out, r.family())
	}
	return out
}

func (r recipe) family() Family { return Family{Info: r.info, Settings: r.settings, Fit: r.fit} }

// FamilyByName finds a family, or makes the pair BEARING+HEIGHT of two.
func FamilyByName(name string) (Family, bool) {
	r, ok := recipeByName(name)
	if !ok {
		return Family{}, false
	}
	if bearing, height, pair := strings.Cut(name, pairSign); pair {
		b, _ := FamilyByName(bearing)
		h, _ := FamilyByName(height)
		return Pair(b, h), true
	}
	return r.family(), true
}

// Names lists the names of the families.
func Names() []string {
	var out []string
	for _, r := range recipes() {
		out = append(out, r.info.Name)
	}
	return out
}

// fit learns a detector. Among several forms it takes the one with the least
// cross-validated error, bearing and height counted alike relative to the
// first form's; a form with more weights must be better by a fiftieth.
func (r recipe) fit(ctx context.Context, ex []Example, o Options) (Detector, error) {
	ex, err := checked(ex)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", r.info.Name, err)
	}
	if len(ex) == 0 && r.info.Kind == Fitted {
		return nil, fmt.Errorf("%s: no labelled strikes: label some, or use a rule", r.info.Name)
	}
	if o, err = o.settled(r.settings); err != nil {
		return nil, fmt.Errorf("%s: %w", r.info.Name, err)
	}
	for i := range ex { // a copy
		ex[i].Row = within(ex[i].Row, o.WithinMs)
	}
	list := r.candidates(ex, o)
	of, n, how := folds(ex, o.Seed)
	if o.Uncalibrated && len(list) == 1 {
		n, how = 0, "no strikes were held back"
	}
	height := slices.Contains(r.info.Gives, "height")
	var scores []Score
	var held [][]residual
	for _, c := range list {
		res, err := crossValidate(ctx, c, ex, of, n, o.Seed)
		if err != nil {
			return nil, fmt.Errorf("%s: %s: %w", r.info.Name, c.name, err)
		}
		scores, held = append(scores, score(c.name, res)), append(held, res)
	}
	best := picked(scores, height)
	made, err := list[best].fit(ctx, ex, o.Seed)
	if err != nil {
		return nil, fmt.Errorf("%s: %s: %w", r.info.Name, list[best].name, err)
	}
	if err := o.check(made, ex); err != nil {
		return nil, fmt.Errorf("%s: %w", r.info.Name, err)
	}
	m := &Model{options: o, core: made, Rigs: yaws(ex, together(made, ex)), prior: r.prior, blind: r.blind}
	if len(list) > 1 {
		how += ", the form picked on the same strikes"
	}
	m.Certainty = calibrate(held[best], how, list[best].lands)
	if !m.Certainty.Calibrated {
		m.Certainty = r.prior
		if len(ex) > 0 {
			m.Certainty.How = "a prior, not measured: " + how
		}
	} else if len(m.Rigs) > 1 {
		m.Certainty.perRig(m.Rigs, held[best])
	}
	if n > 0 {
		m.Scores = append(m.Scores, score(list[best].name, unpicked(held, of, n, height)))
		for i, s := range scores {
			if i != best {
				m.Scores = append(m.Scores, s)
			}
		}
	}
	m.info = r.describe(made, o.WithinMs, m.Certainty)
	return m, nil
}

// picked is the position of the form to take.
func picked(scores []Score, height bool) int {
	best, least := 0, math.Inf(1)
	for i, s := range scores {
		if worth := s.worth(scores[0], height); worth < least*0.98 {
			best, least = i, worth
		}
	}
	return best
}

// unpicked returns the errors of picking a form and using it: those of each fold by
// the form that the other folds would pick. The least of several errors on the same
// strikes is smaller than the error to come.
func unpicked(held [][]residual, of []int, n int, height bool) []residual {
	var out []residual
	to := 0
	for f := range n { // errors stand fold by fold, see crossValidate
		from := to
		for _, fold := range of {
			if fold == f {
				to++
			}
		}
		var scores []Score
		for _, res := range held {
			scores = append(scores, score("", slices.Concat(res[:from], res[to:])))
		}
		out = append(out, held[picked(scores, height)][from:to]...)
	}
	return out
}

// describe fills in what depends on the fit.
func (r recipe) describe(c core, withinMs float64, certainty Certainty) Info {
	info := r.info
	info.WaitMs, info.GyroWaitMs = waits(c, withinMs)
	info.Cost = c.cost()
	info.NeedsGyro = info.NeedsGyro || needsGyro(c)
	info.Calibrated = certainty.Calibrated
	return info
}

// waits are how long after the onset a core reads, without rotation rates and
// with them; what is stated beside the answer waits no longer than withinMs.
func waits(c core, withinMs float64) (ms, gyroMs float64) {
	ms = features.ToMs(reads(c, withinMs)...)
	gyroMs = ms
	if w, ok := c.(waiter); ok {
		ms, gyroMs = math.Max(ms, w.waitMs(false)), math.Max(ms, w.waitMs(true))
	}
	return ms, gyroMs
}

// reads lists every feature that a detector reads, for its answer and for what
// it states beside it.
func reads(c core, withinMs float64) []string {
	stated := Options{WithinMs: withinMs}.cut(statedFeatures())
	if !slices.Contains(stated, "kick") {
		stated = append(stated, "first_motion") // see kickMPS
	}
	return union(c.features(), stated)
}

// crossValidate returns the errors of every example by a fit without its fold.
func crossValidate(ctx context.Context, c candidate, ex []Example, of []int, n int, seed uint64) ([]residual, error) {
	var out []residual
	for f := range n {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		train, hold := split(ex, of, f)
		made, err := c.fit(ctx, train, seed)
		if err != nil {
			return nil, err
		}
		learned, held := yaws(train, together(made, train)), together(made, hold)
		// A rig whose every label is held back: the detector in use will know
		// its yaw, so the fold's own stands in, if there are labels enough that
		// each hardly moves it. Errors about a yaw of their own would flatter.
		own := yaws(hold, held)
		for i, e := range hold {
			r := held[i]
			mount, ok := find(learned, e.Rig.Key())
			if !ok {
				if theirs, _ := find(own, e.Rig.Key()); theirs.Labels >= leastToCalibrate {
					mount = theirs
				}
			}
			out = append(out, residual{
				in: e.Input, session: e.Session, told: r.told, harder: 1, harderM: 1,
				bearingDeg: bearing.Diff(bearing.Of(r.q)+mount.YawDeg, e.BearingDeg), heightM: r.heightM - e.HeightM, answeredM: r.heightM,
				labelSDDeg: e.BearingSDDeg, labelSDM: e.HeightSDM,
			})
		}
	}
	return out, nil
}

// score is of the form with the given errors on strikes held back; no strikes score 0.
func score(form string, res []residual) Score {
	s := Score{Form: form, Strikes: len(res)}
	if len(res) == 0 {
		return s
	}
	flips := 0
	for _, r := range res {
		s.BearingMAEDeg += math.Abs(r.bearingDeg)
		s.HeightMAEM += math.Abs(r.heightM)
		if r.flipped() {
			flips++
		}
	}
	n := float64(len(res)) // divided by once: a sum of shares can be more than 1
	s.BearingMAEDeg, s.HeightMAEM, s.Flips = s.BearingMAEDeg/n, s.HeightMAEM/n, float64(flips)/n
	return s
}

// worth compares a form with the first one; smaller is better.
func (s Score) worth(first Score, height bool) float64 {
	if s.Strikes == 0 {
		return 0 // nothing was held back: the simplest form stays
	}
	const least = 1e-9
	w := s.BearingMAEDeg / math.Max(first.BearingMAEDeg, least)
	if height {
		w += s.HeightMAEM / math.Max(first.HeightMAEM, least)
	}
	return w
}
