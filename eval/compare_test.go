package eval_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/eval"
	"strikerose/eval/evaltest"
	"strikerose/models"
)

func compare(t *testing.T, d *eval.Data, o eval.Options) *eval.Comparison {
	t.Helper()
	c, err := eval.Compare(t.Context(), d, evaltest.Families(), o)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func row(t *testing.T, g eval.Group, detector string) eval.Row {
	t.Helper()
	for _, r := range g.Rows {
		if r.Detector == detector {
			return r
		}
	}
	t.Fatalf("no row of %s", detector)
	return eval.Row{}
}

// value fails unless the figure lies within the range and inside its interval.
func value(t *testing.T, r eval.Row, measure string, low, high float64) {
	t.Helper()
	f := r.Figure(measure)
	if !(f.Value >= low && f.Value <= high) {
		t.Errorf("%s: %s = %.4g, want %g to %g", r.Detector, measure, f.Value, low, high)
	}
	if !(f.Low <= f.Value && f.Value <= f.High) || f.N == 0 || f.Units == 0 || f.Method == "" {
		t.Errorf("%s: %s = %+v, want an interval about the value, a count and a method", r.Detector, measure, f)
	}
}

func TestCompareScoresWhatDetectorsAre(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(4, 60), 1)
	c := compare(t, d, eval.Options{Seed: 1, Resamples: 500})
	all := c.Groups[0]
	if all.Strikes != 240 || all.Unit != eval.UnitBlock || all.Units != 24 {
		t.Errorf("group of %d strikes in %d %ss, want 240 in 24 blocks", all.Strikes, all.Units, all.Unit)
	}
	// Mean size of a normal error is sqrt(2/pi) = 0.798 standard deviations.
	learner := row(t, all, "learner")
	value(t, learner, eval.BearingMAE, 0.72*evaltest.NoiseDeg, 0.88*evaltest.NoiseDeg)
	value(t, learner, "bearing_median_deg", 0.58*evaltest.NoiseDeg, 0.78*evaltest.NoiseDeg)
	value(t, learner, "bearing_p95_deg", 1.7*evaltest.NoiseDeg, 2.2*evaltest.NoiseDeg)
	value(t, learner, "bearing_bias_deg", -1, 1)
	value(t, learner, "flip_share", 0, 0)
	value(t, learner, eval.HeightMAE, 0.72*evaltest.NoiseM, 0.88*evaltest.NoiseM)
	value(t, learner, "height_rms_m", 0.9*evaltest.NoiseM, 1.1*evaltest.NoiseM)
	value(t, learner, "height_bias_m", -0.2*evaltest.NoiseM, 0.2*evaltest.NoiseM)
	value(t, learner, "bearing_cover90_share", 0.86, 0.94)
	value(t, learner, "height_cover90_share", 0.86, 0.94)
	value(t, learner, "right_face_share", 0.97, 1)
	value(t, learner, "right_band_share", 0.95, 1)
	value(t, learner, "bearing_half90_deg", 1.64*evaltest.NoiseDeg, 1.65*evaltest.NoiseDeg)
	value(t, row(t, all, "pointer"), "bearing_bias_deg", evaltest.YawDeg-1, evaltest.YawDeg+1)
	value(t, row(t, all, "parrot"), eval.BearingMAE, 70, 110)

	turncoat := row(t, all, "turncoat")
	value(t, turncoat, "flip_share", 0.2, 0.45)
	for _, g := range c.Groups {
		if g.Band == "high" {
			value(t, row(t, g, "turncoat"), "flip_share", 0, 0)
		}
		if g.Band == "low" {
			value(t, row(t, g, "turncoat"), "flip_share", 0.9, 1)
		}
	}
	if f := row(t, all, "pointer").Figure(eval.HeightMAE); f.Known() {
		t.Errorf("a detector that gives no height has a height error of %g", f.Value)
	}
}

func TestCompareTellsApartWhatDiffers(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(8, 30), 2)
	c := compare(t, d, eval.Options{Seed: 1, Resamples: 500})
	all := c.Groups[0]
	if all.Unit != eval.UnitSession || all.Units != 8 {
		t.Errorf("%d %ss, want 8 sessions", all.Units, all.Unit)
	}
	marks := map[string]string{"pointer": "", "turncoat": "", "parrot": "", "learner": "*", "twin": "~"}
	if all.Mark("twin", eval.BearingMAE) == eval.MarkBest { // either may be the best by a hair
		marks["learner"], marks["twin"] = "~", "*"
	}
	for name, want := range marks {
		if got := all.Mark(name, eval.BearingMAE); got != want {
			t.Errorf("%s is marked %q in bearing, want %q", name, got, want)
		}
	}
	for _, p := range all.Pairs {
		if p.PHolm < p.P || p.PHolm > 1 || p.Distinct != (p.PHolm < 0.05) {
			t.Errorf("%+v: the corrected p-value is inconsistent", p)
		}
		if p.Distinct && !(p.Difference.Low > 0) {
			t.Errorf("%s is worse than %s, yet the difference is %+v", p.Other, p.Best, p.Difference)
		}
	}
}

func TestCompareSaysWhenUnitsAreTooFew(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(2, 20), 3)
	c := compare(t, d, eval.Options{Seed: 1, Resamples: 200})
	if g := c.Groups[0]; g.Units != 4 || !g.TooFewUnits {
		t.Errorf("%d units, too few: %v; want 4 and a warning", g.Units, g.TooFewUnits)
	}
	if g := compare(t, evaltest.Data(evaltest.Sessions(4, 60), 3), eval.Options{Resamples: 100}).Groups[0]; g.TooFewUnits {
		t.Errorf("%d units are said to be too few", g.Units)
	}
	for _, p := range c.Groups[0].Pairs {
		if p.Distinct {
			t.Errorf("%s told from %s with 4 units", p.Other, p.Best)
		}
	}
}

func TestCompareIsDeterministic(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(3, 30), 4)
	var first []byte
	for _, workers := range []int{1, 2, 7} {
		got, err := json.Marshal(compare(t, d, eval.Options{Seed: 9, Resamples: 200, Workers: workers}))
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = got
		}
		if string(got) != string(first) {
			t.Errorf("%d workers give another comparison", workers)
		}
	}
	other, err := json.Marshal(compare(t, d, eval.Options{Seed: 10, Resamples: 200}))
	if err != nil {
		t.Fatal(err)
	}
	if string(other) == string(first) {
		t.Error("another seed gives the very same intervals")
	}
}

// relabel gives every strike of the sessions named the labels of another one
// of them.
func relabel(d *eval.Data, seed uint64, sessions ...string) *eval.Data {
	rng := rand.New(rand.NewPCG(seed, 7))
	out := *d
	out.Cases = slices.Clone(d.Cases)
	var own []int
	for i, c := range out.Cases {
		if slices.Contains(sessions, c.Session) {
			own = append(own, i)
		}
	}
	for k, j := range rng.Perm(len(own)) {
		from := d.Cases[own[j]]
		out.Cases[own[k]].Train, out.Cases[own[k]].Score = from.Train, from.Score
	}
	return &out
}

func TestShuffledLabelsScoreLikeGuesses(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(3, 60), 5)
	good := row(t, compare(t, d, eval.Options{Seed: 1, Resamples: 200}).Groups[0], "learner")
	bad := row(t, compare(t, relabel(d, 1, "s01", "s02", "s03"), eval.Options{Seed: 1, Resamples: 200}).Groups[0], "learner")
	value(t, bad, eval.BearingMAE, 75, 105) // a guess is off by 90 degrees on average
	value(t, bad, "right_face_share", 0.08, 0.27)
	if g, b := good.Figure(eval.HeightMAE).Value, bad.Figure(eval.HeightMAE).Value; b < 4*g {
		t.Errorf("height error with shuffled labels %.3f m, with the right ones %.3f m: want a collapse", b, g)
	}
}

// The labels of a session that is left out must not reach its estimates.
func TestLabelsLeftOutDoNotLeak(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(3, 40), 6)
	before := compare(t, d, eval.Options{Seed: 1, Resamples: 100})
	after := compare(t, relabel(d, 2, "s02"), eval.Options{Seed: 1, Resamples: 100})
	moved := 0
	for k := range before.Detectors {
		for i, s := range before.Strikes {
			same := before.Answers[k][i] == after.Answers[k][i]
			if s.Session == "s02" && !same {
				t.Fatalf("%s: strike %d of s02 is answered otherwise when only labels of s02 change", before.Detectors[k].Name, i)
			}
			if s.Session != "s02" && !same {
				moved++
			}
		}
	}
	if moved == 0 {
		t.Error("no answer of the other sessions moved: the labels of s02 are not trained on at all")
	}
}

func TestTrainAndScoreTruthAreKeptApart(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(3, 60), 7)
	for i := range d.Cases {
		off := *d.Cases[i].Train
		off.BearingDeg = bearing.Wrap360(off.BearingDeg + 30) // as if the plan's faces were turned
		d.Cases[i].Train = &off
	}
	c := compare(t, d, eval.Options{Seed: 1, Resamples: 200})
	value(t, row(t, c.Groups[0], "learner"), "bearing_bias_deg", 29, 31)
	value(t, row(t, c.Groups[0], "pointer"), "bearing_bias_deg", 11, 13)
}

func TestComparePoolsRevisionsAndKeepsRigsApart(t *testing.T) {
	sessions := append(evaltest.Sessions(2, 30),
		evaltest.Session{Name: "y1", Striker: "ann", Rig: evaltest.Rig("yard", 1, 0), Strikes: 30},
		evaltest.Session{Name: "y2", Striker: "bo", Rig: evaltest.Rig("yard", 2, 0), Strikes: 30},
		evaltest.Session{Name: "alone", Striker: "ann", Rig: evaltest.Rig("attic", 1, 2000), Strikes: 30})
	c := compare(t, evaltest.Data(sessions, 8), eval.Options{Seed: 1, Resamples: 200})
	train := map[string]string{}
	for _, f := range c.Folds {
		train[f.Left] = strings.Join(f.Train, " ")
	}
	for left, want := range map[string]string{"s01": "s02", "s02": "s01", "y1": "y2", "y2": "y1", "alone": ""} {
		if train[left] != want {
			t.Errorf("with %s left out, trained on %q, want %q", left, train[left], want)
		}
	}
	skipped := map[string]int{}
	for _, s := range c.Skipped {
		skipped[s.Detector]++
	}
	if skipped["all"] != 1 || skipped["twin"] != 2 {
		t.Errorf("skipped %+v, want rig attic for all, and twin on both sessions without a gyroscope", c.Skipped)
	}
	for _, g := range c.Groups {
		for _, r := range g.Rows {
			if r.Detector == "twin" && g.Rig != "shed" {
				t.Errorf("twin has figures in group %q although it did not answer all of it", g.Rig)
			}
		}
	}

	c = compare(t, evaltest.Data(sessions, 8), eval.Options{Leave: eval.LeaveRig, Seed: 1, Resamples: 200})
	if len(c.Folds) != 3 || len(c.Strikes) != 150 {
		t.Errorf("leaving rigs out: %d folds, %d strikes, want 3 and 150", len(c.Folds), len(c.Strikes))
	}
}

func TestCompareRefuses(t *testing.T) {
	one := evaltest.Data(evaltest.Sessions(1, 30), 1)
	two := evaltest.Data(evaltest.Sessions(2, 30), 1)
	apart := evaltest.Sessions(2, 30)
	apart[1].Rig = evaltest.Rig("yard", 1, 2000)
	unlabelled := evaltest.Data(evaltest.Sessions(2, 30), 1)
	for i := range unlabelled.Cases {
		unlabelled.Cases[i].Score = nil
	}
	anonymous := evaltest.Data(evaltest.Sessions(2, 30), 1)
	for i := range anonymous.Cases {
		anonymous.Cases[i].Striker = ""
	}
	for _, c := range []struct {
		name     string
		d        *eval.Data
		families []models.Family
		o        eval.Options
		want     string
	}{
		{"one session", one, evaltest.Families(), eval.Options{}, "there is only s01: import and label another session"},
		{"two rigs of one session each", evaltest.Data(apart, 1), evaltest.Families(), eval.Options{}, "there is only s01: import and label another session (of rig shed, and it is no better on the others: yard)"},
		{"no strikes", &eval.Data{ScoreTruth: "hand"}, evaltest.Families(), eval.Options{}, "no strike has a label of truth hand"},
		{"nothing to score", unlabelled, evaltest.Families(), eval.Options{}, "label sessions first"},
		{"no strikers", anonymous, evaltest.Families(), eval.Options{Leave: "striker"}, "session s01 has no striker"},
		{"one rig", two, evaltest.Families(), eval.Options{Leave: "rig"}, "there is only shed"},
		{"unknown split", two, evaltest.Families(), eval.Options{Leave: "row"}, "give one of session, striker, rig, revision"},
		{"no detectors", two, nil, eval.Options{}, "no detectors given"},
		{"silly level", two, evaltest.Families(), eval.Options{Level: 95}, "between 0 and 1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := eval.Compare(t.Context(), c.d, c.families, c.o)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v, want one with %q", err, c.want)
			}
		})
	}
}

func TestDetectionScores(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(8, 20), 1)
	det := compare(t, d, eval.Options{Seed: 1, Resamples: 500}).Detection
	for _, c := range []struct {
		name      string
		f         eval.Figure
		want, tol float64
	}{
		{"precision", det.Precision, 160.0 / 168, 1e-12},
		{"recall", det.Recall, 1, 1e-12},
		{"F1", det.F1, 2 * 160.0 / 328, 1e-12},
		{"onset error", det.OnsetErrorMs, 1, 1e-9},
		{"onset bias", det.OnsetBiasMs, 1, 1e-9},
		{"delay", det.DelayMs, 60, 1e-9},
		{"delay, 95th", det.DelayP95Ms, 60, 1e-9},
	} {
		if math.Abs(c.f.Value-c.want) > c.tol || !(c.f.Low <= c.f.Value && c.f.Value <= c.f.High) {
			t.Errorf("%s = %+v, want %g", c.name, c.f, c.want)
		}
	}
	if !(det.Recall.Low < 1) {
		t.Errorf("recall %+v: a perfect share must not claim certainty", det.Recall)
	}
}

func TestFloor(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(2, 20), 1)
	if c := compare(t, d, eval.Options{Resamples: 100}); c.Floor.BearingMAEDeg != 0 {
		t.Errorf("floor %+v of labels that state no uncertainty, want 0", c.Floor)
	}
	for i := range d.Cases {
		d.Cases[i].Score.Source = "plan"
	}
	c := compare(t, d, eval.Options{Resamples: 100})
	if math.Abs(c.Floor.BearingMAEDeg-6.4) > 0.05 || math.Abs(c.Floor.HeightMAEM-0.032) > 0.0005 || c.Floor.PlanShare != 1 {
		t.Errorf("floor %+v, want 6.4 degrees and 3.2 cm", c.Floor)
	}
	if want := "errors are from the middle of the called face and band"; !strings.Contains(c.Floor.Note, want) {
		t.Errorf("the note %q lacks %q", c.Floor.Note, want)
	}
}

// A finder that misses everything has no spread between resamples, which must
// not look like certainty.
func TestDetectionOfNothing(t *testing.T) {
	for name, shiftNs := range map[string]int64{"false finds": 300_000_000, "no finds": 0} {
		d := evaltest.Data(evaltest.Sessions(8, 5), 1)
		for i := range d.Detection {
			s := &d.Detection[i]
			for k := range s.FoundNs {
				s.FoundNs[k] += shiftNs
			}
			if shiftNs == 0 {
				s.FoundNs, s.ReadyNs = nil, nil
			}
		}
		det := compare(t, d, eval.Options{Seed: 1, Resamples: 200}).Detection
		if det.F1.Value != 0 || !(det.F1.High > 0 && det.F1.High < 0.2) {
			t.Errorf("%s: F1 %+v, want 0 with an upper end between 0 and 0.2", name, det.F1)
		}
	}
}

// Labels that say only how high a strike landed have no part in the floor of
// the bearing.
func TestFloorOfPartLabels(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(2, 20), 1)
	for i := range d.Cases {
		whole := *d.Cases[i].Score
		whole.BearingSDDeg, whole.HeightSDM = 10, 0.1
		if i%2 == 0 {
			whole.BearingDeg, whole.BearingSDDeg = math.NaN(), 0
		}
		d.Cases[i].Score = &whole
	}
	c := compare(t, d, eval.Options{Resamples: 100})
	perSD := math.Sqrt(2 / math.Pi)
	if math.Abs(c.Floor.BearingMAEDeg-10*perSD) > 1e-9 || math.Abs(c.Floor.HeightMAEM-0.1*perSD) > 1e-9 {
		t.Errorf("floor %+v, want %g degrees and %g m", c.Floor, 10*perSD, 0.1*perSD)
	}
}
