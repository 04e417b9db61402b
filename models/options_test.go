package models_test

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"strikerose/features"
	"strikerose/models"
	"strikerose/models/modelstest"
)

// What a bounded wait gives reads nothing later, whatever the family; one that
// cannot answer says how long it waits.
func TestWithin(t *testing.T) {
	if testing.Short() {
		t.Skip("long, and starts nothing at once")
	}
	defs := features.All()
	for _, gyro := range []bool{true, false} {
		r := modelstest.Rig(gyro)
		ex := slices.Concat(modelstest.Examples(t, r, "a", 30, 1), modelstest.Examples(t, r, "b", 30, 2))
		for _, f := range models.Families() {
			if f.NeedsGyro && !gyro {
				continue
			}
			for _, ms := range []float64{15, 25, 40, 100} {
				d, err := f.Fit(t.Context(), ex, models.Options{Seed: 1, WithinMs: ms})
				name := fmt.Sprintf("%s within %g ms, gyroscope %v", f.Name, ms, gyro)
				if err != nil {
					if !strings.Contains(err.Error(), fmt.Sprintf("cannot answer within %g ms: allow ", ms)) {
						t.Errorf("%s: error %v", name, err)
					}
					continue
				}
				if got := d.Info().Wait(gyro); got > ms || got <= 0 {
					t.Errorf("%s: waits %g ms", name, got)
				}
				again := reloaded(t, d)
				for _, e := range ex[:10] {
					cut := e.Input
					cut.Row = slices.Clone(e.Row)
					for c, column := range features.Columns() {
						if defs[column.Def].ToMs > ms {
							cut.Row[c] = math.NaN()
						}
					}
					whole := d.Estimate(e.Input)
					if short := d.Estimate(cut); short != whole {
						t.Fatalf("%s: %+v with what comes later, %+v without", name, whole, short)
					}
					if loaded := again.Estimate(e.Input); loaded != whole {
						t.Fatalf("%s: %+v, and %+v from its file", name, whole, loaded)
					}
				}
			}
		}
	}
}

// An early answer is worth having: with a gyroscope most of it is known when the
// contact ends.
func TestWithinIsOfUse(t *testing.T) {
	r := modelstest.Rig(true)
	ex := modelstest.Examples(t, r, "a", 60, 3)
	f, _ := models.FamilyByName("pendulum")
	for ms, most := range map[float64]float64{15: 12, 25: 6, 40: 4} {
		d, err := f.Fit(t.Context(), nil, models.Options{WithinMs: ms})
		if err != nil {
			t.Fatal(err)
		}
		var sum float64
		for _, e := range ex {
			sum += math.Abs(math.Remainder(d.Estimate(e.Input).BearingDeg-e.BearingDeg, 360)) / float64(len(ex))
		}
		if sum > most {
			t.Errorf("within %g ms bearings err by %.1f degrees, want at most %g", ms, sum, most)
		}
	}
}

func reloaded(t *testing.T, d models.Detector) models.Detector {
	t.Helper()
	var buf bytes.Buffer
	if err := models.Save(&buf, d, models.Training{Seed: 1}); err != nil {
		t.Fatal(err)
	}
	f, err := models.Load(&buf)
	if err != nil {
		t.Fatal(err)
	}
	return f.Detector
}

func TestOnly(t *testing.T) {
	r := modelstest.Rig(true)
	ex := slices.Concat(modelstest.Examples(t, r, "a", 30, 1), modelstest.Examples(t, r, "b", 30, 2))
	only := []string{"kick", "tip", "twist", "accel_before", "rock_before"}
	for _, name := range []string{"pendulum", "complex-ridge", "k-nearest", "cart", "forest"} {
		f, _ := models.FamilyByName(name)
		d, err := f.Fit(t.Context(), ex, models.Options{Seed: 1, Only: only})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for _, n := range d.(*models.Model).Reads() {
			if !slices.Contains(only, n) {
				t.Errorf("%s reads %s, which is not allowed", name, n)
			}
		}
	}
	for name, want := range map[string]string{"peak-arctangent": "reads peak, which is not among the 5 features allowed"} {
		f, _ := models.FamilyByName(name)
		if _, err := f.Fit(t.Context(), ex, models.Options{Only: only}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: error %v, want one about %q", name, err, want)
		}
	}
}

func TestOptionsRefused(t *testing.T) {
	f, _ := models.FamilyByName("forest")
	ex := modelstest.Examples(t, modelstest.Rig(true), "a", 30, 1)
	for _, c := range []struct {
		name string
		o    models.Options
		want []string
	}{
		{"unknown settings", models.Options{Settings: map[string]float64{"leaves": 3, "bark": 1}}, []string{`"leaves"`, `"bark"`, "there is trees, leaf, try"}},
		{"too small", models.Options{Settings: map[string]float64{"trees": 0}}, []string{"trees is 0: give 1 to 1000"}},
		{"no count", models.Options{Settings: map[string]float64{"leaf": 2.5}}, []string{"leaf is 2.5: give a whole number"}},
		{"no number", models.Options{Settings: map[string]float64{"try": math.NaN()}}, []string{"try is NaN"}},
		{"wait of nothing", models.Options{WithinMs: -1}, []string{"a wait of -1 ms"}},
		{"unknown feature", models.Options{Only: []string{"kick", "punch"}}, []string{`no feature is named "punch"`}},
		{"no push", models.Options{Only: []string{"accel_before", "lift"}}, []string{"nothing is left that tells the push"}},
	} {
		_, err := f.Fit(t.Context(), ex, c.o)
		if err == nil {
			t.Errorf("%s: taken", c.name)
			continue
		}
		for _, want := range c.want {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%s: error %q lacks %q", c.name, err, want)
			}
		}
	}
}

// Every setting says what it is, and what it tries works.
func TestSettings(t *testing.T) {
	for _, f := range models.Families() {
		seen := map[string]bool{}
		for _, s := range f.Settings {
			if s.Name == "" || s.Doc == "" || seen[s.Name] || !(s.Least <= s.Usual && s.Usual <= s.Most) {
				t.Errorf("%s: setting %+v", f.Name, s)
			}
			seen[s.Name] = true
			for _, v := range s.Try {
				if v < s.Least || v > s.Most || s.Whole && v != math.Trunc(v) {
					t.Errorf("%s: %s tries %g", f.Name, s.Name, v)
				}
			}
		}
	}
}
