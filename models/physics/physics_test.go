package physics

import (
	"math"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

// still is a window of so many samples at rest under the standard gravity.
func still(rateHz float64, pre, post int, gyro bool) *dataset.Window {
	w := &dataset.Window{RateHz: rateHz, Pre: pre}
	for k := range 3 {
		w.A[k] = make([]float64, pre+post)
		if gyro {
			w.G[k] = make([]float64, pre+post)
		}
	}
	for i := range w.A[2] {
		w.A[2][i] = rig.StandardGravityMPS2
	}
	return w
}

func readingsAt(b *Bag, rateHz float64, pre, n int) []reading {
	one := make([]float64, n)
	for i := range one {
		one[i] = 1
	}
	out := make([]reading, n)
	b.readings(rateHz, pre, one, one, 0, n, out)
	return out
}

// Under constant gravity a mode is a fading cosine in closed form.
func TestFreeMotion(t *testing.T) {
	b := NewBag(datasettest.Rig(t))
	const rateHz, pre, n = 500, 100, 250
	r := readingsAt(b, rateHz, pre, n)
	for k, mode := range b.modes {
		w, fade := mode.Omega(), 1/mode.DecayS
		fast := math.Sqrt(w*w - fade*fade)
		for i, x := range r {
			at := float64(i-pre) / rateHz
			sin, cos := math.Sincos(fast * at)
			// e(0) = 1, e'(0) = 0; the speed of that solution.
			speed := -math.Exp(-fade*at) * (fast + fade*fade/fast) * sin
			if got, want := x.rate[2*k+swingStart], mode.AngleShape*speed; math.Abs(got-want) > 1e-6 {
				t.Fatalf("%s at %g s: q' %g, want %g", mode.Name, at, got, want)
			}
			position := math.Exp(-fade*at) * (cos + fade/fast*sin)
			acceleration := -2*fade*speed - w*w*position
			f := mode.At(b.mechanics.SensorM)*acceleration + rig.StandardGravityMPS2*mode.AngleShape*position
			if got := x.f[2*k+swingStart]; math.Abs(got-f) > 1e-5 {
				t.Fatalf("%s at %g s: f %g, want %g", mode.Name, at, got, f)
			}
		}
	}
}

// Right after the contact the integral of f is the free body's kick, whatever
// the rate, and gravity has only begun to pull.
func TestKick(t *testing.T) {
	r := datasettest.Rig(t)
	m := r.Mechanics()
	b := NewBag(r)
	for _, rateHz := range []float64{200, 400, 1000, 6400} {
		pre, n := int(0.05*rateHz), int(0.1*rateHz)
		x := readingsAt(b, rateHz, pre, n)[pre+int(0.025*rateHz)]
		for _, height := range []float64{0.1, 0.5, 0.9} {
			depth := m.DepthM(height)
			got := (x.integral[push] + depth*x.integral[lever]) / m.MassKg
			want := m.Accelerance(depth, m.SensorM)
			if math.Abs(got-want) > 0.05*(math.Abs(want)+1/m.MassKg) {
				t.Errorf("%g Hz, %g m: kick %g m/s per N s, want %g", rateHz, height, got, want)
			}
			pivot, turn := m.Kick(depth)
			if rate := (x.rate[push] + depth*x.rate[lever]) / m.MassKg; math.Abs(rate-turn) > 0.06*(math.Abs(turn)+math.Abs(pivot)) {
				t.Errorf("%g Hz, %g m: q' %g rad/s per N s, want %g", rateHz, height, rate, turn)
			}
		}
	}
}

// What was measured of the motion is used.
func TestMeasuredMotion(t *testing.T) {
	r := datasettest.Rig(t)
	r.Motion = &rig.Motion{RockingHz: 1.9, RockingDecayS: 1.4, TwistHz: 0.8}
	b := NewBag(r)
	if b.modes[1].Hz != 1.9 || b.modes[1].DecayS != 1.4 || b.twist.Hz != 0.8 {
		t.Errorf("modes %+v, twist %+v", b.modes, b.twist)
	}
}

// Every window gets a sound answer, and one that tells nothing says so.
func TestPoorWindows(t *testing.T) {
	b := NewBag(datasettest.Rig(t))
	for _, gyro := range []bool{true, false} {
		for name, spoil := range map[string]func(*dataset.Window){
			"not a number": func(w *dataset.Window) { w.A[0][w.Pre+3] = math.NaN() },
			"endless":      func(w *dataset.Window) { w.A[1][w.Pre+40] = math.Inf(1) },
			"no gravity":   func(w *dataset.Window) { w.A[2] = make([]float64, len(w.A[2])) },
			"at rest":      func(*dataset.Window) {},
			"cut in contact": func(w *dataset.Window) {
				for k := range 3 {
					w.A[k] = w.A[k][:w.Pre+10]
					if gyro {
						w.G[k] = w.G[k][:w.Pre+10]
					}
				}
			},
			"no past": func(w *dataset.Window) {
				for k := range 3 {
					w.A[k] = w.A[k][w.Pre:]
					if gyro {
						w.G[k] = w.G[k][w.Pre:]
					}
				}
				w.Pre = 0
			},
			"largest": func(w *dataset.Window) {
				for i := range w.A[0] {
					w.A[0][i] = 9e5 * float64(1-2*(i%2))
				}
			},
		} {
			w := still(1000, 200, 250, gyro)
			spoil(w)
			p := b.Place(w)
			if !(p.HeightM >= 0 && p.HeightM <= 1) || !(p.BearingSDDeg > 0) || !(p.HeightSDM > 0) || math.Abs(abs(p.Toward)-1) > 1e-9 || !(p.FlipShare >= 0 && p.FlipShare <= 1) {
				t.Errorf("%s: %+v", name, p)
			}
			if p.Whole && name != "largest" {
				t.Errorf("%s (gyroscope: %t): not taken for a guess: %+v", name, gyro, p)
			}
		}
	}
}

// Readings repeated where a segment begins or ends are not taken for readings.
func TestRecorded(t *testing.T) {
	w := still(1000, 50, 100, true)
	for i := range w.A[0] {
		w.A[0][i] = float64(min(max(i, 20), 120))
	}
	if from, to := recorded(w, 0, 150); from != 20 || to != 121 {
		t.Errorf("read from %d to %d, want 20 to 121", from, to)
	}
}
