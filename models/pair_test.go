package models_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"strikerose/models"
	"strikerose/models/modelstest"
)

// A pair answers as its halves do, each for its part.
func TestPairAnswersAsItsHalves(t *testing.T) {
	var ex []models.Example
	for i, s := range []string{"monday", "tuesday", "friday"} {
		ex = append(ex, modelstest.Examples(t, modelstest.Rig(true), s, 30, uint64(60+i))...)
	}
	fit := func(name string, o models.Options) models.Detector {
		f, ok := models.FamilyByName(name)
		if !ok {
			t.Fatalf("no family %s", name)
		}
		d, err := f.Fit(t.Context(), ex, o)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	for _, halves := range [][2]string{{"forest", "complex-ridge"}, {"physics", "discriminant"}, {"kick-direction", "cart"}} {
		pair := fit(halves[0]+"+"+halves[1], models.Options{Seed: 1})
		bearings, heights := fit(halves[0], models.Options{Seed: 1}), fit(halves[1], models.Options{Seed: 1})
		for _, e := range ex {
			got, b, h := pair.Estimate(e.Input), bearings.Estimate(e.Input), heights.Estimate(e.Input)
			if got.BearingDeg != b.BearingDeg || got.HeightM != h.HeightM {
				t.Fatalf("%v: %+v, halves say %+v and %+v", halves, got, b, h)
			}
			// How hard the bearing is may be told by the height answered, which
			// is the other half's.
			if math.Abs(got.BearingHalf90Deg/b.BearingHalf90Deg-1) > 0.25 || got.HeightHalf90M != h.HeightHalf90M || got.HeightSDM != h.HeightSDM {
				t.Fatalf("%v: states %+v, halves %+v and %+v", halves, got, b, h)
			}
		}
		p, b, h := pair.Info(), bearings.Info(), heights.Info()
		for _, gyro := range []bool{false, true} {
			if p.Wait(gyro) != math.Max(b.Wait(gyro), h.Wait(gyro)) {
				t.Errorf("%v waits %g ms, halves %g and %g (gyroscope: %t)", halves, p.Wait(gyro), b.Wait(gyro), h.Wait(gyro), gyro)
			}
		}
		if p.Cost.Macs != b.Cost.Macs+h.Cost.Macs || p.Cost.Numbers != b.Cost.Numbers+h.Cost.Numbers || p.Name != halves[0]+"+"+halves[1] || p.Board || !p.Calibrated {
			t.Errorf("%v: described as %+v", halves, p)
		}
	}

	// A setting goes to its half.
	plain := fit("forest", models.Options{Seed: 1, Settings: map[string]float64{"trees": 3}})
	pair := fit("forest+cart", models.Options{Seed: 1, Settings: map[string]float64{"bearing.trees": 3}})
	if a, b := plain.Estimate(ex[4].Input), pair.Estimate(ex[4].Input); a.BearingDeg != b.BearingDeg {
		t.Errorf("with three trees a forest says %g, paired %g", a.BearingDeg, b.BearingDeg)
	}
}

func TestPairsByName(t *testing.T) {
	for name, ok := range map[string]bool{
		"forest+complex-ridge": true, "physics+pendulum": true,
		"forest+": false, "+forest": false, "forest+crystal": false, "forest+forest": false, "forest+cart+forest": false,
	} {
		if f, found := models.FamilyByName(name); found != ok || found && f.Name != name {
			t.Errorf("FamilyByName(%q) = %q, %t", name, f.Name, found)
		}
	}
	if slices.ContainsFunc(models.Families(), func(f models.Family) bool { return strings.Contains(f.Name, "+") }) {
		t.Error("pairs are listed among the families")
	}
	forest, _ := models.FamilyByName("forest")
	if f := models.Pair(forest, forest); f.Name != "forest" {
		t.Errorf("a family with itself is %q", f.Name)
	}
	rules, _ := models.FamilyByName("physics+pendulum")
	if d, err := rules.Fit(t.Context(), nil, models.Options{}); err != nil || d.Info().Kind != models.Rule {
		t.Errorf("two rules: %v", err)
	}
	ex := modelstest.Examples(t, modelstest.Rig(true), "monday", 12, 3)
	for name, c := range map[string]struct {
		bearing, height string
		o               models.Options
		want            string
	}{
		"no height":       {"forest", "peak-arctangent", models.Options{}, "gives no height"},
		"unknown setting": {"forest", "cart", models.Options{Settings: map[string]float64{"trees": 3}}, "bearing.trees"},
	} {
		b, _ := models.FamilyByName(c.bearing)
		h, _ := models.FamilyByName(c.height)
		if _, err := models.Pair(b, h).Fit(t.Context(), ex, c.o); err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), c.bearing+"+") {
			t.Errorf("%s: error %v; want one about %q", name, err, c.want)
		}
	}
	if _, err := models.Pair(models.Pair(forest, rules), forest).Fit(t.Context(), ex, models.Options{}); err == nil || !strings.Contains(err.Error(), "pair already") {
		t.Errorf("a pair of a pair: error %v", err)
	}
}
