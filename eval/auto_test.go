package eval_test

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/eval"
	"strikerose/eval/evaltest"
	"strikerose/label"
	"strikerose/models"
)

func TestTrainAuto(t *testing.T) {
	unlabelled := evaltest.Data(evaltest.Sessions(2, 30), 1)
	for i := range unlabelled.Cases {
		unlabelled.Cases[i].Train, unlabelled.Cases[i].Score = nil, nil
	}
	trainOnly := evaltest.Data(evaltest.Sessions(3, 30), 1)
	for i := range trainOnly.Cases {
		trainOnly.Cases[i].Score = nil
	}
	for _, c := range []struct {
		name string
		d    *eval.Data
		o    eval.AutoOptions
		pick string // one of these, by |
		why  string
	}{
		{"sessions", evaltest.Data(evaltest.Sessions(3, 30), 1), eval.AutoOptions{}, "learner|twin", "over 3 folds of whole sessions"},
		{"labels to train on alone", trainOnly, eval.AutoOptions{}, "learner|twin", "over 3 folds"},
		{"many sessions", evaltest.Data(evaltest.Sessions(9, 10), 1), eval.AutoOptions{}, "learner|twin", "over 5 folds"},
		{"one session", evaltest.Data(evaltest.Sessions(1, 40), 1), eval.AutoOptions{}, "learner|twin", "flatters"},
		{"in a hurry", evaltest.Data(evaltest.Sessions(3, 30), 1), eval.AutoOptions{MaxWaitMs: 30}, "pointer", "folds"},
		{"no labels", unlabelled, eval.AutoOptions{}, "turncoat", "no strike has a label"},
		{"no strikes", &eval.Data{TrainTruth: label.Plan}, eval.AutoOptions{}, "turncoat", "no strike has a label"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, why, err := eval.TrainAuto(t.Context(), c.d, evaltest.Families(), c.o)
			if err != nil {
				t.Fatal(err)
			}
			if name := d.Info().Name; !strings.Contains("|"+c.pick+"|", "|"+name+"|") {
				t.Errorf("picked %s, want %s (%s)", name, c.pick, why)
			}
			if !strings.Contains(why, c.why) || !strings.HasPrefix(why, d.Info().Name+",") {
				t.Errorf("reason %q, want the name and %q", why, c.why)
			}
		})
	}
}

func TestTrainAutoRefuses(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(2, 30), 1)
	if _, _, err := eval.TrainAuto(t.Context(), d, evaltest.Families(), eval.AutoOptions{MaxWaitMs: 1}); err == nil || !strings.Contains(err.Error(), "within 1 ms") {
		t.Errorf("error %v, want one about the wait", err)
	}
	fitted := evaltest.Families()[2:]
	if _, _, err := eval.TrainAuto(t.Context(), &eval.Data{TrainTruth: label.Plan}, fitted, eval.AutoOptions{}); err == nil || !strings.Contains(err.Error(), "no rule") {
		t.Errorf("error %v, want one that there is nothing to learn from", err)
	}
}

func TestCriterion(t *testing.T) {
	// Half a face of six is 30 degrees, half a band of three on a metre a sixth of a metre.
	if got := eval.Criterion(30, 1.0/6, 6, 3, 1); got < 2-1e-12 || got > 2+1e-12 {
		t.Errorf("Criterion = %g, want 2", got)
	}
}

// snapper answers the centre of the face and the middle of the band, and one
// strike in ten the wrong band: the closest to a plan's labels on average, and
// yet no good.
type snapper struct{ info models.Info }

func (s snapper) Info() models.Info { return s.info }

func (s snapper) Estimate(in models.Input) models.Estimate {
	deg := bearing.FromVector(in.Row[0], in.Row[1]) - evaltest.YawDeg
	e := models.Estimate{BearingDeg: bearing.FaceCentre(in.Rig.FaceOf(deg), in.Rig.Faces)}
	from, to, _ := in.Rig.BandRange(in.Rig.BandOf(in.Row[2]))
	e.HeightM = (from + to) / 2
	if _, fraction := math.Modf(1e6 * in.Row[2]); fraction < 0.1 {
		e.HeightM = math.Mod(e.HeightM+0.33, 1)
	}
	return e
}

func TestTrainAutoDoesNotPickWhatAnswersAims(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(3, 80), 1)
	for i := range d.Cases {
		aim := *d.Cases[i].Train
		aim.BearingDeg = bearing.FaceCentre(aim.Face, 6)
		from, to, _ := d.Cases[i].Rig.BandRange(aim.Band)
		aim.HeightM, aim.Source = (from+to)/2, label.Plan
		d.Cases[i].Train = &aim
	}
	info := models.Info{Name: "snapper", Kind: models.Fitted, Gives: []string{"bearing", "height"}}
	families := append(evaltest.Families(), models.Family{Info: info, Fit: func(context.Context, []models.Example, models.Options) (models.Detector, error) {
		return snapper{info}, nil
	}})
	got, why, err := eval.TrainAuto(t.Context(), d, families, eval.AutoOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if name := got.Info().Name; name != "learner" && name != "twin" || !strings.Contains(why, "faces and bands of the plan") {
		t.Errorf("picked %s: %s; want learner or twin, by faces and bands", name, why)
	}
	for i := range d.Cases {
		d.Cases[i].Train.Source = label.Timed // the same numbers as if they were measured
	}
	if got, _, err = eval.TrainAuto(t.Context(), d, families, eval.AutoOptions{}); err != nil || got.Info().Name != "snapper" {
		t.Errorf("picked %s (%v), want snapper: the case above then proves nothing", got.Info().Name, err)
	}
}

// TestTrainAutoPrefersBoards checks that of two alike the one that can be
// exported is picked, and that one which is clearly better is picked all the
// same.
func TestTrainAutoPrefersBoards(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(3, 30), 1)
	pick := func(board ...string) (string, string) {
		families := evaltest.Families()
		for i, f := range families {
			families[i] = evaltest.Costing(f, models.Cost{}, slices.Contains(board, f.Name))
		}
		got, why, err := eval.TrainAuto(t.Context(), d, families, eval.AutoOptions{})
		if err != nil {
			t.Fatal(err)
		}
		return got.Info().Name, why
	}
	for _, name := range []string{"learner", "twin"} {
		if got, why := pick(name); got != name {
			t.Errorf("picked %s, want %s, which can be exported: %s", got, name, why)
		}
	}
	got, why := pick("pointer")
	if got == "pointer" || !strings.Contains(why, "cannot be exported") {
		t.Errorf("picked %s: %s; pointer is too bad to be picked for its export", got, why)
	}
}
