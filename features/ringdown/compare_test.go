package ringdown_test

import (
	"math"
	"strings"
	"testing"

	"strikerose/dataset/rig"
	"strikerose/features/ringdown"
)

// found is what a rig itself would be found to do, to a part in a thousand.
func found(m rig.Mechanics) ringdown.Found {
	about := func(v float64) ringdown.Value {
		return ringdown.Value{Value: v, Low: v - 0.001*math.Abs(v), High: v + 0.001*math.Abs(v)}
	}
	swing, rocking := m.Modes()
	lever := about(m.SensorM - m.CentreM - m.GyrationM*m.GyrationM/m.CentreM)
	decay := about(1.87654)
	return ringdown.Found{Strikes: 50, Swing: ringdown.Mode{Hz: about(swing.Hz)},
		Rocking: ringdown.Mode{Hz: about(rocking.Hz), DecayS: &decay}, LeverM: &lever}
}

// A rig file with one wrong value is noticed, and the value named.
func TestCompareAdvises(t *testing.T) {
	for _, c := range []struct {
		name  string
		wrong func(r *rig.Rig) // in the file; the bag stays
		want  string
	}{
		{"nothing", func(r *rig.Rig) {}, ""},
		{"the chain, hardly", func(r *rig.Rig) { r.Hang.ChainM += 0.01 }, ""},
		{"the chain", func(r *rig.Rig) { r.Hang.ChainM = 0.7 }, "a chain of 0.48 m, with all else right, and not of 0.70 m"},
		{"the sensor", func(r *rig.Rig) { r.Sensor.DepthM = 0.2 }, "at a depth of 0.060 m below the bag's top edge and not at 0.200 m"},
		{"the gyration", func(r *rig.Rig) { k := 0.22; r.Bag.RadiusOfGyrationM = &k }, "radius_of_gyration_m"},
	} {
		bag := bench(t, true)
		f := found(bag.Mechanics())
		file := *bag
		c.wrong(&file)
		file.Motion = &rig.Motion{SwingHz: 0.1, RockingHz: 9} // measured once, and of no concern
		all, advice := ringdown.Compare(f, file.Mechanics())
		if got := strings.Join(advice, "; "); !strings.Contains(got, c.want) || (c.want == "") != (got == "") {
			t.Errorf("%s: advice %q, want %q", c.name, got, c.want)
		}
		beyond := false
		for _, line := range all {
			beyond = beyond || line.Beyond
		}
		if beyond != (c.want != "") {
			t.Errorf("%s: %+v", c.name, all)
		}
	}
}

// Rocking as much too slow as amplitude makes it is no reason to warn.
func TestCompareAllowsForAmplitude(t *testing.T) {
	r := bench(t, true)
	f := found(r.Mechanics())
	f.Rocking.Hz.Value, f.Rocking.Hz.Low, f.Rocking.Hz.High = 0.97*f.Rocking.Hz.Value, 0.97*f.Rocking.Hz.Low, 0.97*f.Rocking.Hz.High
	if _, advice := ringdown.Compare(f, r.Mechanics()); len(advice) > 0 {
		t.Errorf("advice %q", advice)
	}
}

func TestMotion(t *testing.T) {
	r := bench(t, true)
	m := found(r.Mechanics()).Motion(rig.Motion{TwistHz: 1.3, RockingDecayS: 9})
	if m.RockingDecayS != 1.88 || m.TwistHz != 1.3 || m.SwingDecayS != 0 {
		t.Errorf("motion %+v", m)
	}
	swing, _ := r.Mechanics().Modes()
	if math.Abs(m.SwingHz/swing.Hz-1) > 1e-3 || m.SwingHz != math.Round(m.SwingHz*1e4)/1e4 {
		t.Errorf("swing %v, want %v rounded", m.SwingHz, swing.Hz)
	}
	r.Motion = &m
	if err := r.Validate(); err != nil {
		t.Error(err)
	}
}
