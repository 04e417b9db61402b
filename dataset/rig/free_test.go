package rig_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/rig"
)

// undamped takes the loss out of a rig's motion.
func undamped(m *rig.Mechanics) {
	m.Motion.SwingDecayS, m.Motion.RockingDecayS, m.Motion.TwistDecayS = 1e15, 1e15, 1e15
}

func TestFreeBeginsAtItsState(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawRig(t).Mechanics()
		from := rig.Plane{
			PivotM: rapid.Float64Range(-0.1, 0.1).Draw(t, "y"), AngleRad: rapid.Float64Range(-0.1, 0.1).Draw(t, "q"),
			PivotMPS: rapid.Float64Range(-1, 1).Draw(t, "y rate"), TurnRadps: rapid.Float64Range(-1, 1).Draw(t, "q rate"),
		}
		f := m.Free(from)
		scale := math.Max(m.ChainM+m.CentreM+m.GyrationM, 1/m.GyrationM) * (1 + m.CentreM/m.GyrationM)
		if got := f.At(0); !planesNear(got, from, 1e-9*scale) {
			t.Fatalf("a motion from %+v begins at %+v", from, got)
		}
		// Going on from a later state is the same motion.
		later := f.At(0.7)
		if got, want := m.Free(later).At(0.4), f.At(1.1); !planesNear(got, want, 1e-8*scale) {
			t.Fatalf("restarted after 0.7 s: %+v, want %+v", got, want)
		}
	})
}

func planesNear(a, b rig.Plane, tol float64) bool {
	for _, d := range []float64{a.PivotM - b.PivotM, a.AngleRad - b.AngleRad, a.PivotMPS - b.PivotMPS, a.TurnRadps - b.TurnRadps} {
		if !(math.Abs(d) <= tol) {
			return false
		}
	}
	return true
}

// Rates are the derivatives of places, and the reading is built on those of
// rates.
func TestFreeReading(t *testing.T) {
	m := parse(t, garage).Mechanics()
	f := m.Free(rig.Plane{PivotM: 0.03, AngleRad: -0.05, PivotMPS: 0.4, TurnRadps: 0.7})
	const dt = 1e-4
	for _, at := range []float64{0, 0.1, 0.9, 5} {
		before, now, after := f.At(at-dt), f.At(at), f.At(at+dt)
		slope := func(a, b float64) float64 { return (b - a) / (2 * dt) }
		if got, want := now.PivotMPS, slope(before.PivotM, after.PivotM); math.Abs(got-want) > 1e-5 {
			t.Errorf("at %g s the pivot moves with %g m/s, want %g", at, got, want)
		}
		for _, depth := range []float64{0, 0.14, 1.08} {
			force, turn := f.Reading(at, depth)
			want := slope(before.PivotMPS, after.PivotMPS) + depth*slope(before.TurnRadps, after.TurnRadps) + rig.StandardGravityMPS2*now.AngleRad
			if math.Abs(force-want) > 1e-4 || turn != now.TurnRadps {
				t.Errorf("at %g s a sensor at %g m reads %g m/s2 and %g rad/s, want %g and %g", at, depth, force, turn, want, now.TurnRadps)
			}
		}
	}
}

// In either mode the bag turns about a fixed point of its axis, and a sensor
// as far below it as a string pendulum of the mode's frequency is long reads
// nothing across: it moves as if it fell freely.
func TestNoReadingAtCentreOfOscillation(t *testing.T) {
	m := parse(t, garage).Mechanics()
	undamped(&m)
	swing, rocking := m.Modes()
	for _, mode := range []rig.Mode{swing, rocking} {
		f := m.Free(rig.Plane{PivotM: 0.01 * mode.PivotShape, AngleRad: 0.01 * mode.AngleShape})
		w := mode.Omega()
		depth := rig.StandardGravityMPS2/(w*w) - mode.PivotShape/mode.AngleShape
		for _, at := range []float64{0, 0.3, 2} {
			if force, _ := f.Reading(at, depth); math.Abs(force) > 1e-12 {
				t.Errorf("%s: after %g s a sensor at %g m reads %g", mode.Name, at, depth, force)
			}
		}
		if force, _ := f.Reading(0, depth+0.1); math.Abs(force) < 1e-4 {
			t.Errorf("%s: a sensor beside the centre of oscillation reads %g as well", mode.Name, force)
		}
	}
}

// Amplitudes are what the motion reaches while damping is slow, and the modes
// carry the energy of the blow.
func TestAmplitudes(t *testing.T) {
	m := parse(t, garage).Mechanics()
	undamped(&m)
	const impulse, depth = 20.0, 0.4
	f := m.Free(m.Struck(impulse, depth))
	swing, rocking := f.Amplitudes()
	s, r := m.Modes()
	energy := 0.0
	for _, a := range []struct {
		got  rig.Amplitude
		mode rig.Mode
	}{{swing, s}, {rocking, r}} {
		near(t, "chain over bag", a.got.ChainRad/a.got.BagRad, math.Abs(a.mode.PivotShape/a.mode.AngleShape)/m.ChainM)
		size := a.got.BagRad / math.Abs(a.mode.AngleShape)
		near(t, "bottom", a.got.BottomM, size*math.Abs(a.mode.PivotShape+a.mode.AngleShape*1.08))
		energy += size * size * a.mode.Omega() * a.mode.Omega() / 2
	}
	near(t, "energy of both", energy, impulse*impulse/2*m.Accelerance(depth, depth))
	// The two are at their utmost together at some time within a minute.
	most := 0.0
	for i := range 60000 {
		most = math.Max(most, math.Abs(f.At(float64(i)/1000).AngleRad))
	}
	if sum := swing.BagRad + rocking.BagRad; most > sum || most < 0.99*sum {
		t.Errorf("the bag leans by %g rad at most, want close to %g", most, sum)
	}
}

// Each mode falls to 1/e in its decay.
func TestFreeDecays(t *testing.T) {
	m := parse(t, garage).Mechanics()
	m.Motion.SwingDecayS, m.Motion.RockingDecayS = 20, 3
	_, rocking := m.Modes()
	f := m.Free(rig.Plane{PivotM: rocking.PivotShape, AngleRad: rocking.AngleShape})
	turns := 9 / rocking.Hz
	near(t, "rocking after nine turns", f.At(turns).AngleRad, rocking.AngleShape*math.Exp(-turns/3))
}
