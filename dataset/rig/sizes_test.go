package rig

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// The template's sizes give the template.
func TestFilledUnchanged(t *testing.T) {
	got, err := Filled("my-bag", TemplateSizes())
	if err != nil || !bytes.Equal(got, Template("my-bag")) {
		t.Errorf("Filled: %v\n%s", err, got)
	}
}

// Whatever a person answers stands in the file, and its comments stay.
func TestFilled(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Sizes{
			LengthM: rapid.Float64Range(0.6, 1.9).Draw(t, "length"), DiameterM: rapid.Float64Range(0.25, 0.5).Draw(t, "diameter"),
			MassKg: rapid.Float64Range(10, 80).Draw(t, "mass"), ChainM: rapid.Float64Range(0.1, 1).Draw(t, "chain"),
			RateHz:       rapid.SampledFrom([]float64{400, 800, 1000, 1600}).Draw(t, "rate"),
			AccelRangeG:  rapid.SampledFrom([]float64{8, 16, 32}).Draw(t, "g"),
			GyroRangeDPS: rapid.SampledFrom([]float64{0, 500, 2000}).Draw(t, "dps"),
			Axes:         rapid.SampledFrom([][]string{{"90", "0", "up"}, {"0", "90", "down"}, {"up", "30", "300"}}).Draw(t, "axes"),
		}
		s.SensorDepthM = rapid.Float64Range(0.02, 0.9).Draw(t, "depth") * s.LengthM
		text, err := Filled("garage", s)
		if err != nil {
			t.Fatalf("%+v: %v", s, err)
		}
		r, err := Parse(text, "garage.toml")
		if err != nil {
			t.Fatal(err)
		}
		got := Sizes{r.Bag.LengthM, r.Bag.DiameterM, r.Bag.MassKg, r.Hang.ChainM, r.Sensor.DepthM, r.Sensor.RateHz, r.Sensor.AccelRangeG, r.Sensor.GyroRangeDPS,
			[]string{r.Sensor.Axes.X, r.Sensor.Axes.Y, r.Sensor.Axes.Z}}
		if !slices.Equal(got.Axes, s.Axes) {
			t.Errorf("axes %v, want %v", got.Axes, s.Axes)
		}
		got.Axes, s.Axes = nil, nil
		if got.LengthM != s.LengthM || got.MassKg != s.MassKg || got.SensorDepthM != s.SensorDepthM || got.GyroRangeDPS != s.GyroRangeDPS || got.RateHz != s.RateHz || got.ChainM != s.ChainM {
			t.Errorf("%+v, want %+v", got, s)
		}
		if r.Bands[1].ToM >= r.Bag.LengthM || !strings.Contains(string(text), "# below the bag's top edge") {
			t.Errorf("bands %+v in\n%s", r.Bands, text)
		}
	})
}

func TestFilledRefuses(t *testing.T) {
	for name, change := range map[string]func(*Sizes){
		"two axes":     func(s *Sizes) { s.Axes = s.Axes[:2] },
		"left-handed":  func(s *Sizes) { s.Axes = []string{"0", "90", "up"} },
		"quoted":       func(s *Sizes) { s.Axes = []string{`"`, "0", "up"} },
		"sensor below": func(s *Sizes) { s.SensorDepthM = 1.5 },
		"no mass":      func(s *Sizes) { s.MassKg = 0 },
		"no range":     func(s *Sizes) { s.AccelRangeG = 0 },
		"no length":    func(s *Sizes) { s.LengthM = 0 },
	} {
		s := TemplateSizes()
		change(&s)
		if text, err := Filled("garage", s); err == nil {
			t.Errorf("%s: is taken:\n%s", name, text)
		}
	}
}
