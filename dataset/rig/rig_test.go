package rig_test

import (
	"math"
	"testing"

	"strikerose/dataset/rig"
)

func TestBands(t *testing.T) {
	r := parse(t, garage)
	for h, want := range map[float64]string{-1: "low", 0.349: "low", 0.35: "mid", 0.65: "high", 2: "high", math.NaN(): ""} {
		if got := r.BandOf(h); got != want {
			t.Errorf("BandOf(%g) = %q, want %q", h, got, want)
		}
	}
	for _, c := range []struct {
		name     string
		from, to float64
	}{{"low", 0, 0.35}, {"mid", 0.35, 0.65}, {"high", 0.65, 1}} {
		from, to, ok := r.BandRange(c.name)
		if from != c.from || to != c.to || !ok {
			t.Errorf("band %s is %g to %g, %v; want %g to %g", c.name, from, to, ok, c.from, c.to)
		}
	}
	if _, _, ok := r.BandRange("top"); ok {
		t.Error("there is a band called top")
	}
}

func TestWhatARigSays(t *testing.T) {
	r := parse(t, garage)
	if r.Key() != "garage-r1" || r.FaceOf(61) != 2 || !r.HasGyro() {
		t.Errorf("key %s, face %d, gyroscope %v", r.Key(), r.FaceOf(61), r.HasGyro())
	}
	if parse(t, edit(t, "gyro_range_dps = 2000\n", "")).HasGyro() {
		t.Error("a rig without gyro_range_dps has a gyroscope")
	}
}

// A rig of which only a part of the free motion was measured is valid, as its
// file is.
func TestValidateTakesMotionInPart(t *testing.T) {
	data := append(rig.Template("garage"), "\n[motion]\nrocking_hz = 2.2\n"...)
	r, err := rig.Parse(data, "garage.toml")
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Validate(); err != nil {
		t.Errorf("Validate refuses what Parse takes: %v", err)
	}
}
