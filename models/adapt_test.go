package models_test

import (
	"bytes"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/models"
	"strikerose/models/modelstest"
)

// otherBag is a bag unlike modelstest.Rig: heavier, with its sensor deeper.
func otherBag(gyro bool) *rig.Rig {
	r := *modelstest.Rig(gyro)
	r.Name = "other"
	r.Bag.MassKg += 8
	r.Sensor.DepthM += 0.02
	return &r
}

func fitted(t testing.TB, name string, ex []models.Example) models.Detector {
	t.Helper()
	f, ok := models.FamilyByName(name)
	if !ok {
		t.Fatalf("no detector is named %q", name)
	}
	d, err := f.Fit(t.Context(), ex, models.Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func adapted(t testing.TB, d models.Detector, to models.Target) *models.Adapted {
	t.Helper()
	a, err := models.Adapt(t.Context(), d, to, 1)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func turnedLabels(ex []models.Example, deg float64) []models.Example {
	out := append([]models.Example(nil), ex...)
	for i := range out {
		out[i].BearingDeg = bearing.Wrap360(out[i].BearingDeg + deg)
	}
	return out
}

// Labels turned by an angle turn every answer by it and change nothing else:
// not what is chosen, not heights, not what is stated.
func TestAdaptTurnsWithItsLabels(t *testing.T) {
	r := otherBag(true)
	all := modelstest.Examples(t, r, "s1", 40, 3)
	test := modelstest.Examples(t, r, "s2", 10, 4)
	ridge := fitted(t, "complex-ridge", modelstest.Examples(t, modelstest.Rig(true), "s0", 30, 2))
	rng := rand.New(rand.NewPCG(1, 1))
	for _, k := range []int{1, 5, 6, 12, 24, len(all)} {
		deg := 360*rng.Float64() - 180
		plain := adapted(t, ridge, models.Target{Rig: r, Own: all[:k], Board: k == 6})
		turned := adapted(t, ridge, models.Target{Rig: r, Own: turnedLabels(all[:k], deg), Board: k == 6})
		if plain.Chosen.Base != turned.Chosen.Base || plain.Chosen.Bearing != turned.Chosen.Bearing || plain.Chosen.Height != turned.Chosen.Height {
			t.Fatalf("%d labels turned by %g: %+v became %+v", k, deg, plain.Chosen, turned.Chosen)
		}
		for _, e := range test {
			a, b := plain.Detector.Estimate(e.Input), turned.Detector.Estimate(e.Input)
			if d := bearing.Diff(b.BearingDeg, a.BearingDeg+deg); math.Abs(d) > 1e-6 {
				t.Fatalf("%d labels turned by %g: the answer turned by %g more", k, deg, d)
			}
			if math.Abs(a.HeightM-b.HeightM) > 1e-9 || math.Abs(a.BearingSDDeg-b.BearingSDDeg) > 1e-6 {
				t.Fatalf("%d labels turned by %g: %+v became %+v", k, deg, a, b)
			}
		}
	}
}

// The settled rule: a detector is kept where its rigs' geometry reaches and the
// rig file stands in elsewhere; without labels no yaw is claimed.
func TestAdaptWithoutLabels(t *testing.T) {
	near, far := otherBag(true), *otherBag(true)
	far.Name, far.Sensor.DepthM = "far", 0.02
	ridge := fitted(t, "complex-ridge", modelstest.Examples(t, modelstest.Rig(true), "s0", 30, 2))
	for _, c := range []struct {
		rig  *rig.Rig
		want string
	}{{near, models.BaseTrained}, {&far, models.BaseRigFile}} {
		a := adapted(t, ridge, models.Target{Rig: c.rig})
		if a.Chosen.Base != c.want || a.YawFrom != models.YawNone || len(a.Trials) > 0 {
			t.Errorf("rig %s: %+v, yaw from %s, want %s", c.rig.Key(), a.Chosen, a.YawFrom, c.want)
		}
		if _, known := a.Detector.YawDeg(c.rig.Key()); known {
			t.Errorf("rig %s: a yaw offset is known without a label", c.rig.Key())
		}
	}
}

// A height that is measured from the wrong end of a shift is mended, and the
// file keeps the correction.
func TestAdaptCorrectsHeights(t *testing.T) {
	r := otherBag(true)
	shifted := func(session string, n int, seed uint64) []models.Example {
		ex := modelstest.Examples(t, r, session, n, seed)
		for i := range ex {
			ex[i].HeightM += 0.08
		}
		return ex
	}
	a := adapted(t, fitted(t, "pendulum", nil), models.Target{Rig: r, Own: shifted("s1", 40, 3)})
	if a.Chosen.Height == models.FormYaw || !a.Detector.Corrects(r.Key()) {
		t.Fatalf("heights are left 8 cm off: %+v", a.Chosen)
	}
	var file bytes.Buffer
	if err := models.Save(&file, a.Detector, models.Training{}); err != nil {
		t.Fatal(err)
	}
	read, err := models.Load(&file)
	if err != nil {
		t.Fatal(err)
	}
	var before, after float64
	plain := fitted(t, "pendulum", nil)
	for _, e := range shifted("s2", 20, 4) {
		got := a.Detector.Estimate(e.Input)
		if again := read.Detector.Estimate(e.Input); again != got {
			t.Fatalf("the file answers %+v, not %+v", again, got)
		}
		after += math.Abs(got.HeightM - e.HeightM)
		before += math.Abs(plain.Estimate(e.Input).HeightM - e.HeightM)
	}
	if after > before/2 {
		t.Errorf("heights are off by %.3f m on average, %.3f before", after/20, before/20)
	}
}

// An earlier revision whose sensor is turned alike by its file lends its yaw;
// one that says otherwise does not.
func TestAdaptTakesTheYawOfAnEarlierRevision(t *testing.T) {
	before := otherBag(true)
	after := *before
	after.Revision, after.Sensor.DepthM = before.Revision+1, before.Sensor.DepthM+0.04
	ex := turnedLabels(modelstest.Examples(t, before, "s1", 30, 3), 20)
	rule := fitted(t, "pendulum", ex)
	a := adapted(t, rule, models.Target{Rig: &after, Earlier: []*rig.Rig{before}})
	was, _ := rule.(*models.Model).YawDeg(before.Key())
	got, known := a.Detector.YawDeg(after.Key())
	if !known || got != was || a.YawFrom != models.YawEarlier || !(a.YawSDDeg >= 1) {
		t.Errorf("yaw %g (known %t, sd %g) from %s, want %g from %s", got, known, a.YawSDDeg, a.YawFrom, was, models.YawEarlier)
	}
	e := a.Detector.Estimate(modelstest.Examples(t, &after, "s2", 4, 5)[0].Input)
	if !(e.BearingSDDeg >= a.YawSDDeg) || math.IsInf(e.BearingSDDeg, 0) {
		t.Errorf("stated %g deg with a yaw known to %g", e.BearingSDDeg, a.YawSDDeg)
	}
	if few := adapted(t, rule, models.Target{Rig: &after, Earlier: []*rig.Rig{before}, Own: turnedLabels(modelstest.Examples(t, &after, "s2", 4, 5), 20)}); few.YawFrom != models.YawBoth || few.YawSDDeg >= a.YawSDDeg {
		t.Errorf("some labels more: yaw from %s, known to %g deg, %g before", few.YawFrom, few.YawSDDeg, a.YawSDDeg)
	}
	remounted := after
	remounted.Sensor.YawDeg += 90
	if a := adapted(t, rule, models.Target{Rig: &remounted, Earlier: []*rig.Rig{before}, Others: ex}); a.YawFrom != models.YawNone {
		t.Errorf("the sensor was mounted anew, and its yaw is taken from %s", a.YawFrom)
	}
}

// Simulated strikes that say the wrong places are told useless and not used,
// and below the labels to measure it they are not even tried.
func TestAdaptRefusesUselessSimulations(t *testing.T) {
	r := otherBag(true)
	wrong := modelstest.Examples(t, r, "simulated", 40, 9)
	for i := range wrong {
		wrong[i].HeightM = r.Bag.LengthM - wrong[i].HeightM
		wrong[i].BearingDeg = float64(i * 37)
	}
	own := modelstest.Examples(t, r, "s1", 24, 3)
	a := adapted(t, fitted(t, "pendulum", nil), models.Target{Rig: r, Own: own, Simulated: wrong})
	if a.Chosen.Simulated || a.SimulatedGain != 0 {
		t.Errorf("wrong simulations are used: %+v, gain %g", a.Chosen, a.SimulatedGain)
	}
	if a := adapted(t, fitted(t, "pendulum", nil), models.Target{Rig: r, Own: own[:6], Simulated: wrong}); a.Chosen.Simulated || !math.IsNaN(a.SimulatedGain) {
		t.Errorf("with six labels: %+v, gain %g", a.Chosen, a.SimulatedGain)
	}
}

func TestAdaptRefuses(t *testing.T) {
	here, there := modelstest.Rig(true), otherBag(true)
	of := map[*rig.Rig][]models.Example{}
	for _, r := range []*rig.Rig{here, there} {
		of[r] = modelstest.Examples(t, r, "s1", 12, 3)
	}
	ridge, rule := fitted(t, "complex-ridge", of[here]), fitted(t, "pendulum", nil)
	for _, c := range []struct {
		name string
		d    models.Detector
		to   models.Target
		want string
	}{
		{"labels of another rig", ridge, models.Target{Rig: there, Own: of[here]}, "give it among the others"},
		{"simulations of another rig", ridge, models.Target{Rig: there, Simulated: of[here]}, "give it among the others"},
		{"own labels among the others", ridge, models.Target{Rig: there, Others: of[there]}, "give it as its own"},
		{"the rig that taught it", ridge, models.Target{Rig: here, Own: of[here]}, "trained on rig"},
		{"no rig", ridge, models.Target{}, "no rig"},
		{"no gyroscope", rule, models.Target{Rig: otherBag(false)}, "needs a gyroscope"},
	} {
		if _, err := models.Adapt(t.Context(), c.d, c.to, 1); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v does not say %q", c.name, err, c.want)
		}
	}
}

func TestBetween(t *testing.T) {
	before := modelstest.Rig(true)
	after := *before
	after.Revision++
	after.Sensor.DepthM += 0.3
	r := models.Between(before, &after)
	if !r.SameMount || r.SameShape || len(r.Changed) != 1 || !strings.HasPrefix(r.Changed[0], "sensor.depth_m") {
		t.Errorf("%+v", r)
	}
	for _, e := range r.Effects {
		if e.Name == "sensor above the centre of mass" && math.Abs(*e.Before-*e.After-0.3) > 1e-12 {
			t.Errorf("%+v", e)
		}
	}
}
