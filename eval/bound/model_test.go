package bound

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/floats"

	"strikerose/dataset/datasettest"
)

func windowOf(t *testing.T, s Setting) *window {
	t.Helper()
	s, err := s.Filled()
	if err != nil {
		t.Fatal(err)
	}
	return newWindow(s, s.Rig.Mechanics())
}

// motion integrates Lagrange's equations of the bag, written out here on their
// own, by the fourth-order Runge-Kutta method, and returns what the sensor
// reads at each sample from the onset on, over the noise.
func motion(w *window, depthM float64, force func(t float64) float64) (accel, gyro []float64) {
	m, s := w.mechanics, w.setting
	const g = 9.80665
	c, k2 := m.CentreM, m.GyrationM*m.GyrationM
	accelerations := func(t, y, q float64) (y2, q2 float64) {
		// y2 + c q2 = b1, c y2 + (c^2 + k^2) q2 = b2, per mass of the bag.
		f := force(t) / m.MassKg
		b1, b2 := f-g*y/m.ChainM, depthM*f-g*c*q
		return ((c*c+k2)*b1 - c*b2) / k2, (b2 - c*b1) / k2
	}
	slope := func(t float64, x [4]float64) [4]float64 {
		y2, q2 := accelerations(t, x[0], x[1])
		return [4]float64{x[2], x[3], y2, q2}
	}
	step := func(x [4]float64, by float64, d [4]float64) [4]float64 {
		for i := range x {
			x[i] += by * d[i]
		}
		return x
	}
	all, before := w.samples()
	const fine = 40
	h := 1 / (fine * s.RateHz)
	var x [4]float64
	for i := range (all - before - 1) * fine {
		t := float64(i) * h
		if i%fine == 0 {
			y2, q2 := accelerations(t, x[0], x[1])
			accel = append(accel, (y2+m.SensorM*q2+g*x[1])/s.AccelNoiseMPS2)
			gyro = append(gyro, x[3]/s.GyroNoiseRadps)
		}
		k1 := slope(t, x)
		k2 := slope(t+h/2, step(x, h/2, k1))
		k3 := slope(t+h/2, step(x, h/2, k2))
		k4 := slope(t+h, step(x, h, k3))
		for j := range x {
			x[j] += h / 6 * (k1[j] + 2*k2[j] + 2*k3[j] + k4[j])
		}
	}
	return accel, gyro
}

// The closed form is what integrating the equations of motion gives.
func TestModelMatchesEquationsOfMotion(t *testing.T) {
	s, err := Setting{Rig: datasettest.Rig(t), Gyro: true, AfterS: 0.6}.Filled()
	if err != nil {
		t.Fatal(err)
	}
	m := s.Rig.Mechanics()
	m.Motion.SwingDecayS, m.Motion.RockingDecayS = 1e9, 1e9 // the equations below have no damping
	w := newWindow(s, m)
	for _, height := range []float64{0.1, 0.35, 0.8} {
		depth := w.mechanics.DepthM(height)
		contact := w.setting.ContactS
		accel, gyro := motion(w, depth, func(t float64) float64 {
			if t >= contact {
				return 0
			}
			return math.Pi / (2 * contact) * math.Sin(math.Pi*t/contact)
		})
		column := w.plane.strike(depth)
		all, before := w.samples()
		for i := range accel {
			a, g := column[before+i], column[all+before+i]
			if math.Abs(a-accel[i]) > 2e-3*floats.Norm(accel, math.Inf(1)) || math.Abs(g-gyro[i]) > 2e-3*floats.Norm(gyro, math.Inf(1)) {
				t.Fatalf("height %g, sample %d: closed form %g and %g, integrated %g and %g", height, i, a, g, accel[i], gyro[i])
			}
		}
		if floats.Norm(column[:before+1], 2) != 0 {
			t.Errorf("height %g: the strike is read before its onset", height)
		}
	}
}

// Derivatives given in closed form are those of finite differences.
func TestDerivatives(t *testing.T) {
	const height = 0.3
	s := Setting{Rig: datasettest.Rig(t), Gyro: true, Known: Known{Swing: true, Bias: true}}
	w := windowOf(t, s)
	depth := w.mechanics.DepthM(height)
	byDepth, others := w.alongPush(height)
	j := w.setting.ImpulseNs
	strike := func(contactS, onsetS float64) []float64 {
		out := make([]float64, w.rows())
		for _, mode := range w.plane.shapes {
			o := newOscillator(mode)
			floats.AddScaled(out, j*mode.At(depth), w.fill(func(at float64) (float64, float64) {
				s, _ := o.pulsed(at-onsetS, contactS)
				return read(w.mechanics, mode, s.a, s.a1, s.a2)
			}))
		}
		return out
	}
	contact := w.setting.ContactS
	const h = 1e-6
	difference := func(up, down []float64, by float64) []float64 {
		out := make([]float64, len(up))
		floats.SubTo(out, up, down)
		floats.Scale(1/by, out)
		return out
	}
	lower, upper := w.plane.strike(depth-1e-3), w.plane.strike(depth+1e-3)
	for _, c := range []struct {
		name      string
		got, want []float64
	}{
		{"depth", byDepth, difference(upper, lower, 2e-3/j)},
		{"impulse", others[0], difference(strike(contact, 0), make([]float64, w.rows()), j)},
		{"contact", others[1], difference(strike(contact+h, 0), strike(contact-h, 0), 2*h)},
		{"onset", others[2], difference(strike(contact, h), strike(contact, -h), 2*h)},
	} {
		all, before := w.samples()
		for i := range c.got {
			if at := i%all - before; at == 0 || at == int(math.Round(contact*w.setting.RateHz)) {
				continue // a half sine has no slope where it begins and ends
			}
			if math.Abs(c.got[i]-c.want[i]) > 1e-5*floats.Norm(c.want, math.Inf(1)) {
				t.Errorf("%s: row %d of the derivative is %g, by differences %g", c.name, i, c.got[i], c.want[i])
				break
			}
		}
	}
}

// The derivatives by the rig's constants do not hang on their step.
func TestConstantsStep(t *testing.T) {
	prior := UsualRigPrior()
	w := windowOf(t, Setting{Rig: datasettest.Rig(t), Gyro: true, Prior: &prior})
	depth := w.mechanics.DepthM(0.3)
	for k, c := range prior.constants() {
		at := func(by float64) []float64 {
			m := w.mechanics
			c.move(&m, by*c.sd)
			return w.push(m).strike(depth)
		}
		const step = 10 * moveStep
		want := at(step)
		floats.Sub(want, at(-step))
		floats.Scale(w.setting.ImpulseNs/(2*step), want)
		_, others := w.alongPush(0.3)
		got := others[len(others)-w.priors+k]
		n := len(got) - w.priors
		if floats.Distance(got[:n], want[:n], 2) > 1e-4*floats.Norm(want[:n], 2) {
			t.Errorf("constant %d: a step ten times as long changes the derivative by more than 1e-4", k)
		}
		if got[n+k] != 1 || floats.Sum(got[n:]) != 1 {
			t.Errorf("constant %d: rows of the priors are %v", k, got[n:])
		}
	}
}

// Taken together in the bag's frame, both planes give at any bearing what they
// give apart.
func TestBearingDoesNotMatter(t *testing.T) {
	prior := UsualRigPrior()
	w := windowOf(t, Setting{Rig: datasettest.Rig(t), Gyro: true, Prior: &prior, Model: UsualModelNoise()})
	const height = 0.3
	want := w.along([]float64{height})[0]
	byDepth, along := w.alongPush(height)
	byBearing, _ := w.acrossPush(height)
	turned := func(column []float64, x, y float64) []float64 {
		n := len(column)
		out := make([]float64, 2*n)
		floats.AddScaled(out[:n], x, column)
		floats.AddScaled(out[n:], y, column)
		return out
	}
	for _, deg := range []float64{0, 17, 90, 200, 333} {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		var others [][]float64
		for _, c := range w.common { // in both channels, whatever the bearing
			others = append(others, turned(c, 1, 0), turned(c, 0, 1))
		}
		for _, c := range along[len(w.common):] {
			others = append(others, turned(c, -sin, -cos))
		}
		depth, bearing := turned(byDepth, -sin, -cos), turned(byBearing, -cos, sin)
		height := leastSD(depth, append(append([][]float64{}, others...), bearing))
		around := leastSD(bearing, append(append([][]float64{}, others...), depth)) * 180 / math.Pi
		if !(math.Abs(height-want.HeightSDM) <= 1e-7*height) || !(math.Abs(around-want.BearingSDDeg) <= 1e-7*around) {
			t.Errorf("bearing %g: %g deg and %g m, apart %g deg and %g m", deg, around, height, want.BearingSDDeg, want.HeightSDM)
		}
	}
}
