package bound

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

// Whitened columns have the products that the inverse of the noise's covariance
// gives, which is written out here on its own.
func TestWhitenedByCovariance(t *testing.T) {
	r := datasettest.Rig(t)
	model := ModelNoise{AccelContact: 5, AccelEarly: 0.9, AccelLate: 2, Gyro: 0.03, AccelHoldS: 0.006, GyroHoldS: 0.02}
	w := windowOf(t, Setting{Rig: r, Gyro: true, RateHz: 500, BeforeS: 0.01, AfterS: 0.15, ImpulseNs: 20, ContactS: 0.015, AccelNoiseMPS2: 0.05, GyroNoiseRadps: 0.004, Model: model})
	n, before := w.samples()
	covariance := mat.NewSymDense(2*n, nil)
	for i := range n {
		covariance.SetSym(i, i, 0.05*0.05)
		covariance.SetSym(n+i, n+i, 0.004*0.004)
	}
	kick := 20 / r.Bag.MassKg
	share := func(i int) float64 {
		switch ms := 2 * (i - before); {
		case ms < 0:
			return 0
		case ms <= 15:
			return 5
		case ms <= 80:
			return 0.9
		}
		return 2
	}
	for i := before; i < n; i++ {
		for k := i; k < n; k++ {
			apartS := float64(k-i) / 500
			covariance.SetSym(i, k, covariance.At(i, k)+kick*kick*share(i)*share(k)*math.Exp(-apartS/0.006))
			covariance.SetSym(n+i, n+k, covariance.At(n+i, n+k)+kick*kick*0.03*0.03*math.Exp(-apartS/0.02))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(covariance) {
		t.Fatal("the covariance is none")
	}
	a := func(t float64) (float64, float64) { return math.Cos(40 * t), math.Sin(7*t) + 0.3 }
	b := func(t float64) (float64, float64) { return 1 + t, math.Exp(-20 * t) }
	plain := func(of func(float64) (float64, float64)) *mat.VecDense {
		out := mat.NewVecDense(2*n, nil)
		for i := range n {
			accel, gyro := of(float64(i-before) / 500)
			out.SetVec(i, accel)
			out.SetVec(n+i, gyro)
		}
		return out
	}
	for _, c := range [][2]func(float64) (float64, float64){{a, a}, {a, b}, {b, b}} {
		var solved mat.VecDense
		if err := chol.SolveVecTo(&solved, plain(c[1])); err != nil {
			t.Fatal(err)
		}
		want := mat.Dot(plain(c[0]), &solved)
		if got := floats.Dot(w.fill(c[0]), w.fill(c[1])); !datasettest.Near(got/want, 1, 1e-9) {
			t.Errorf("whitened columns have the product %.12g, by the covariance %.12g", got, want)
		}
	}
}

// White noise of one density grows with the root of the rate, and a gyroscope
// that was calibrated has its own.
func TestNoiseOfTheRig(t *testing.T) {
	r := datasettest.Rig(t)
	r.Sensor.RateHz, r.Sensor.AccelNoiseMPS2 = 400, 0.03
	r.Calibration = &rig.Calibration{GyroNoiseRadps: 0.007}
	s, err := Setting{Rig: r, RateHz: 1600}.Filled()
	if err != nil {
		t.Fatal(err)
	}
	if !datasettest.Near(s.AccelNoiseMPS2, 0.06, 1e-12) || !datasettest.Near(s.GyroNoiseRadps, 0.014, 1e-12) {
		t.Errorf("noise %g m/s2 and %g rad/s at four times the rate, want twice 0.03 and 0.007", s.AccelNoiseMPS2, s.GyroNoiseRadps)
	}
}

// Every constant of the prior moves what it is named for, by what it is told.
func TestConstantsMove(t *testing.T) {
	m := datasettest.Rig(t).Mechanics()
	swing, rocking := m.Modes()
	prior := RigPrior{CentreM: 1, GyrationM: 2, ChainM: 3, SensorM: 4, DecayShare: 5}
	want := []rig.Mechanics{m, m, m, m, m, m}
	want[0].CentreM += 0.01
	want[1].GyrationM += 0.01
	want[2].ChainM += 0.01
	want[3].SensorM += 0.01
	want[4].Motion.SwingDecayS = 1.01 * swing.DecayS
	want[5].Motion.RockingDecayS = 1.01 * rocking.DecayS
	for k, c := range prior.constants() {
		got := m
		c.move(&got, 0.01)
		if got != want[k] {
			t.Errorf("constant %d: %+v, want %+v", k, got, want[k])
		}
		if sd := []float64{1, 2, 3, 4, 5, 5}[k]; c.sd != sd {
			t.Errorf("constant %d: sd %g, want %g", k, c.sd, sd)
		}
	}
}

// The closed form dies away as the rig's own free motion does.
func TestDecayIsTheRigs(t *testing.T) {
	m := datasettest.Rig(t).Mechanics()
	m.Motion.SwingDecayS, m.Motion.RockingDecayS = 2, 0.4
	const short, depth, at = 1e-5, 0.7, 1.3
	free := m.Free(m.Struck(1, depth))
	var accel, turn float64
	swing, rocking := m.Modes()
	for _, mode := range []rig.Mode{swing, rocking} {
		s, _ := newOscillator(mode).pulsed(at+short/2, short)
		a, g := read(m, mode, s.a, s.a1, s.a2)
		accel, turn = accel+mode.At(depth)*a, turn+mode.At(depth)*g
	}
	wantAccel, wantTurn := free.Reading(at, m.SensorM)
	if !datasettest.Near(accel/wantAccel, 1, 1e-6) || !datasettest.Near(turn/wantTurn, 1, 1e-6) {
		t.Errorf("after %g s a kick reads %g and %g, the rig's free motion %g and %g", at, accel, turn, wantAccel, wantTurn)
	}
}
