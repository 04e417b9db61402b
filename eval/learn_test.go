package eval_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/eval"
	"strikerose/eval/evaltest"
	"strikerose/models"
)

// pick returns the made-up families of these names.
func pick(names ...string) []models.Family {
	var out []models.Family
	for _, f := range evaltest.Families() {
		for _, n := range names {
			if f.Name == n {
				out = append(out, f)
			}
		}
	}
	return out
}

func learn(t *testing.T, d *eval.Data, families []models.Family, o eval.LearningOptions) ([]eval.LearningCurve, []eval.Skip) {
	t.Helper()
	curves, skipped, err := eval.Learn(t.Context(), d, families, o)
	if err != nil {
		t.Fatal(err)
	}
	return curves, skipped
}

func TestLearningCurve(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(4, 60), 1)
	o := eval.LearningOptions{Seed: 1, Resamples: 200, Goal: eval.Goal{Faces: 5, Bands: 2}}
	curves, skipped := learn(t, d, pick("learner"), o)
	if len(curves) != 1 || len(skipped) != 0 {
		t.Fatalf("%d curves, skipped %v, want 1 and none", len(curves), skipped)
	}
	c := curves[0]
	var sizes []int
	for _, p := range c.Points {
		sizes = append(sizes, p.Labels)
	}
	if c.Labels != 240 || c.Sessions != 4 || len(sizes) != 6 || sizes[0] != 6 || sizes[5] != 180 {
		t.Errorf("%d labels of %d sessions tried by %v, want 240 of 4 by 6 to 180", c.Labels, c.Sessions, sizes)
	}
	// The mean of n errors of 4 degrees has one of 4/sqrt(n), which adds to that
	// of the strike: sqrt(2/pi) 4 sqrt(1+1/n).
	for _, p := range c.Points {
		want := math.Sqrt(2/math.Pi) * evaltest.NoiseDeg * math.Sqrt(1+1/float64(p.Labels))
		if math.Abs(p.Bearing.Value-want) > 0.12*want || !(p.Bearing.Low <= p.Bearing.Value && p.Bearing.Value <= p.Bearing.High) {
			t.Errorf("%d labels: %+v, want about %.2f", p.Labels, p.Bearing, want)
		}
	}
	f := c.Bearing
	if f.More.Value > f.Now.Value || f.Gain.Value < 0 || f.Gain.Value > 0.1 || !(f.More.Low <= f.More.Value && f.More.Value <= f.More.High) {
		t.Errorf("fit %+v, want hardly a gain from 100 more", f)
	}
	if c.GoalLabels == 0 || c.GoalLabels > 96 {
		t.Errorf("goal met from %d labels on, want from few", c.GoalLabels)
	}
	if got := eval.LearningFits(d, 1, o); got != 6*4*3 {
		t.Errorf("%d fits are said to be made, want 72", got)
	}
}

func TestLearningIsTheSameForAnyWorkers(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(3, 30), 2)
	var first string
	for _, workers := range []int{1, 5} {
		curves, _ := learn(t, d, pick("learner", "pointer"), eval.LearningOptions{Seed: 3, Resamples: 100, Workers: workers})
		data, err := json.Marshal(curves)
		if err != nil {
			t.Fatal(err)
		}
		if first == "" {
			first = string(data)
		} else if first != string(data) {
			t.Error("the curves depend on how many fits are made at once")
		}
		var back []eval.LearningCurve
		if err := json.Unmarshal(data, &back); err != nil {
			t.Fatal(err)
		}
		if again, _ := json.Marshal(back); string(again) != string(data) {
			t.Error("curves read back from JSON marshal to something else")
		}
	}
	if !strings.Contains(first, `"height_mae_m":{"value":null`) {
		t.Error("pointer gives no height, yet has an error of it")
	}
}

// What is tested is never trained on: were labels of the session left out to
// reach a fit, turning them would move its answers.
func TestLearningDoesNotLeak(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(2, 40), 3)
	for i := range d.Cases {
		if d.Cases[i].Session == "s02" {
			turned := *d.Cases[i].Train
			turned.BearingDeg = bearing.Wrap360(turned.BearingDeg + 90)
			d.Cases[i].Train = &turned
		}
	}
	curves, _ := learn(t, d, pick("learner"), eval.LearningOptions{Seed: 1, Resamples: 100})
	for _, p := range curves[0].Points {
		// s01 is answered by what the turned labels taught, s02 rightly: half of the strikes is off by 90.
		if p.Bearing.Value < 40 || p.Bearing.Value > 55 {
			t.Errorf("%d labels: off by %.1f degrees, want about 47", p.Labels, p.Bearing.Value)
		}
	}
}

func TestLearningSaysWhatCannotBeLearned(t *testing.T) {
	sessions := append(evaltest.Sessions(2, 30), evaltest.Session{Name: "y1", Striker: "ann", Rig: evaltest.Rig("yard", 1, 0), Strikes: 30},
		evaltest.Session{Name: "y2", Striker: "bo", Rig: evaltest.Rig("yard", 1, 0), Strikes: 30})
	curves, skipped := learn(t, evaltest.Data(sessions, 1), pick("twin"), eval.LearningOptions{Resamples: 100})
	if len(curves) != 1 || curves[0].Rig != "shed" || len(skipped) != 1 || !strings.Contains(skipped[0].Why, "needs a gyroscope") {
		t.Errorf("%d curves, skipped %v, want shed alone and why yard is left out", len(curves), skipped)
	}
	if _, _, err := eval.Learn(t.Context(), evaltest.Data(evaltest.Sessions(1, 30), 1), pick("learner"), eval.LearningOptions{}); err == nil || !strings.Contains(err.Error(), "label another session") {
		t.Errorf("of one session: %v, want what to do", err)
	}
}
