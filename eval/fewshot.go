package eval

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"strings"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/models"
)

// FewShotOptions steers FewShots.
type FewShotOptions struct {
	Labels   []int // how many labelled strikes of the new rig are given; nil is 0, 6, 12, 24, 60
	Draws    int   // of the strikes that are labelled; 0 is 10
	Seed     uint64
	Workers  int // draws at once; 0 is the number of processors
	Board    bool
	Progress Progress
}

func (o FewShotOptions) withDefaults() FewShotOptions {
	if o.Labels == nil {
		o.Labels = []int{0, 6, 12, 24, 60}
	}
	if o.Draws == 0 {
		o.Draws = 10
	}
	return o
}

// Carried says how well a detector answers on a rig that had no part in its
// training, once adapted by some labels of it: medians over the draws.
type Carried struct {
	Detector string `json:"detector"` // name of the detector that was carried over
	Rig      string `json:"rig"`      // name of the rig left out of the training, with all its revisions
	Moved    bool   `json:"moved"`    // whether the detector was trained on the rig's earlier revisions instead and tested on the last
	Labels   int    `json:"labels"`   // how many labelled strikes of the rig it was adapted with, at least 0
	// Draws is how many choices of those strikes were tried, each from one session and
	// tested on the rig's others, at least 1.
	Draws  int `json:"draws"`
	Tested int `json:"tested"` // how many strikes were tested in the median draw, at least 0

	BearingMAEDeg  float64  `json:"bearing_mae_deg"`              // mean size of the bearing error in degrees, median of the draws, in [0, 180]
	BearingWorst   float64  `json:"bearing_worst_mae_deg"`        // mean size of the bearing error in degrees in the worst draw, in [0, 180]
	HeightMAEM     *float64 `json:"height_mae_m,omitempty"`       // mean size of the height error in metres, median of the draws, at least 0; absent where the detector gives no height
	HeightWorstM   *float64 `json:"height_worst_mae_m,omitempty"` // mean size of the height error in metres in the worst draw, at least 0; absent where the detector gives no height
	Flips          float64  `json:"flip_share"`                   // share of bearings more than 120 degrees off, median of the draws, in [0, 1]
	BearingCover90 float64  `json:"bearing_cover90"`              // share of bearings within the stated intervals of 90 %, in [0, 1]
	HeightCover90  *float64 `json:"height_cover90,omitempty"`     // share of heights within the stated intervals of 90 %, in [0, 1]; absent where the detector gives no height
	// Chosen is the number of draws by what was chosen in them: base, form of the bearing
	// and form of the height, each at least 1.
	Chosen map[string]int `json:"chosen"`
}

// FewShots trains every family on all rigs but one, adapts it to that rig with
// few labels of it (models.Adapt) and tests it. The labels of a draw are of one
// session, spread evenly over faces and bands (Balanced), and the test is the
// rig's other sessions; sessions take turns. Of a rig with several revisions,
// each draw is of one revision, its own other sessions are the test, and a last
// row tells what becomes of a detector trained on the earlier revisions when it
// meets the last one without labels of it. It needs two rigs. What gives no row is
// told, with the reason.
func FewShots(ctx context.Context, d *Data, families []models.Family, o FewShotOptions) ([]Carried, []Skip, error) {
	o = o.withDefaults()
	for _, k := range o.Labels {
		if k < 0 {
			return nil, nil, fmt.Errorf("few labels: %d: give 0 or more", k)
		}
	}
	cases := fullyLabelled(d.Cases)
	byRig := map[string][]Case{}
	for _, c := range cases {
		byRig[c.Rig.Name] = append(byRig[c.Rig.Name], c)
	}
	names := sortedKeys(byRig)
	if len(names) < 2 {
		return nil, nil, fewGroups(LeaveRig, names)
	}
	var out []Carried
	var skipped []Skip
	for _, f := range families {
		for _, name := range names {
			rows, left, err := carryTo(ctx, f, name, cases, o)
			if err != nil {
				return nil, nil, err
			}
			out, skipped = append(out, rows...), append(skipped, left...)
		}
	}
	if len(out) == 0 {
		return nil, nil, fmt.Errorf("few labels: no detector could be carried: %s: %s: %s", skipped[0].Detector, skipped[0].Where, skipped[0].Why)
	}
	return out, skipped, nil
}

// fullyLabelled keeps the cases that can be trained on and scored.
func fullyLabelled(cases []Case) []Case {
	var out []Case
	for _, c := range cases {
		if c.trainable() && c.Score != nil && !math.IsNaN(c.Score.BearingDeg) && !math.IsNaN(c.Score.HeightM) {
			out = append(out, c)
		}
	}
	return out
}

// carryTo carries a family to one rig. A family that cannot be fitted without
// the rig, or needs a gyroscope that is not there, gives no rows, and a number of
// labels that no session of the rig has gives none.
func carryTo(ctx context.Context, f models.Family, name string, cases []Case, o FewShotOptions) ([]Carried, []Skip, error) {
	skip := func(format string, args ...any) Skip {
		return Skip{Detector: f.Name, Where: "rig " + name, Why: fmt.Sprintf(format, args...)}
	}
	var here, there []Case
	for _, c := range cases {
		if f.NeedsGyro && !c.Rig.HasGyro() {
			return nil, []Skip{skip("needs a gyroscope, and %s has none", c.Rig.Key())}, nil
		}
		if c.Rig.Name == name {
			here = append(here, c)
		} else {
			there = append(there, c)
		}
	}
	others := trainingSet(there, positions(len(there)))
	trained, err := f.Fit(ctx, others, models.Options{Seed: o.Seed})
	if ctx.Err() != nil {
		return nil, nil, ctx.Err()
	}
	if err != nil {
		return nil, []Skip{skip("without it: %v", err)}, nil
	}
	var out []Carried
	var skipped []Skip
	for _, k := range o.Labels {
		draws := o.Draws
		if k == 0 {
			draws = 1
		}
		results := make([]*draw, draws)
		err := parallel(ctx, draws, o.Workers, func(i int) error {
			var err error
			results[i], err = carryOnce(ctx, trained, here, others, k, i, o)
			if o.Progress != nil {
				o.Progress.Add(1)
			}
			return err
		})
		if err != nil {
			return nil, nil, err
		}
		row, ok := median(results)
		if !ok {
			skipped = append(skipped, skip("no session of it has %d labelled strikes and another session beside it to test on", k))
			continue
		}
		row.Labels = k
		out = append(out, row)
	}
	moved, why, err := carryMoved(ctx, f, here, o)
	switch {
	case err != nil:
		return nil, nil, err
	case why != "":
		skipped = append(skipped, skip("moved: %s", why))
	case moved != nil:
		out = append(out, *moved)
	}
	for i := range out {
		out[i].Detector, out[i].Rig = f.Name, name
		if !slices.Contains(f.Gives, "height") {
			out[i].HeightMAEM, out[i].HeightWorstM, out[i].HeightCover90 = nil, nil, nil
		}
	}
	return out, skipped, nil
}

// draw is the outcome of one draw of labels.
type draw struct {
	tested                 int
	bearing, height, flips float64
	coverB, coverH         float64
	chosen                 string
}

// carryOnce adapts with k labels of one session and tests on the others of that
// revision; nil where there are not so many labels, or there is nothing left.
func carryOnce(ctx context.Context, trained models.Detector, here []Case, others []models.Example, k, number int, o FewShotOptions) (*draw, error) {
	bySession := map[string][]Case{}
	for _, c := range here {
		bySession[c.Session] = append(bySession[c.Session], c)
	}
	names := sortedKeys(bySession)
	if k == 0 {
		return test(ctx, trained, models.Target{Others: others, Board: o.Board}, here, o.Seed)
	}
	session := names[number%len(names)]
	from := bySession[session]
	if len(from) < k {
		return nil, nil
	}
	own := Balanced(from, k, rand.New(rand.NewPCG(o.Seed, uint64(number)+1)))
	var rest []Case
	for _, c := range here {
		if c.Session != session && c.Rig.Key() == from[0].Rig.Key() {
			rest = append(rest, c)
		}
	}
	if len(rest) == 0 {
		return nil, nil
	}
	return test(ctx, trained, models.Target{Own: trainingSet(own, positions(len(own))), Others: others, Board: o.Board}, rest, o.Seed)
}

// carryMoved trains on the earlier revisions of a rig and tests on the last
// without labels of it; nil for a rig of one revision, and where the earlier ones
// do not suffice, with the reason.
func carryMoved(ctx context.Context, f models.Family, here []Case, o FewShotOptions) (row *Carried, why string, err error) {
	last := here[0].Rig
	for _, c := range here {
		if c.Rig.Revision > last.Revision {
			last = c.Rig
		}
	}
	var before, after []Case
	var earlier []*rig.Rig
	for _, c := range here {
		if c.Rig.Key() == last.Key() {
			after = append(after, c)
			continue
		}
		before = append(before, c)
		if !slices.Contains(earlier, c.Rig) {
			earlier = append(earlier, c.Rig)
		}
	}
	if len(before) == 0 {
		return nil, "", nil
	}
	ex := trainingSet(before, positions(len(before)))
	trained, err := f.Fit(ctx, ex, models.Options{Seed: o.Seed})
	switch {
	case ctx.Err() != nil:
		return nil, "", ctx.Err()
	case err != nil:
		return nil, err.Error(), nil
	}
	result, err := test(ctx, trained, models.Target{Others: ex, Earlier: earlier, Board: o.Board}, after, o.Seed)
	if err != nil {
		return nil, "", err
	}
	carried, _ := median([]*draw{result})
	carried.Moved = true
	return &carried, "", nil
}

// test adapts a detector to each revision among the cases and scores it there.
func test(ctx context.Context, trained models.Detector, to models.Target, cases []Case, seed uint64) (*draw, error) {
	out := &draw{tested: len(cases)}
	made := map[string]*models.Adapted{}
	n := float64(len(cases))
	for _, c := range cases {
		a := made[c.Rig.Key()]
		if a == nil {
			to.Rig = c.Rig
			var err error
			if a, err = models.Adapt(ctx, trained, to, seed); err != nil {
				return nil, err
			}
			made[c.Rig.Key()] = a
			out.chosen = strings.Join([]string{a.Chosen.Base, a.Chosen.Bearing, a.Chosen.Height}, ", ")
		}
		e := a.Detector.Estimate(c.input())
		b, h := math.Abs(bearing.Diff(e.BearingDeg, c.Score.BearingDeg)), math.Abs(e.HeightM-c.Score.HeightM)
		out.bearing, out.height = out.bearing+b/n, out.height+h/n
		out.flips += indicator(b > FlipDeg)
		out.coverB += indicator(b <= e.BearingHalf90Deg)
		out.coverH += indicator(h <= e.HeightHalf90M)
	}
	for _, count := range []*float64{&out.flips, &out.coverB, &out.coverH} {
		*count /= n // only now: as a sum of parts a share may come out above 1
	}
	return out, nil
}

// median sums up draws, those that there were.
func median(draws []*draw) (Carried, bool) {
	draws = slices.DeleteFunc(slices.Clone(draws), func(d *draw) bool { return d == nil })
	if len(draws) == 0 {
		return Carried{}, false
	}
	middle := func(of func(*draw) float64) (mid, most float64) {
		x := make([]float64, len(draws))
		for i, d := range draws {
			x[i] = of(d)
		}
		sort.Float64s(x)
		return (x[(len(x)-1)/2] + x[len(x)/2]) / 2, x[len(x)-1]
	}
	c := Carried{Draws: len(draws), Chosen: map[string]int{}}
	c.BearingMAEDeg, c.BearingWorst = middle(func(d *draw) float64 { return d.bearing })
	height, heightWorst := middle(func(d *draw) float64 { return d.height })
	c.Flips, _ = middle(func(d *draw) float64 { return d.flips })
	c.BearingCover90, _ = middle(func(d *draw) float64 { return d.coverB })
	heightCover90, _ := middle(func(d *draw) float64 { return d.coverH })
	c.HeightMAEM, c.HeightWorstM, c.HeightCover90 = &height, &heightWorst, &heightCover90
	tested, _ := middle(func(d *draw) float64 { return float64(d.tested) })
	c.Tested = int(tested)
	for _, d := range draws {
		c.Chosen[d.chosen]++
	}
	return c, true
}

// Balanced draws k cases spread as evenly over faces, bands and their
// combinations as the cases allow; fewer where there are not so many. All must
// have a label to train on.
func Balanced(cases []Case, k int, rng *rand.Rand) []Case {
	type cell struct {
		face int
		band string
	}
	left := map[cell][]Case{}
	var cells []cell
	for _, p := range rng.Perm(len(cases)) {
		c := cases[p]
		at := cell{c.Rig.FaceOf(c.Train.BearingDeg), c.Rig.BandOf(c.Train.HeightM)}
		if left[at] == nil {
			cells = append(cells, at)
		}
		left[at] = append(left[at], c)
	}
	taken, faces, bands := map[cell]int{}, map[int]int{}, map[string]int{}
	var out []Case
	for len(out) < min(k, len(cases)) {
		var best cell
		least := math.MaxInt
		for _, c := range cells {
			// A combination counts before faces and bands on their own.
			if used := 1000*taken[c] + faces[c.face] + bands[c.band]; len(left[c]) > 0 && used < least {
				best, least = c, used
			}
		}
		out = append(out, left[best][0])
		left[best] = left[best][1:]
		taken[best]++
		faces[best.face]++
		bands[best.band]++
	}
	return out
}
