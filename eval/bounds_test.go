package eval_test

import (
	"math"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/eval"
	"strikerose/eval/bound"
	"strikerose/eval/evaltest"
)

// A group's bound is that of its strikes' own rigs and heights.
func TestBoundOfGroups(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(2, 20), 1)
	c := compare(t, d, eval.Options{Resamples: 100})
	window := eval.WholeWindow()
	for _, g := range c.Groups {
		if g.Band != "" || g.Kind != "" {
			continue
		}
		for _, noise := range []bound.ModelNoise{{}, bound.UsualModelNoise()} {
			var bearing, height float64
			for _, x := range d.Cases {
				l, err := bound.At(bound.Setting{Rig: x.Rig, Gyro: true, BeforeS: window.PreMs / 1000, AfterS: window.PostMs / 1000, Model: noise}, x.Score.HeightM)
				if err != nil {
					t.Fatal(err)
				}
				bearing += math.Sqrt(2/math.Pi) * l.BearingSDDeg / float64(len(d.Cases))
				height += math.Sqrt(2/math.Pi) * l.HeightSDM / float64(len(d.Cases))
			}
			for measure, want := range map[string]float64{eval.BearingMAE: bearing, eval.HeightMAE: height} {
				got, withModel := g.Least(measure)
				if noise != (bound.ModelNoise{}) {
					got = withModel
				}
				if !datasettest.Near(got.Value/want, 1, 1e-9) || got.N != len(d.Cases) {
					t.Errorf("%s, noise %+v: bound %+v, want %g", measure, noise, got, want)
				}
			}
		}
	}
	if f, _ := c.Groups[0].Least("flip_share"); f.Known() {
		t.Errorf("a share has the bound %+v", f)
	}
}

// A rig without a gyroscope has bounds of its own; one that cannot be computed
// for leaves the scores as they are and is named.
func TestBoundByRig(t *testing.T) {
	broken := evaltest.Rig("yard", 1, 0)
	broken.Hang.ChainM = 0
	for name, c := range map[string]struct {
		yard evaltest.Session
		has  bool
	}{
		"no gyroscope": {evaltest.Session{Rig: evaltest.Rig("yard", 1, 0)}, true},
		"no chain":     {evaltest.Session{Rig: broken}, false},
	} {
		sessions := evaltest.Sessions(2, 20)
		for _, y := range []string{"y1", "y2"} {
			sessions = append(sessions, evaltest.Session{Name: y, Striker: "ann", Rig: c.yard.Rig, Strikes: 20})
		}
		got := compare(t, evaltest.Data(sessions, 1), eval.Options{Resamples: 100})
		for _, g := range got.Groups {
			if want := c.has || g.Rig == "shed"; (g.Bound != nil) != want {
				t.Errorf("%s: group %+v has a bound: %v, want %v", name, []string{g.Rig, g.Band, g.Kind}, g.Bound != nil, want)
			}
		}
		if named := strings.Contains(strings.Join(got.Warnings, "\n"), "no bound for rig yard-r1"); named == c.has {
			t.Errorf("%s: warnings %q", name, got.Warnings)
		}
	}
}

// Strikes whose true height is not known do not count.
func TestBoundWithoutHeights(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(2, 20), 1)
	for i := range d.Cases {
		d.Cases[i].Score.HeightM = math.NaN()
	}
	for _, g := range compare(t, d, eval.Options{Resamples: 100}).Groups {
		if f, _ := g.Least(eval.BearingMAE); f.Known() {
			t.Errorf("a bound %+v without heights", f)
		}
	}
}

// A true height just off the bag, as a label's own error may give, counts as
// the bag's end.
func TestBoundOffTheBag(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(2, 20), 1)
	of := func(heightM float64) eval.Figure {
		for i := range d.Cases {
			d.Cases[i].Score.HeightM = heightM
		}
		f, _ := compare(t, d, eval.Options{Resamples: 100}).Groups[0].Least(eval.HeightMAE)
		return f
	}
	if off, on := of(-0.02), of(0); !on.Known() || off.Value != on.Value || off.N != on.N {
		t.Errorf("2 cm below the bag the bound is %+v, at its end %+v", off, on)
	}
}
