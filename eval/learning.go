package eval

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"strikerose/models"
)

// LearningOptions steers Learn.
type LearningOptions struct {
	Seed      uint64
	Draws     int     // orders in which labels are drawn, for each session left out; 0 is 3
	Resamples int     // of the bootstrap; 0 is 500
	Level     float64 // of the intervals; 0 is 0.95
	Workers   int     // fits at once; 0 is the number of processors
	Goal      Goal
	Progress  Progress // told of each fit
}

func (o LearningOptions) withDefaults() LearningOptions {
	if o.Draws == 0 {
		o.Draws = 3
	}
	if o.Resamples == 0 {
		o.Resamples = 500
	}
	if o.Level == 0 {
		o.Level = 0.95
	}
	return o
}

// MoreLabels is how many further strikes a learning curve is carried on for.
const MoreLabels = 100

// LearningCurve is how a detector's errors on whole sessions that it has not
// seen fall with the number of labelled strikes that it is trained on.
type LearningCurve struct {
	Rig        string          `json:"rig"`         // name of the rig
	Detector   string          `json:"detector"`    // name of the detector
	Labels     int             `json:"labels"`      // how many labelled strikes the rig has, at least 0
	Sessions   int             `json:"sessions"`    // how many sessions they come from, at least 0
	Draws      int             `json:"draws"`       // how many choices of labels were drawn for each number, at least 1
	Goal       Goal            `json:"goal"`        // what the shares and goal_labels are about
	Points     []LearningPoint `json:"points"`      // what each number of labels gave, by rising number
	Bearing    LearningFit     `json:"bearing"`     // curve through the bearing errors
	Height     LearningFit     `json:"height"`      // curve through the height errors
	GoalLabels int             `json:"goal_labels"` // least number of labels tried from which on the goal was met, at least 0; 0 where it never was
}

// LearningPoint is what a number of labels gave, over all sessions left out and
// all draws.
type LearningPoint struct {
	Labels  int    `json:"labels"`          // how many labels were trained on, at least 1
	Bearing Figure `json:"bearing_mae_deg"` // mean size of the bearing error, degrees
	Height  Figure `json:"height_mae_m"`    // mean size of the height error, metres
	// Faces is the largest number of equal faces, edges anywhere, of which 95 % of strikes
	// are put on the right one; without an interval.
	Faces     Figure `json:"faces95_count"`
	Bands     Figure `json:"bands95_count"`    // largest number of equal bands of which 95 % of strikes are put in the right one; without an interval
	RightFace Figure `json:"right_face_share"` // share on the right one of the goal's faces, edges anywhere; without an interval
	RightBand Figure `json:"right_band_share"` // share in the right one of the goal's bands; without an interval
}

// learningSizes are the numbers of labels to try where there are most of them:
// doubling, and all. A number just below all says nothing new.
func learningSizes(most int) []int {
	var out []int
	for _, n := range []int{6, 12, 24, 48, 96, 200, 400, 800, 1600, 3200} {
		if 4*n <= 3*most {
			out = append(out, n)
		}
	}
	return append(out, most)
}

// LearningFits is how many fits Learn makes, for its progress.
func LearningFits(d *Data, families int, o LearningOptions) int {
	n := 0
	rigs, _, err := learningRigs(d)
	if err != nil {
		return 0
	}
	for _, r := range rigs {
		n += families * len(r.sizes) * len(r.folds) * o.withDefaults().Draws
	}
	return n
}

// learningRig is what is drawn from on one rig.
type learningRig struct {
	name   string
	folds  []Split // a session left out in each; Train holds trainable cases alone
	sizes  []int
	labels int
}

func learningRigs(d *Data) ([]learningRig, []Skip, error) {
	folds, skipped, err := foldsByRig(d, LeaveSession)
	if err != nil {
		return nil, nil, err
	}
	var out []learningRig
	byName := map[string]int{}
	for _, f := range folds {
		name := d.Cases[f.Test[0]].Rig.Name
		f.Train = slices.DeleteFunc(slices.Clone(f.Train), func(i int) bool { return !d.Cases[i].trainable() })
		if _, known := byName[name]; !known {
			byName[name] = len(out)
			out = append(out, learningRig{name: name})
		}
		r := &out[byName[name]]
		r.folds = append(r.folds, f)
	}
	for k := range out {
		r := &out[k]
		most := len(r.folds[0].Train)
		for _, f := range r.folds {
			most = min(most, len(f.Train))
		}
		if most > 0 {
			r.sizes = learningSizes(most)
		}
		for _, c := range d.Cases {
			if c.Rig.Name == r.name && c.trainable() {
				r.labels++
			}
		}
	}
	return out, skipped, nil
}

// Learn trains the families on ever more labels of each rig, drawn evenly over
// faces and bands, scores them on whole sessions left out in turn, and fits how
// the mean errors fall. Labels of one draw are kept as more are added, so that a
// curve is not the noise of its draws.
func Learn(ctx context.Context, d *Data, families []models.Family, o LearningOptions) ([]LearningCurve, []Skip, error) {
	o = o.withDefaults()
	if len(families) == 0 {
		return nil, nil, errors.New("learning: no detectors given")
	}
	if err := o.Goal.Check(); err != nil {
		return nil, nil, fmt.Errorf("learning: %w", err)
	}
	rigs, skipped, err := learningRigs(d)
	if err != nil {
		return nil, nil, fmt.Errorf("learning: %w", err)
	}
	var curves []LearningCurve
	for _, r := range rigs {
		for _, f := range families {
			l := learner{d: d, rig: r, family: f, o: o}
			why, err := l.run(ctx)
			if err != nil {
				return nil, nil, err
			}
			if why != "" {
				skipped = append(skipped, Skip{Detector: f.Name, Where: "learning on rig " + r.name, Why: why})
			}
			if curve, ok := l.curve(); ok {
				curves = append(curves, curve)
			}
		}
	}
	return curves, skipped, nil
}

// learner learns one family on one rig.
type learner struct {
	d      *Data
	rig    learningRig
	family models.Family
	o      LearningOptions

	tested []int       // cases, in order of the data
	scores [][][]Score // [size][draw][tested]
	whole  []bool      // [size]: every fit came about
}

// run makes every fit and returns why some could not be made; "" for none.
func (l *learner) run(ctx context.Context) (why string, err error) {
	at := map[int]int{} // case to position in tested
	for _, f := range l.rig.folds {
		for _, i := range f.Test {
			if l.d.Cases[i].Score != nil {
				l.tested = append(l.tested, i)
			}
		}
	}
	slices.Sort(l.tested)
	for p, i := range l.tested {
		at[i] = p
	}
	sizes, draws, folds := len(l.rig.sizes), l.o.Draws, len(l.rig.folds)
	for range sizes {
		one := make([][]Score, draws)
		for d := range one {
			one[d] = make([]Score, len(l.tested))
		}
		l.scores = append(l.scores, one)
		l.whole = append(l.whole, true)
	}
	orders := make([][][]int, folds)
	for f, fold := range l.rig.folds {
		for draw := range draws {
			rng := stream(l.o.Seed, fmt.Sprintf("draw %d of %s without %s", draw, l.rig.name, fold.Left))
			orders[f] = append(orders[f], balanced(l.d.Cases, fold.Train, rng))
		}
	}
	failed := make([]string, sizes*draws*folds)
	err = parallel(ctx, len(failed), l.o.Workers, func(task int) error {
		size, draw, f := task/(draws*folds), task/folds%draws, task%folds
		fold := l.rig.folds[f]
		fold.Train = slices.Sorted(slices.Values(orders[f][draw][:l.rig.sizes[size]]))
		answers, why, err := fitAndAnswer(ctx, l.d.Cases, fold, trainingSet(l.d.Cases, fold.Train), l.family, l.o.Seed)
		if err != nil {
			return err
		}
		failed[task] = why
		for i, a := range answers {
			c := l.d.Cases[i]
			l.scores[size][draw][at[i]] = NewScore(a.Estimate, *c.Score, c.Rig, l.family.Gives)
		}
		if l.o.Progress != nil {
			l.o.Progress.Add(1)
		}
		return nil
	})
	for task, text := range failed {
		if text != "" {
			size := task / (draws * folds)
			l.whole[size] = false
			why = fmt.Sprintf("%d labels: %s", l.rig.sizes[size], text)
		}
	}
	return why, err
}

// balanced orders cases so that every stretch from the start holds as many of
// each face and band as there are: in rounds of one of each, in random order.
func balanced(cases []Case, from []int, rng *rand.Rand) []int {
	type cell struct {
		face int
		band string
	}
	left := map[cell][]int{}
	var cells []cell
	shuffled := slices.Clone(from)
	rng.Shuffle(len(shuffled), func(a, b int) { shuffled[a], shuffled[b] = shuffled[b], shuffled[a] })
	for _, i := range shuffled {
		c := cases[i]
		at := cell{c.Rig.FaceOf(c.Train.BearingDeg), c.Rig.BandOf(c.Train.HeightM)}
		if left[at] == nil {
			cells = append(cells, at)
		}
		left[at] = append(left[at], i)
	}
	var out []int
	for len(out) < len(from) {
		rng.Shuffle(len(cells), func(a, b int) { cells[a], cells[b] = cells[b], cells[a] })
		for _, at := range cells {
			if own := left[at]; len(own) > 0 {
				out = append(out, own[0])
				left[at] = own[1:]
			}
		}
	}
	return out
}

// curve summarises the scores; false where not a single number of labels
// served.
func (l *learner) curve() (LearningCurve, bool) {
	c := LearningCurve{Rig: l.rig.name, Detector: l.family.Name, Labels: l.rig.labels, Sessions: len(l.rig.folds), Draws: l.o.Draws, Goal: l.goal()}
	bearing, height := l.sums(func(s Score) float64 { return math.Abs(s.BearingErrDeg) }), l.sums(func(s Score) float64 { return math.Abs(s.HeightErrM) })
	for size, n := range l.rig.sizes {
		if !l.whole[size] {
			continue
		}
		p := LearningPoint{Labels: n, Bearing: bearing.point(size, l.o), Height: height.point(size, l.o)}
		var turn, bag []float64
		for _, scores := range l.scores[size] {
			for _, s := range scores {
				turn, bag = appendKnown(turn, partOfTurn(s)), appendKnown(bag, partOfBag(s))
			}
		}
		p.Faces, p.RightFace = fineness(turn, MostFaces, c.Goal.Faces, rightFace)
		p.Bands, p.RightBand = fineness(bag, MostBands, c.Goal.Bands, rightBand)
		switch met := p.RightFace.Value >= RightShare && p.RightBand.Value >= RightShare; {
		case !met:
			c.GoalLabels = 0
		case c.GoalLabels == 0:
			c.GoalLabels = n
		}
		c.Points = append(c.Points, p)
	}
	floor := floorOf(l.targets())
	c.Bearing = bearing.fit(l, BearingMAE, floor.BearingMAEDeg)
	c.Height = height.fit(l, HeightMAE, floor.HeightMAEM)
	return c, len(c.Points) > 0
}

// fineness is how many parts errors tell apart, and their share that is right
// with some number of parts; without intervals.
func fineness(errors []float64, most, parts int, right func(part float64, n int) float64) (told, share Figure) {
	told, share = NoFigure(), NoFigure()
	told.N, share.N = len(errors), len(errors)
	told.Value = finest(errors, make([]int, len(errors)), 1, most, right)([]float64{1})
	share.Value = shareRight(errors, parts, right)
	return told, share
}

func appendKnown(to []float64, x float64) []float64 {
	if math.IsNaN(x) {
		return to
	}
	return append(to, x)
}

// goal fills in the rig's own faces and bands.
func (l *learner) goal() Goal {
	g, r := l.o.Goal, l.d.Cases[l.tested[0]].Rig
	if g.Faces == 0 {
		g.Faces = r.Faces
	}
	if g.Bands == 0 {
		g.Bands = len(r.Bands)
	}
	return g
}

// targets lists what the tested strikes are scored against.
func (l *learner) targets() []StrikeDoc {
	out := make([]StrikeDoc, len(l.tested))
	for p, i := range l.tested {
		out[p].Truth = *l.d.Cases[i].Score
	}
	return out
}
