package models

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"strikerose/dataset/bearing"
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
	Base      string `json:"base"`
	Detector  string `json:"detector"`
	Bearing   string `json:"bearing"` // form of the bearing's part
	Height    string `json:"height"`  // and of the height's
	Simulated bool   `json:"simulated"`
	Score     Score  `json:"score"`
	Chosen    bool   `json:"chosen"`
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
	if m.info.NeedsGyro && !to.Rig.HasGyro() {
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

// base is one thing that may answer.
type base struct {
	name      string
	simulated bool   // fitted on simulated strikes too
	others    bool   // on those of other rigs too
	model     *Model // fitted with all there is
	// again fits it with these own strikes; nil where it does not learn from them.
	again func(ctx context.Context, own []Example) (*Model, error)
}

// basesFor lists what may answer on the target, what stands without labels
// first.
func basesFor(ctx context.Context, m *Model, to Target, seed uint64) ([]base, error) {
	out := []base{{name: BaseTrained, model: m}}
	if m.info.Kind == Rule {
		return out, nil
	}
	if b, ok := rigFileBase(ctx, m, to, seed); ok {
		if m.suits(to.Rig) {
			out = append(out, b)
		} else {
			out = append([]base{b}, out...)
		}
	}
	if len(to.Own) < leastToChoose {
		return out[:1], nil
	}
	add := func(name string, simulated []Example) error {
		again := func(ctx context.Context, own []Example) (*Model, error) {
			return m.again(ctx, own, slices.Concat(to.Others, simulated), seed)
		}
		made, err := again(ctx, to.Own)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err == nil { // a family that cannot be fitted so is no base
			out = append(out, base{name: name, simulated: len(simulated) > 0, others: len(to.Others) > 0, model: made, again: again})
		}
		return nil
	}
	if len(to.Others) > 0 || len(to.Own) >= againFrom {
		if err := add(BaseAgain, nil); err != nil {
			return nil, err
		}
	}
	if len(to.Simulated) > 0 && len(to.Own) >= leastToCorrect {
		if err := add(BaseSimulated, to.Simulated); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// again fits the detector's own form on strikes of the target, each counted
// ownWeight times, among others. Its certainty is that of the detector given:
// held-back strikes of the target set it right.
func (m *Model) again(ctx context.Context, own, others []Example, seed uint64) (*Model, error) {
	r, ok := recipeByName(m.info.Name)
	if !ok {
		return nil, fmt.Errorf("%s is not a family", m.info.Name)
	}
	times := ownWeight
	if len(others) == 0 {
		times = 1
	}
	ex := slices.Clone(others)
	for range times {
		ex = append(ex, own...)
	}
	ex, err := checked(ex)
	if err != nil {
		return nil, err
	}
	list := r.candidates(ex, m.options)
	if len(list) == 0 {
		return nil, fmt.Errorf("%s has no form for so few strikes", m.info.Name)
	}
	form := list[len(list)-1]
	for _, s := range slices.Backward(m.Scores) { // the chosen one stands first
		for _, c := range list {
			if c.name == s.Form {
				form = c
			}
		}
	}
	made, err := form.fit(ctx, ex, seed)
	if err != nil {
		return nil, err
	}
	out := *m
	out.core, out.Rigs = made, yaws(made, ex)
	return &out, nil
}

// suits tells whether a fitted detector is kept on a rig that none of its labels
// is of.
func (m *Model) suits(r *rig.Rig) bool {
	from, to := math.Inf(1), math.Inf(-1)
	for _, y := range m.Rigs {
		if y.Constants.RadiusOfGyrationM > 0 {
			from, to = math.Min(from, y.Constants.geometry()), math.Max(to, y.Constants.geometry())
		}
	}
	g := ConstantsOf(r).geometry()
	return !m.core.blind(r.HasGyro()) && g >= from-outsideSuits && g <= to+outsideSuits
}

// rigFileBase is what answers from the rig file alone within the wait of m.
func rigFileBase(ctx context.Context, m *Model, to Target, seed uint64) (base, bool) {
	name := "physics"
	if to.Board {
		name = "pendulum"
	}
	f, ok := FamilyByName(name)
	if !ok || f.NeedsGyro && !to.Rig.HasGyro() {
		return base{}, false
	}
	for _, e := range to.Own {
		if e.Window == nil && name == "physics" {
			return base{}, false
		}
	}
	d, err := f.Fit(ctx, nil, Options{Seed: seed, WithinMs: m.options.WithinMs, Only: m.options.Only})
	if err != nil {
		return base{}, false // it would wait for too long
	}
	return base{name: BaseRigFile, model: d.(*Model)}, true
}

// form is one way to correct bearings or heights.
type form struct {
	name      string
	terms     []string
	start     *Correction
	simulated bool // what simulated strikes taught
	others    bool // what other rigs taught
}

// formsFor lists the forms that a base may take, for bearings and for heights,
// simplest first.
func formsFor(b base, to Target) (bearings, heights []form, err error) {
	bearings, heights = []form{{name: FormYaw}}, []form{{name: FormYaw}}
	n := len(to.Own)
	// Trained again, it has learned from these strikes already; aims teach a yaw
	// and nothing else, see coarse.
	if b.again != nil || to.Board || n < leastToCorrect || coarse(to.Own) {
		return bearings, heights, nil
	}
	heights = append(heights, form{name: FormLine, terms: lineTerms()})
	var ofBearing, ofHeight []string
	for _, t := range corrections() {
		switch {
		case len(b.model.options.cut(t.features)) < len(t.features):
		case t.bearing:
			ofBearing = append(ofBearing, t.name)
		default:
			ofHeight = append(ofHeight, t.name)
		}
	}
	add := func(name string, start *Correction) {
		f := form{name: name, terms: ofHeight, start: start, simulated: name == FormSimulated, others: name == FormPooled}
		heights = append(heights, f)
		if n >= leastToTurn {
			f.terms = ofBearing
			bearings = append(bearings, f)
		}
	}
	add(FormTerms, nil)
	for _, from := range []struct {
		name string
		ex   []Example
	}{{FormPooled, to.Others}, {FormSimulated, to.Simulated}} {
		start, err := pooled(b.model.core, from.ex, ofBearing, ofHeight)
		if err != nil {
			return nil, nil, err
		}
		if start != nil {
			add(from.name, start)
		}
	}
	return bearings, heights, nil
}

// pooled is the mean of the corrections that rigs need, one by one, each by
// leastToTurn to mostPooled of its strikes; nil for none.
func pooled(c core, ex []Example, ofBearing, ofHeight []string) (*Correction, error) {
	byRig := map[string][]Example{}
	var keys []string
	for _, e := range ex {
		k := e.Rig.Key()
		if byRig[k] == nil {
			keys = append(keys, k)
		}
		byRig[k] = append(byRig[k], e)
	}
	var all []*Correction
	for _, k := range keys {
		n := len(byRig[k])
		if n < leastToTurn || coarse(byRig[k]) {
			continue
		}
		var some []Example
		for i := range min(n, mostPooled) {
			some = append(some, byRig[k][i*n/min(n, mostPooled)])
		}
		one, err := learnCorrection(answers(plain(c), some), ofBearing, ofHeight, nil)
		if err != nil {
			return nil, err
		}
		all = append(all, one)
	}
	if len(all) == 0 {
		return nil, nil
	}
	mean := &Correction{BearingTerms: ofBearing, HeightTerms: ofHeight, BearingDeg: make([]float64, len(ofBearing)), HeightM: make([]float64, len(ofHeight))}
	for _, one := range all {
		for k, w := range one.BearingDeg {
			mean.BearingDeg[k] += w / float64(len(all))
		}
		for k, w := range one.HeightM {
			mean.HeightM[k] += w / float64(len(all))
		}
	}
	return mean, nil
}

// tried is a base with forms, and its errors on own strikes held back.
type tried struct {
	base            base
	bearing, height form
	missDeg, missM  []float64
	scale, scaleM   []float64
}

func (t tried) trial() Trial {
	s := Score{Form: t.base.name, Strikes: len(t.missDeg)}
	for i := range t.missDeg {
		s.BearingMAEDeg += math.Abs(t.missDeg[i]) / float64(len(t.missDeg))
		s.HeightMAEM += math.Abs(t.missM[i]) / float64(len(t.missDeg))
		if math.Abs(t.missDeg[i]) > 120 {
			s.Flips += 1 / float64(len(t.missDeg))
		}
	}
	return Trial{
		Base: t.base.name, Detector: t.base.model.info.Name, Bearing: t.bearing.name, Height: t.height.name,
		Simulated: t.base.simulated || t.bearing.simulated || t.height.simulated, Score: s,
	}
}

// lessons of others than the own labels may be left out to see what they gain.
type allowed struct{ simulated, others bool }

func (a allowed) takes(simulated, others bool) bool {
	return (a.simulated || !simulated) && (a.others || !others)
}

// choose tries every base with every form and keeps the best.
func (a *Adapted) choose(ctx context.Context, bases []base, to Target) (tried, error) {
	everything := make([]held, len(bases))
	for i, b := range bases {
		var err error
		if everything[i], err = holdBack(ctx, b, to); err != nil {
			return tried{}, err
		}
	}
	pick := func(of allowed) tried {
		var best tried
		for i, h := range everything {
			t := h.best(of)
			if i == 0 || of.takes(h.base.simulated, h.base.others) && best.beatenBy(t) {
				best = t
			}
		}
		return best
	}
	best := pick(allowed{true, true})
	chosen := best.trial()
	for _, h := range everything {
		trial := h.best(allowed{true, true}).trial()
		trial.Chosen = trial.Base == chosen.Base
		a.Trials = append(a.Trials, trial)
	}
	gain := func(without allowed) float64 { return 1 - chosen.Score.worth(pick(without).trial().Score, true)/2 }
	if len(to.Simulated) > 0 && len(to.Own) >= leastToCorrect {
		a.SimulatedGain = gain(allowed{false, true})
	}
	if len(to.Others) > 0 && len(to.Own) >= leastToCorrect {
		a.OthersGain = gain(allowed{true, false})
	}
	return best, nil
}

// held is a base with the errors of every form on own strikes held back.
type held struct {
	base              base
	bearings, heights []form
	missDeg, missM    [][]float64 // of each form
	scale, scaleM     []float64   // of the strikes' own difficulty, see residual
}

// best is the base with its best forms of those allowed.
func (h held) best(of allowed) tried {
	pick := func(forms []form, miss [][]float64) int {
		best := 0
		for k, f := range forms {
			if of.takes(f.simulated, f.others) && better(miss[best], miss[k], sureness(f.simulated)) {
				best = k
			}
		}
		return best
	}
	b, m := pick(h.bearings, h.missDeg), pick(h.heights, h.missM)
	return tried{
		base: h.base, bearing: h.bearings[b], height: h.heights[m],
		missDeg: h.missDeg[b], missM: h.missM[m], scale: h.scale, scaleM: h.scaleM,
	}
}

// holdBack holds own strikes back in turn and answers them by every form.
func holdBack(ctx context.Context, b base, to Target) (held, error) {
	h := held{base: b}
	var err error
	if h.bearings, h.heights, err = formsFor(b, to); err != nil {
		return h, err
	}
	own := to.Own
	folds := min(len(own), mostHeldBack)
	if b.again != nil {
		folds = againFolds
	}
	all := answers(plain(b.model.core), own)
	c := b.model.Certainty
	for _, l := range all {
		h.scale = append(h.scale, l.blow.doubt.bearing*c.Difficulty.scale(l.Input, l.blow.heightM))
		h.scaleM = append(h.scaleM, l.blow.doubt.height*c.HeightDifficulty.scale(l.Input, l.blow.heightM))
	}
	for range h.bearings {
		h.missDeg = append(h.missDeg, make([]float64, len(own)))
	}
	for range h.heights {
		h.missM = append(h.missM, make([]float64, len(own)))
	}
	for fold := range folds {
		if err := ctx.Err(); err != nil {
			return h, err
		}
		seen := all
		if b.again != nil {
			var rest []Example
			for i, e := range own {
				if i%folds != fold {
					rest = append(rest, e)
				}
			}
			m, err := b.again(ctx, rest)
			if err != nil {
				return h, err
			}
			seen = answers(m.core, own)
		}
		if err := h.fold(seen, fold, folds); err != nil {
			return h, err
		}
	}
	return h, nil
}

// fold learns every form on what one fold leaves and notes the errors in it.
func (h *held) fold(all []taught, fold, folds int) error {
	var rest []taught
	for i, l := range all {
		if i%folds != fold {
			rest = append(rest, l)
		}
	}
	for k, f := range h.bearings {
		c, err := learnCorrection(rest, f.terms, nil, f.start)
		if err != nil {
			return err
		}
		yaw, _ := learnYaw(rest, c)
		for i := fold; i < len(all); i += folds {
			h.missDeg[k][i] = bearing.Diff(all[i].missDeg(c), yaw)
		}
	}
	for k, f := range h.heights {
		c, err := learnCorrection(rest, nil, f.terms, f.start)
		if err != nil {
			return err
		}
		for i := fold; i < len(all); i += folds {
			_, m := c.apply(all[i].blow)
			h.missM[k][i] = all[i].HeightM - m
		}
	}
	return nil
}

// sureness is by how many standard errors what was learned must be better.
// Nobody struck what was simulated: it must prove itself.
func sureness(simulated bool) float64 {
	if simulated {
		return 2
	}
	return 1
}

// better tells whether errors b are smaller than a in size, by more than some
// standard errors of the mean difference.
func better(a, b []float64, errors float64) bool {
	var sum, sum2 float64
	n := float64(len(a))
	for i := range a {
		d := math.Abs(a[i]) - math.Abs(b[i])
		sum, sum2 = sum+d, sum2+d*d
	}
	mean := sum / n
	return mean > 0 && mean > errors*math.Sqrt(math.Max(sum2/n-mean*mean, 0)/n)
}

// beatenBy tells the same of bearing and height together, each over the mean
// size of t's errors.
func (t tried) beatenBy(o tried) bool {
	mean := func(x []float64) float64 {
		var s float64
		for _, v := range x {
			s += math.Abs(v) / float64(len(x))
		}
		return math.Max(s, 1e-9)
	}
	b, h := mean(t.missDeg), mean(t.missM)
	together := func(x tried) []float64 {
		out := make([]float64, len(x.missDeg))
		for i := range out {
			out[i] = math.Abs(x.missDeg[i])/b + math.Abs(x.missM[i])/h
		}
		return out
	}
	return better(together(t), together(o), sureness(o.trial().Simulated))
}

// build makes the detector of what was chosen.
func (a *Adapted) build(from *Model, best tried, to Target) error {
	m := *best.base.model
	m.core = plain(m.core)
	key := to.Rig.Key()
	m.Rigs = slices.DeleteFunc(slices.Clone(m.Rigs), func(y RigYaw) bool { return y.Rig == key })
	unknown, _ := find(m.Rigs, key)
	y := RigYaw{
		Rig: key, Constants: ConstantsOf(to.Rig), Labels: len(to.Own),
		BearingFactor: unknown.BearingFactor, HeightFactor: unknown.HeightFactor,
	}
	all := answers(m.core, to.Own)
	if len(all) > 0 {
		b, err := learnCorrection(all, best.bearing.terms, nil, best.bearing.start)
		if err != nil {
			return err
		}
		h, err := learnCorrection(all, nil, best.height.terms, best.height.start)
		if err != nil {
			return err
		}
		if len(best.bearing.terms)+len(best.height.terms) > 0 {
			y.Correction = &Correction{BearingTerms: best.bearing.terms, BearingDeg: b.BearingDeg, HeightTerms: best.height.terms, HeightM: h.HeightM}
		}
		y.YawDeg, y.Scatter = learnYaw(all, y.Correction)
	}
	a.mount(&y, from, &m, to)
	y.certainty(&m.Certainty, best, to.Own)
	if a.YawFrom != YawNone {
		m.Rigs = append(m.Rigs, y)
	}
	m.core = correctedBy(m.core, m.Rigs)
	for _, t := range slices.Backward(a.Trials) { // before those of the training
		if !t.Chosen {
			m.Scores = slices.Insert(slices.Clone(m.Scores), 0, t.Score)
		}
	}
	if len(a.Trials) > 0 {
		m.Scores = slices.Insert(slices.Clone(m.Scores), 0, a.Chosen.Score)
	}
	if r, ok := recipeByName(m.info.Name); ok {
		m.info = r.describe(m.core, m.options.WithinMs, m.Certainty)
	}
	a.Detector = &m
	return nil
}

// mount settles the yaw offset and how well it is known. Labels of an earlier
// revision whose sensor is mounted alike say it to within remountSDDeg; where
// the own labels are few, both count by their variances.
func (a *Adapted) mount(y *RigYaw, from, m *Model, to Target) {
	own := math.Inf(1)
	a.YawFrom, a.YawSDDeg = YawNone, to.Rig.Sensor.YawUncertainDeg()
	if y.Labels > 0 {
		// A few labels' own scatter is an accident: a usual one counts with it.
		scatter := math.Sqrt((priorStrikes*usualBearingDeg*usualBearingDeg + float64(y.Labels)*y.Scatter*y.Scatter) / float64(priorStrikes+y.Labels))
		own = scatter / math.Sqrt(float64(y.Labels))
		if coarse(to.Own) {
			own = math.Hypot(own, aimLeanSDDeg/math.Sqrt(float64(sessions(to.Own))))
		}
		a.YawFrom, a.YawSDDeg = YawOwn, own
	}
	if y.Labels >= leastToChoose {
		return
	}
	earlier, sd, ok := earlierYaw(from, m, to)
	switch {
	case !ok:
	case y.Labels == 0:
		y.YawDeg, y.YawSDDeg = earlier, sd
		a.YawFrom, a.YawSDDeg = YawEarlier, sd
	default:
		w := own * own / (own*own + sd*sd)
		y.YawDeg = bearing.Wrap180(y.YawDeg + w*bearing.Diff(earlier, y.YawDeg))
		a.YawFrom, a.YawSDDeg = YawBoth, own*sd/math.Hypot(own, sd)
		y.YawSDDeg = a.YawSDDeg
	}
}

// earlierYaw is the yaw offset that earlier revisions of the target suggest.
func earlierYaw(from, m *Model, to Target) (yawDeg, sdDeg float64, ok bool) {
	alike := func(r *rig.Rig) bool { return r.Key() != to.Rig.Key() && sameMount(r, to.Rig) }
	var known []RigYaw
	for _, r := range to.Earlier {
		if y, there := find(from.Rigs, r.Key()); there && y.Labels > 0 && alike(r) {
			known = append(known, y)
		}
	}
	if len(known) == 0 {
		var ex []Example
		for _, e := range to.Others {
			if alike(e.Rig) {
				ex = append(ex, e)
			}
		}
		known = yaws(m.core, ex)
	}
	if len(known) == 0 {
		return 0, 0, false
	}
	var sum, weight float64
	for _, y := range known {
		w := 1 / (remountSDDeg*remountSDDeg + y.Scatter*y.Scatter/float64(y.Labels))
		sum += w * bearing.Diff(y.YawDeg, known[0].YawDeg)
		weight += w
	}
	return bearing.Wrap180(known[0].YawDeg + sum/weight), 1 / math.Sqrt(weight), true
}

// certainty sets the rig's factors: the certainty brought along counts as
// priorStrikes strikes, own ones that were held back count beside it. Their
// errors hold what the yaw offset may be off; where none were held back, what is
// stated adds it.
func (y *RigYaw) certainty(c *Certainty, best tried, own []Example) {
	n := len(best.missDeg)
	if n == 0 {
		return
	}
	factor := func(miss, scale []float64, sd, before float64) float64 {
		sum := priorStrikes * before * before
		for i, v := range miss {
			z := math.Min(math.Abs(v)/(sd*scale[i]), 4) // a flip is no spread
			sum += z * z
		}
		return math.Sqrt(sum / float64(priorStrikes+n))
	}
	if c.BearingSDDeg > 0 && c.HeightSDM > 0 {
		y.BearingFactor = factor(best.missDeg, best.scale, c.BearingSDDeg, y.BearingFactor)
		y.HeightFactor = factor(best.missM, best.scaleM, c.HeightSDM, y.HeightFactor)
	}
	if !c.Calibrated && n >= leastToCalibrate {
		c.Calibrated, c.Strikes, c.Sessions = true, n, sessions(own)
		c.How = fmt.Sprintf("as without labels, set right by %d strikes of %s held back in turn", n, y.Rig)
	}
}

// sessions counts those of examples.
func sessions(ex []Example) int {
	seen := map[string]bool{}
	for _, e := range ex {
		seen[e.Session] = true
	}
	return len(seen)
}
