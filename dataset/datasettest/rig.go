package datasettest

import (
	"testing"

	"strikerose/dataset/rig"
)

// Rig returns a rig for tests to change: an evenly filled bag of 1 m whose
// sensor near the top reads accelerations and rotation rates in counts.
func Rig(t testing.TB) *rig.Rig {
	t.Helper()
	r := &rig.Rig{
		Name: "garage", Revision: 1, Faces: 6,
		Bands: []rig.Band{{Name: "low", ToM: 0.35}, {Name: "mid", ToM: 0.65}, {Name: "high"}},
		Bag:   rig.Bag{MassKg: 35, LengthM: 1, DiameterM: 0.35},
		Hang:  rig.Hang{ChainM: 0.48, StrapM: 0.08},
		Sensor: rig.Sensor{
			DepthM: 0.06, RateHz: 1000, AccelRangeG: 16, GyroRangeDPS: 2000, AccelLSBPerG: 2048, GyroLSBPerDPS: 16.4,
			Axes: rig.Axes{X: "90", Y: "0", Z: "up"},
		},
	}
	if err := r.Validate(); err != nil {
		t.Fatal(err)
	}
	return r
}
