package eval

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"strikerose/dataset/rig"
	"strikerose/label"
	"strikerose/models"
)

// Leave kinds: what a split leaves out at a time.
const (
	LeaveSession  = "session"
	LeaveStriker  = "striker"
	LeaveRig      = "rig"      // a rig with all its revisions
	LeaveRevision = "revision" // one revision of a rig, training on its others
)

// Options steers a comparison.
type Options struct {
	Leave     string // "" is session
	Seed      uint64
	Resamples int     // of the bootstrap; 0 is 2000
	Level     float64 // of the intervals and tests; 0 is 0.95
	Workers   int     // fits at once; 0 is the number of processors
	Progress  Progress
	WithinMs  float64                 // longest wait after the onset; 0 is each detector's own
	Goal      Goal                    // what the verdict is about
	Measured  map[string]Measured     // by detector: what was measured on a board
	RigFile   func(key string) string // path of a rig's file, for the commands that the verdict names; nil is KEY.toml
}

func (o Options) withDefaults() Options {
	if o.Leave == "" {
		o.Leave = LeaveSession
	}
	if o.Resamples == 0 {
		o.Resamples = 2000
	}
	if o.Level == 0 {
		o.Level = UsualLevel
	}
	if o.RigFile == nil {
		o.RigFile = func(key string) string { return key + ".toml" }
	}
	return o
}

// Compare trains every family on each fold's training sessions and scores it
// on those left out. Unless whole rigs are left out, a fold trains on sessions
// of the same rig only (all its revisions): a fitted detector knows the rig
// that it was trained on.
//
// The labels of d that are meant for training go into the fits, those for
// scoring only into the scores. A family that needs a gyroscope is left out
// where there is none, and one that cannot be fitted where that is so; the
// comparison says so. It is an error when there is nothing to compare.
func Compare(ctx context.Context, d *Data, families []models.Family, o Options) (*Comparison, error) {
	o = o.withDefaults()
	if o.Level <= 0 || o.Level >= 1 || o.Resamples < 100 {
		return nil, fmt.Errorf("compare: level %g, resamples %d: the level must lie between 0 and 1, with 100 resamples or more", o.Level, o.Resamples)
	}
	if err := o.Goal.Check(); err != nil {
		return nil, fmt.Errorf("compare: %w", err)
	}
	if len(families) == 0 {
		return nil, errors.New("compare: no detectors given")
	}
	folds, left, err := foldsByRig(d, o.Leave)
	if err != nil {
		return nil, err
	}
	c := &Comparison{
		Leave: o.Leave, TrainTruth: d.TrainTruth, ScoreTruth: d.ScoreTruth,
		Seed: o.Seed, Resamples: o.Resamples, Level: o.Level,
		Sessions: d.Counts, Skipped: left,
		Detection: scoreDetection(d.Detection, o),
	}
	for _, m := range Measures() {
		c.Measures = append(c.Measures, MeasureDoc{Name: m.Name, Unit: m.Unit, Better: m.Better, Doc: m.Doc})
	}
	for _, f := range families {
		c.Detectors = append(c.Detectors, DetectorDoc{Name: f.Name, Kind: f.Kind, Doc: f.Doc, NeedsGyro: f.NeedsGyro, WaitMs: f.WaitMs})
	}
	run, err := runFolds(ctx, d.Cases, folds, families, o)
	if err != nil {
		return nil, err
	}
	c.Skipped = append(c.Skipped, run.skipped...)
	for _, f := range folds {
		c.Folds = append(c.Folds, FoldDoc{Left: f.Left, Train: sessionsOf(d.Cases, f.Train), Test: sessionsOf(d.Cases, f.Test)})
	}
	c.collect(d, folds, families, run)
	if len(c.Strikes) == 0 {
		return nil, fmt.Errorf("compare: no strike left out has a %s: label sessions first, or choose another truth", label.OfTruth(d.ScoreTruth))
	}
	c.Floor = floorOf(c.Strikes)
	c.summarise(o)
	c.addCertainty()
	c.addBounds(d)
	c.choose(o)
	c.addSensitivity(o)
	c.addHeavyLabels()
	c.addWorst()
	if o.Leave == LeaveRig {
		c.RigToRig = leftRigs(c.Groups, d, folds)
	}
	return c, nil
}

// foldsByRig splits the cases of each rig on their own, or all of them when
// whole rigs are left out. A rig that has too few groups is skipped; when all
// are, that is the error.
func foldsByRig(d *Data, kind string) ([]Split, []Skip, error) {
	if len(d.Cases) == 0 {
		return nil, nil, fmt.Errorf("compare: no strike has a %s: label sessions first, or choose another truth", label.OfTruth(d.ScoreTruth))
	}
	items := make([]Item, len(d.Cases))
	byRig := map[string][]int{}
	for i, c := range d.Cases {
		items[i] = c.item()
		byRig[items[i].Rig] = append(byRig[items[i].Rig], i)
	}
	if kind == LeaveRig {
		splits, err := Leave(items, kind)
		return splits, nil, err
	}
	var folds []Split
	var left []Skip
	var first error
	names := sortedKeys(byRig)
	for _, name := range names {
		own := byRig[name]
		part := make([]Item, len(own))
		for k, i := range own {
			part[k] = items[i]
		}
		splits, err := Leave(part, kind)
		if err != nil {
			if first == nil {
				first = err
				if len(names) > 1 {
					first = fmt.Errorf("%w (of rig %s, and it is no better on the others: %s)", err, name, strings.Join(names[1:], ", "))
				}
			}
			left = append(left, Skip{Detector: "all", Where: "rig " + name, Why: err.Error()})
			continue
		}
		for _, s := range splits {
			if len(names) > 1 && kind == LeaveStriker { // one striker may be tested on several rigs
				s.Left = name + ": " + s.Left
			}
			folds = append(folds, Split{Left: s.Left, Train: pick(own, s.Train), Test: pick(own, s.Test)})
		}
	}
	if len(folds) == 0 {
		return nil, nil, first
	}
	return folds, left, nil
}

func pick(from, positions []int) []int {
	out := make([]int, len(positions))
	for k, p := range positions {
		out[k] = from[p]
	}
	return out
}

func (c Case) item() Item {
	return Item{Session: c.Session, Striker: c.Striker, Rig: c.Rig.Name, Revision: c.Rig.Key()}
}

func sessionsOf(cases []Case, positions []int) []string {
	seen := map[string]bool{}
	for _, i := range positions {
		seen[cases[i].Session] = true
	}
	return sortedKeys(seen)
}

// folded is what the detectors of every fold answered.
type folded struct {
	answers [][]models.Estimate // [family][case]
	there   [][]bool            // likewise: whether there is an answer
	cost    [][]Cost            // likewise: of the detector that gave it
	gives   [][]string          // [family]: what its detectors give
	skipped []Skip
}

// runFolds fits every family on every fold and lets it answer what was left out.
func runFolds(ctx context.Context, cases []Case, folds []Split, families []models.Family, o Options) (*folded, error) {
	run := &folded{}
	for range families {
		run.answers = append(run.answers, make([]models.Estimate, len(cases)))
		run.there = append(run.there, make([]bool, len(cases)))
		run.cost = append(run.cost, make([]Cost, len(cases)))
	}
	training := make([][]models.Example, len(folds))
	for f, fold := range folds {
		training[f] = trainingSet(cases, fold.Train)
	}
	skips := make([]*Skip, len(folds)*len(families))
	err := parallel(ctx, len(skips), o.Workers, func(task int) error {
		f, k := task/len(families), task%len(families)
		family := Within(families[k], o.WithinMs)
		answers, why, err := fitAndAnswer(ctx, cases, folds[f], training[f], family, o.Seed)
		if err != nil {
			return err
		}
		if why != "" {
			skips[task] = &Skip{Detector: family.Name, Where: "left out " + folds[f].Left, Why: why}
		}
		for i, a := range answers { // each case is tested in one fold, so no two tasks write one slot
			run.answers[k][i], run.there[k][i], run.cost[k][i] = a.Estimate, true, a.cost
		}
		if o.Progress != nil {
			o.Progress.Add(1)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	for _, s := range skips {
		if s != nil {
			run.skipped = append(run.skipped, *s)
		}
	}
	for _, f := range families {
		run.gives = append(run.gives, f.Gives)
	}
	return run, nil
}

// answer is an estimate with the cost of the detector that gave it.
type answer struct {
	models.Estimate
	cost Cost
}

// fitAndAnswer returns a family's answers on the test cases of one fold that
// have a label to score against, by case, or why there are none.
func fitAndAnswer(ctx context.Context, cases []Case, fold Split, training []models.Example, family models.Family, seed uint64) (map[int]answer, string, error) {
	if family.NeedsGyro {
		for _, i := range slices.Concat(fold.Train, fold.Test) {
			if !cases[i].Rig.HasGyro() {
				return nil, "it needs a gyroscope, and rig " + cases[i].Rig.Key() + " has none", nil
			}
		}
	}
	detector, err := family.Fit(ctx, training, models.Options{Seed: seed})
	if ctx.Err() != nil {
		return nil, "", ctx.Err()
	}
	if err != nil {
		return nil, err.Error(), nil
	}
	answers := map[int]answer{}
	costs := map[*rig.Rig]Cost{}
	for _, i := range fold.Test {
		if cases[i].Score != nil {
			r := cases[i].Rig
			if _, known := costs[r]; !known {
				costs[r] = costOf(detector, r)
			}
			answers[i] = answer{detector.Estimate(cases[i].input()), costs[r]}
		}
	}
	return answers, "", nil
}

// trainingSet turns cases into examples. A label that does not say both where
// around and how high a strike landed is not trained on.
func trainingSet(cases []Case, positions []int) []models.Example {
	var out []models.Example
	for _, i := range positions {
		c := cases[i]
		if !c.trainable() {
			continue
		}
		out = append(out, models.Example{
			Input:   c.input(),
			Session: c.Session, Striker: c.Striker,
			BearingDeg: c.Train.BearingDeg, HeightM: c.Train.HeightM,
			BearingSDDeg: c.Train.BearingSDDeg, HeightSDM: c.Train.HeightSDM,
		})
	}
	return out
}

// collect lists the strikes scored and scores every answer.
func (c *Comparison) collect(d *Data, folds []Split, families []models.Family, run *folded) {
	var tested []int
	for _, f := range folds {
		tested = append(tested, f.Test...)
	}
	slices.Sort(tested) // back into the order of the data: session, then time
	c.Answers = make([][]models.Estimate, len(families))
	c.Scores = make([][]Score, len(families))
	c.answered = make([][]bool, len(families))
	c.costs = make([][]Cost, len(families))
	rigs := map[string]bool{}
	for _, i := range tested {
		x := d.Cases[i]
		if x.Score == nil {
			continue
		}
		s := StrikeDoc{Session: x.Session, Rig: x.Rig.Key(), Name: x.Rig.Name, OnsetNs: x.Strike.OnsetNs, Faces: x.Rig.Faces, LengthM: x.Rig.Bag.LengthM, Gyro: x.Rig.HasGyro(), Truth: *x.Score,
			PeakMPS2: x.Strike.PeakMPS2, Clipped: x.Strike.Clipped, SwingMPS2: swingBefore(x.Row), SinceS: x.SinceS,
			NearGap: x.Strike.NearGap, DeadM: deadHeight(x.Rig), Window: x.Window}
		for _, b := range x.Rig.Bands {
			s.Bands = append(s.Bands, b.Name)
			_, to, _ := x.Rig.BandRange(b.Name)
			s.BandToM = append(s.BandToM, to)
		}
		if !math.IsNaN(s.Truth.HeightM) { // one definition for every truth
			s.Truth.Band = x.Rig.BandOf(s.Truth.HeightM)
		}
		if !math.IsNaN(s.Truth.BearingDeg) {
			s.Truth.Face = x.Rig.FaceOf(s.Truth.BearingDeg)
		}
		rigs[s.Rig] = true
		c.Strikes = append(c.Strikes, s)
		for k := range families {
			e, score := run.answers[k][i], noScore()
			if run.there[k][i] {
				score = NewScore(e, s.Truth, x.Rig, run.gives[k])
			} else {
				e = noEstimate()
			}
			c.Answers[k] = append(c.Answers[k], e)
			c.answered[k] = append(c.answered[k], run.there[k][i])
			c.costs[k] = append(c.costs[k], run.cost[k][i])
			c.Scores[k] = append(c.Scores[k], score)
		}
	}
	c.Rigs = sortedKeys(rigs)
}

// deadHeight is where a strike does not move the pivot at first, NaN where that
// is not on the bag or does not follow from what the rig says.
func deadHeight(r *rig.Rig) float64 {
	if h, onBag := r.Mechanics().DeadHeight(); onBag {
		return h
	}
	return math.NaN()
}

func noEstimate() models.Estimate {
	nan := math.NaN()
	return models.Estimate{BearingDeg: nan, HeightM: nan, BearingSDDeg: nan, HeightSDM: nan, BearingHalf90Deg: nan, HeightHalf90M: nan}
}

// where names a group for people.
func (g Group) where() string {
	parts := []string{}
	for _, p := range []string{g.Rig, g.Band, g.Kind} {
		if p != "" {
			parts = append(parts, p)
		}
	}
	if len(parts) == 0 {
		return "all strikes"
	}
	return strings.Join(parts, " ")
}
