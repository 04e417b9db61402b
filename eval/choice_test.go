package eval_test

import (
	"strings"
	"testing"

	"strikerose/eval"
	"strikerose/eval/evaltest"
	"strikerose/models"
)

// able gives the made-up detectors costs, and lets them be exported but parrot.
func able() []models.Family {
	costs := map[string]models.Cost{"pointer": {Macs: 2, Numbers: 1}, "turncoat": {Macs: 4, Numbers: 4}, "learner": {Macs: 100, Numbers: 50}, "twin": {Macs: 300, Numbers: 40}, "parrot": {Macs: 500, Numbers: 500}}
	families := evaltest.Families()
	for i := range families {
		families[i] = evaltest.Costing(families[i], costs[families[i].Name], families[i].Name != "parrot")
	}
	return families
}

func choice(t *testing.T, d *eval.Data, goal eval.Goal) *eval.Choice {
	t.Helper()
	flash := 900
	c, err := eval.Compare(t.Context(), d, able(), eval.Options{Seed: 1, Resamples: 200, Goal: goal, Measured: map[string]eval.Measured{"learner": {FlashBytes: &flash}}})
	if err != nil {
		t.Fatal(err)
	}
	return c.Groups[0].Choice
}

func TestCostsAndWhoIsBeaten(t *testing.T) {
	got := choice(t, evaltest.Data(evaltest.Sessions(4, 60), 1), eval.Goal{})
	beaten := map[string]string{}
	for _, c := range got.Costs {
		beaten[c.Detector] = c.BeatenBy
		if c.Detector == "learner" && (c.Macs != 100 || c.Numbers != 50 || c.Bytes != 200 || c.WaitMs != 50 || !c.Board || *c.Measured.FlashBytes != 900) {
			t.Errorf("cost of learner %+v", c)
		}
		if c.Detector == "parrot" && (c.Board || c.NotBoard == "") {
			t.Errorf("parrot %+v, want no board and why", c)
		}
	}
	for name, want := range map[string]string{"pointer": "", "turncoat": "", "learner": ""} {
		if beaten[name] != want {
			t.Errorf("%s is beaten by %q, want %q", name, beaten[name], want)
		}
	}
	// parrot waits less than all others, which no error outweighs.
	if beaten["parrot"] != "" {
		t.Errorf("parrot is beaten by %q although none is as quick", beaten["parrot"])
	}
}

func TestVerdict(t *testing.T) {
	timed := evaltest.Data(evaltest.Sessions(4, 60), 1)
	planned := evaltest.Data(evaltest.Sessions(4, 60), 1)
	for i := range planned.Cases {
		planned.Cases[i].Score.Source = "plan"
	}
	for _, c := range []struct {
		name     string
		d        *eval.Data
		goal     eval.Goal
		met      bool
		detector string
		says     string
		help     string
	}{
		// Errors of 3.2 degrees and 2.4 cm: 5 faces (4.4 % wrong) and 2 bands.
		{"met", timed, eval.Goal{Faces: 5, Bands: 2}, true, "learner", "the cheapest that meets it", ""},
		{"too many faces", timed, eval.Goal{Faces: 12, Bands: 2}, false, "learner", "misses by 5.", "more labelled strikes"},
		{"own faces", timed, eval.Goal{}, false, "", "no detector meets 6 faces and 3 bands: ", "more labelled strikes"},
		{"too quick", timed, eval.Goal{Faces: 5, Bands: 2, WithinMs: 30}, false, "turncoat", "no detector meets 5 faces and 2 bands within 30 ms", "learner would tell them, with 50 ms"},
		{"measured flash counts", timed, eval.Goal{Faces: 5, Bands: 2, Bytes: 800}, true, "twin", "", ""},
		{"plan, own faces", planned, eval.Goal{}, true, "learner", "as aimed", ""},
		{"plan, other faces", planned, eval.Goal{Faces: 8}, false, "", "does not follow from labels of a plan", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := choice(t, c.d, c.goal).Verdict
			if v.Met != c.met || c.detector != "" && v.Detector != c.detector {
				t.Errorf("met %v by %q, want %v by %q", v.Met, v.Detector, c.met, c.detector)
			}
			if !strings.Contains(v.Sentence, c.says) {
				t.Errorf("sentence %q lacks %q", v.Sentence, c.says)
			}
			if help := strings.Join(v.Help, "\n"); !strings.Contains(help, c.help) || c.met && help != "" {
				t.Errorf("help %q, want %q", help, c.help)
			}
		})
	}
}

// Where learning curves are drawn, the verdict points to them and not to how to
// draw them.
func TestVerdictPointsToLearningCurves(t *testing.T) {
	c, err := eval.Compare(t.Context(), evaltest.Data(evaltest.Sessions(4, 60), 1), able(), eval.Options{Seed: 1, Resamples: 200})
	if err != nil {
		t.Fatal(err)
	}
	help := func() string { return strings.Join(c.Groups[0].Choice.Verdict.Help, "\n") }
	c.AddLearning(nil, []eval.Skip{{Detector: "learner"}})
	if got := help(); !strings.Contains(got, "compare --learning") || len(c.Skipped) != 1 {
		t.Errorf("no curve could be drawn: help %q, skipped %+v", got, c.Skipped)
	}
	c.AddLearning([]eval.LearningCurve{{Detector: "learner"}}, nil)
	if got := help(); strings.Contains(got, "compare --learning") || !strings.Contains(got, "the learning curves say") || len(c.Learning) != 1 {
		t.Errorf("with a curve: help %q, curves %+v", got, c.Learning)
	}
}

// The commands that the verdict names are about the rig's file where it lies, and can
// be pasted.
func TestVerdictNamesRigFile(t *testing.T) {
	d := evaltest.Data([]evaltest.Session{
		{Name: "y1", Striker: "ann", Rig: evaltest.Rig("yard", 1, 0), Strikes: 60},
		{Name: "y2", Striker: "ann", Rig: evaltest.Rig("yard", 2, 0), Strikes: 60},
	}, 1)
	for name, c := range map[string]struct {
		file func(key string) string
		want string
	}{
		"where it lies": {func(key string) string { return "my gym/rigs/" + key + ".toml" }, `"strikerose rig show 'my gym/rigs/yard-r2.toml'" says`},
		"nowhere":       {nil, `"strikerose rig show yard-r2.toml" says`},
	} {
		got := compare(t, d, eval.Options{Seed: 1, Resamples: 200, RigFile: c.file})
		if help := strings.Join(got.Groups[0].Choice.Verdict.Help, "\n"); !strings.Contains(help, c.want) {
			t.Errorf("%s: help %q, want %q", name, help, c.want)
		}
	}
}

func TestVerdictRefusesGoals(t *testing.T) {
	for want, goal := range map[string]eval.Goal{"faces": {Faces: 100}, "bands": {Bands: -1}, "bytes": {Bytes: -4}, "ms": {WithinMs: -1}} {
		_, err := eval.Compare(t.Context(), evaltest.Data(evaltest.Sessions(2, 20), 1), able(), eval.Options{Goal: goal})
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: error %v, want one about %s", goal, err, want)
		}
	}
}

// Of rigs that differ, what is asked for all of them cannot be guessed.
func TestVerdictOfSeveralRigs(t *testing.T) {
	other := evaltest.Rig("yard", 1, 2000)
	other.Faces = 8
	sessions := append(evaltest.Sessions(2, 30),
		evaltest.Session{Name: "y1", Striker: "ann", Rig: other, Strikes: 30}, evaltest.Session{Name: "y2", Striker: "bo", Rig: other, Strikes: 30})
	d := evaltest.Data(sessions, 1)
	if v := choice(t, d, eval.Goal{}).Verdict; v != nil {
		t.Errorf("a verdict for rigs of 6 and of 8 faces: %q", v.Sentence)
	}
	if v := choice(t, d, eval.Goal{Faces: 4, Bands: 2}).Verdict; v == nil {
		t.Error("no verdict although faces and bands are given")
	}
}
