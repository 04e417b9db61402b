package chain_test

import (
	"math"
	"math/cmplx"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/features/featurestest"
)

// Readings written out by hand for each way of mounting the sensor: the
// strike comes from the same bearing and the bag turns the same way.
func TestMounts(t *testing.T) {
	// Ten seconds apart: what the strike before left has died down.
	scene := featurestest.Scene{RateHz: 1000, NoiseMPS2: 0.03, Seed: 4, Blows: []featurestest.Blow{
		{AtS: 0.5, BearingDeg: 20, PeakMPS2: 60, TwistRadps: 2},
		{AtS: 10, BearingDeg: 110, PeakMPS2: 60, TwistRadps: -2},
		{AtS: 20, BearingDeg: 250, PeakMPS2: 60, TwistRadps: 2},
	}}
	for name, m := range map[string]struct {
		axes   rig.Axes
		yawDeg float64
		reads  func(bag [3]float64) [3]float64 // what the sensor's axes read
	}{
		"straight":  {rig.Axes{X: "90", Y: "0", Z: "up"}, 0, func(b [3]float64) [3]float64 { return b }},
		"x up":      {rig.Axes{X: "up", Y: "0", Z: "270"}, 0, func(b [3]float64) [3]float64 { return [3]float64{b[2], b[1], -b[0]} }},
		"z down":    {rig.Axes{X: "90", Y: "180", Z: "down"}, 0, func(b [3]float64) [3]float64 { return [3]float64{b[0], -b[1], -b[2]} }},
		"yaw 90":    {rig.Axes{X: "90", Y: "0", Z: "up"}, 90, func(b [3]float64) [3]float64 { return [3]float64{-b[1], b[0], b[2]} }},
		"both":      {rig.Axes{X: "90", Y: "180", Z: "down"}, 90, func(b [3]float64) [3]float64 { return [3]float64{-b[1], -b[0], -b[2]} }},
		"y up, -90": {rig.Axes{X: "270", Y: "up", Z: "0"}, -90, func(b [3]float64) [3]float64 { return [3]float64{-b[1], b[2], -b[0]} }},
	} {
		rg := featurestest.Rig(1000)
		rg.Sensor.Axes, rg.Sensor.YawDeg = m.axes, m.yawDeg
		a, g := scene.Samples(21)
		sig := &dataset.Signal{}
		for i := range a {
			x, w := m.reads(a[i]), m.reads(g[i])
			sig.TNs, sig.TRaw, sig.Segment = append(sig.TNs, int64(i)*1e6), append(sig.TRaw, int64(i)*1e3), append(sig.Segment, 0)
			for k := range 3 {
				sig.A[k], sig.G[k] = append(sig.A[k], float32(x[k])), append(sig.G[k], float32(w[k]))
			}
		}
		windows := run(t, rg, sig, usual)
		if len(windows) != len(scene.Blows) {
			t.Errorf("%s: %d windows", name, len(windows))
			continue
		}
		for i, w := range windows {
			row, b := features.Row(features.Extract(w, rg, nil)), scene.Blows[i]
			for _, f := range []string{"kick", "tip"} {
				if off := bearing.Diff(bearing.Of(-row.Vector(f)), b.BearingDeg); math.Abs(off) > 2 {
					t.Errorf("%s: %s of the strike at %g deg lies %.1f deg off", name, f, b.BearingDeg, off)
				}
			}
			if twist := row.Scalar("twist"); math.Abs(twist-b.TwistRadps) > 0.2 {
				t.Errorf("%s: twist %.2f rad/s, want %g", name, twist, b.TwistRadps)
			}
		}
	}
}

// However the sensor sits, the window is in the bag's frame.
func TestSensorPlaceDoesNotMatter(t *testing.T) {
	scene := busy(1000, 2)
	scene.ClipMPS2, scene.Blips = 0, nil // limits and faults belong to the sensor's own axes
	base := featurestest.Rig(1000)
	want := run(t, base, scene.Signal(base, 4), usual)
	for name, place := range map[string]func(*rig.Sensor){
		"yaw":         func(s *rig.Sensor) { s.YawDeg = 37 },
		"x up":        func(s *rig.Sensor) { s.Axes = rig.Axes{X: "up", Y: "0", Z: "270"} },
		"upside down": func(s *rig.Sensor) { s.Axes = rig.Axes{X: "90", Y: "180", Z: "down"}; s.YawDeg = -15 },
	} {
		rg := featurestest.Rig(1000)
		place(&rg.Sensor)
		got := run(t, rg, scene.Signal(rg, 4), usual)
		if len(got) != len(want) {
			t.Errorf("%s: %d windows, want %d", name, len(got), len(want))
			continue
		}
		for i, w := range want {
			if got[i].Strike.OnsetNs != w.Strike.OnsetNs {
				t.Errorf("%s: onset %d, want %d", name, got[i].Strike.OnsetNs, w.Strike.OnsetNs)
			}
			for k := range 3 {
				for j := range w.A[k] {
					if math.Abs(got[i].A[k][j]-w.A[k][j]) > 1e-4 || math.Abs(got[i].G[k][j]-w.G[k][j]) > 1e-5 {
						t.Fatalf("%s: window %d, sample %d, axis %d: %g, want %g", name, i, j, k, got[i].A[k][j], w.A[k][j])
					}
				}
			}
		}
	}
}

// A mount turned by an angle turns every window by it: level, despiking and
// mending prefer no direction.
func TestTurningTheMountTurnsWindows(t *testing.T) {
	rg := featurestest.Rig(1000)
	scene := busy(1000, 6)
	for i := range scene.Blows {
		scene.Blows[i].AtS += 4 // two swings of level first
	}
	sig := scene.Signal(rg, 8)
	straight := run(t, rg, sig, usual)
	rg.Sensor.YawDeg = 37
	turned := run(t, rg, sig, usual)
	if len(straight) != len(turned) || len(turned) < 5 {
		t.Fatalf("%d and %d windows", len(straight), len(turned))
	}
	by := bearing.Unit(37)
	for i, w := range turned {
		if w.Strike.OnsetNs != straight[i].Strike.OnsetNs {
			t.Errorf("onset %d, want %d", w.Strike.OnsetNs, straight[i].Strike.OnsetNs)
		}
		for j := range w.A[0] {
			a := complex(straight[i].A[1][j], straight[i].A[0][j]) * by
			g := complex(straight[i].G[1][j], straight[i].G[0][j]) * by
			if cmplx.Abs(a-complex(w.A[1][j], w.A[0][j])) > 1e-9 || cmplx.Abs(g-complex(w.G[1][j], w.G[0][j])) > 1e-9 {
				t.Fatalf("window %d, sample %d is not turned", i, j)
			}
		}
	}
}
