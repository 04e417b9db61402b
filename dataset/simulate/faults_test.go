package simulate_test

import (
	"math"
	"slices"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
	"strikerose/dataset/simulate"
)

// still is a session without strikes, in which only the sensor and the board
// are at work.
func still(r *rig.Rig, seconds float64, s simulate.Sensor, b simulate.Board) simulate.Options {
	return simulate.Options{Rig: r, Seed: 3, Exactly: []simulate.Strike{}, TailS: seconds, Sensor: s, Board: b}
}

// accels returns one axis of the accelerometer.
func accels(all []simulate.Sample, axis int) []float64 {
	out := make([]float64, len(all))
	for i, x := range all {
		out[i] = x.A[axis]
	}
	return out
}

func meanSD(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sd += (v - mean) * (v - mean) / float64(len(x))
	}
	return mean, math.Sqrt(sd)
}

func TestNoiseBiasScale(t *testing.T) {
	r := datasettest.Rig(t)
	all := samples(t, still(r, 20, simulate.Sensor{
		AccelNoiseMPS2: 0.05, GyroNoiseRadps: 0.002, AccelBiasMPS2: [3]float64{0.3, 0, 0.1}, AccelScale: [3]float64{0, 0, 0.02},
		GyroBiasRadps: [3]float64{0, 0, -0.01},
	}, simulate.Board{}))
	for axis, want := range []float64{0.3, 0, 1.02*dataset.StandardGravity + 0.1} {
		mean, sd := meanSD(accels(all, axis))
		if math.Abs(mean-want) > 5*0.05/math.Sqrt(float64(len(all))) || math.Abs(sd-0.05) > 0.002 {
			t.Errorf("axis %d: mean %g, sd %g, want %g, 0.05", axis, mean, sd, want)
		}
	}
	var g []float64
	for _, x := range all {
		g = append(g, x.G[2])
	}
	if mean, sd := meanSD(g); math.Abs(mean+0.01) > 1e-4 || math.Abs(sd-0.002) > 1e-4 {
		t.Errorf("gyroscope: mean %g, sd %g, want -0.01, 0.002", mean, sd)
	}
}

func TestGyroScale(t *testing.T) {
	o := exactly(datasettest.Rig(t), 0.2, simulate.Strike{TimeS: 0.01, BearingDeg: 50, HeightM: 0.8, PeakN: 900, ContactS: 0.015, ObliqueDeg: 20})
	plain := samples(t, o)
	o.Sensor.GyroScale = [3]float64{0.1, -0.2, 0.05}
	for i, x := range samples(t, o) {
		for k, share := range o.Sensor.GyroScale {
			if want := (1 + share) * plain[i].G[k]; !datasettest.Near(x.G[k], want, 1e-12) {
				t.Fatalf("sample %d, axis %d: %g rad/s, want %g", i, k, x.G[k], want)
			}
		}
	}
}

// Where the sensor's upper side leans toward a bearing, its axis that points
// there dips, and reads less than 0 at rest.
func TestMount(t *testing.T) {
	r := datasettest.Rig(t)
	r.Sensor.Axes = rig.Axes{X: "up", Y: "90", Z: "0"}
	r.Sensor.YawDeg = 10
	all := samples(t, still(r, 0.01, simulate.Sensor{SlantDeg: 3, SlantBearingDeg: 140, YawErrorDeg: -4}, simulate.Board{}))
	lean := bearing.Rad(3)
	toward := bearing.Unit(140 - 6) // as the mount, turned by 10 - 4 degrees, sees it
	want := [3]float64{math.Cos(lean), -math.Sin(lean) * imag(toward), -math.Sin(lean) * real(toward)}
	for k, v := range all[0].A {
		if math.Abs(v-want[k]*dataset.StandardGravity) > 1e-9 {
			t.Fatalf("reads %v at rest, want g times %v", all[0].A, want)
		}
	}
}

// What the rig's calibration corrects is in the readings.
func TestCalibration(t *testing.T) {
	r := datasettest.Rig(t)
	r.Calibration = &rig.Calibration{
		AccelBiasMPS2: []float64{0.2, -0.1, 0.3}, AccelMatrix: [][]float64{{1.01, 0.002, 0}, {0, 0.98, 0.003}, {0.001, 0, 1.02}},
		GyroBiasRadps: []float64{0.01, 0.02, 0.03},
	}
	x := samples(t, still(r, 0.01, simulate.Sensor{}, simulate.Board{}))[0]
	accel := r.AccelTurn()
	if got := accel.Bag(x.A); math.Hypot(math.Hypot(got[0], got[1]), got[2]-dataset.StandardGravity) > 1e-12 {
		t.Errorf("corrected, it reads %v at rest", got)
	}
	if x.G != [3]float64{0.01, 0.02, 0.03} {
		t.Errorf("turns at %v at rest, want the bias that the calibration takes off", x.G)
	}
}

func TestClipAndCounts(t *testing.T) {
	r := datasettest.Rig(t)
	o := exactly(r, 0.2, simulate.Strike{TimeS: 0.1, BearingDeg: 45, HeightM: 0.9, PeakN: 20000, ContactS: 0.015, ObliqueDeg: 30})
	free := slices.Min(accels(samples(t, o), 0))
	o.Sensor.Clip, o.Sensor.Counts = true, true
	all := samples(t, o)
	step := dataset.StandardGravity / 2048
	low := slices.Min(accels(all, 0))
	if free > -300 || math.Abs(low+16*dataset.StandardGravity) > 1e-9 {
		t.Errorf("least reading %g without limit, %g with, want -16 g", free, low)
	}
	if high := slices.Max(accels(all, 0)); high > 32767*step+1e-9 {
		t.Errorf("largest reading %g m/s2 is above full scale", high)
	}
	gyroStep := bearing.Rad(1) / 16.4
	for i, x := range all {
		for k := range 3 {
			a, g := x.A[k]/step, x.G[k]/gyroStep
			if math.Abs(a-math.Round(a)) > 1e-6 || math.Abs(g-math.Round(g)) > 1e-6 {
				t.Fatalf("sample %d: %g and %g counts are not whole", i, a, g)
			}
		}
	}
}

// The low-pass halves the power of noise-free ringing at its corner, lets a
// resting reading through, and falls by its order beyond. The bending rings at
// one frequency, so that it serves as the tone.
func TestLowPass(t *testing.T) {
	r := datasettest.Rig(t)
	tone := func(corner float64, order int) float64 {
		o := exactly(r, 1, simulate.Strike{TimeS: 0.1, HeightM: 0.95, PeakN: 100, ContactS: 0.003})
		o.Flex = simulate.Flex{Hz: 100, DecayS: 1e6}
		o.Sensor.LowPassHz, o.Sensor.LowPassOrder = corner, order
		all := samples(t, o)
		if z := all[50].A[2]; math.Abs(z-dataset.StandardGravity) > 1e-9 {
			t.Errorf("reads %g along up at rest", z)
		}
		var re, im float64
		for _, x := range all[200:1000] {
			sin, cos := math.Sincos(2 * math.Pi * 100 * x.TimeS)
			re, im = re+x.A[1]*cos, im+x.A[1]*sin
		}
		return math.Hypot(re, im)
	}
	plain := tone(0, 0)
	// Analogue responses at the tone, at the frequencies that the bilinear
	// transform takes for it and the corner.
	analogue := func(corner float64, order float64) float64 {
		x := math.Tan(math.Pi*0.1) / math.Tan(math.Pi*corner/1000)
		return 1 / math.Sqrt(1+math.Pow(x, 2*order))
	}
	for _, c := range []struct {
		corner float64
		order  int
	}{{100, 1}, {100, 2}, {50, 1}, {50, 2}, {300, 2}} {
		if got, want := tone(c.corner, c.order)/plain, analogue(c.corner, float64(c.order)); math.Abs(got-want) > 0.01 {
			t.Errorf("100 Hz through order %d at %g Hz: %g, want %g", c.order, c.corner, got, want)
		}
	}
}

func TestBlips(t *testing.T) {
	r := datasettest.Rig(t)
	all := samples(t, still(r, 60, simulate.Sensor{BlipsPerMin: 60}, simulate.Board{}))
	runs, length := 0, 0
	for _, x := range all {
		if math.Abs(x.A[0]) > 1e-9 {
			length++
			continue
		}
		if length > 3 {
			t.Errorf("a blip of %d samples", length)
		}
		if length > 0 {
			runs++
		}
		length = 0
	}
	if runs < 30 || runs > 95 {
		t.Errorf("%d blips in a minute, want about 60", runs)
	}
}

func TestRateAndClock(t *testing.T) {
	r := datasettest.Rig(t)
	all := samples(t, still(r, 100, simulate.Sensor{}, simulate.Board{StartMicros: 5000, RateError: 0.01, ClockError: -100e-6}))
	n := len(all) - 1
	if rate := float64(n) / all[n].TimeS; math.Abs(rate-1010) > 1e-6 {
		t.Errorf("true rate %g, want 1010", rate)
	}
	if want := 5000 + 1e6*all[n].TimeS*(1-100e-6); all[0].Micros != 5000 || math.Abs(float64(all[n].Micros)-want) > 1 {
		t.Errorf("stamps from %d to %d, want 5000 to %g", all[0].Micros, all[n].Micros, want)
	}
}

func TestJitter(t *testing.T) {
	r := datasettest.Rig(t)
	all := samples(t, still(r, 20, simulate.Sensor{}, simulate.Board{JitterS: 50e-6}))
	var off []float64
	for i, x := range all {
		off = append(off, x.TimeS-float64(i)/1000)
		if math.Abs(float64(x.Micros)-1e6*x.TimeS) > 1 {
			t.Fatalf("sample %d at %g s is stamped %d", i, x.TimeS, x.Micros)
		}
		if i > 0 && x.TimeS <= all[i-1].TimeS {
			t.Fatalf("sample %d comes before its neighbour", i)
		}
	}
	if _, sd := meanSD(off); math.Abs(sd-50e-6) > 2e-6 {
		t.Errorf("instants scatter by %g s, want 50e-6", sd)
	}
}

// Lost samples leave the times of the others alone, and a segment ends where
// more than a few are lost.
func TestLosses(t *testing.T) {
	r := datasettest.Rig(t)
	all := samples(t, still(r, 60, simulate.Sensor{}, simulate.Board{LossesPerMin: 30, LongestLoss: 10}))
	lost, runs := 0, 0
	for i := 1; i < len(all); i++ {
		missing := int(math.Round(1000*(all[i].TimeS-all[i-1].TimeS))) - 1
		if missing > 0 {
			lost, runs = lost+missing, runs+1
		}
		if broken := all[i].Segment != all[i-1].Segment; broken != (missing > simulate.MostBridged) || all[i].Restart {
			t.Errorf("%d samples lost before sample %d: new segment %v", missing, i, broken)
		}
	}
	if runs < 12 || runs > 50 || lost < runs || lost+len(all) != 60001 {
		t.Errorf("%d samples in %d runs are lost of 60001, %d are left", lost, runs, len(all))
	}
}

// Where no longest run is given, samples are lost one at a time.
func TestLossesOfOne(t *testing.T) {
	all := samples(t, still(datasettest.Rig(t), 60, simulate.Sensor{}, simulate.Board{LossesPerMin: 30}))
	for i := 1; i < len(all); i++ {
		if missing := int(math.Round(1000*(all[i].TimeS-all[i-1].TimeS))) - 1; missing > 1 {
			t.Errorf("%d samples in a row are lost before sample %d", missing, i)
		}
	}
	if len(all) > 60001-12 {
		t.Errorf("%d samples are left of 60001", len(all))
	}
}

// While the board is off nothing is logged; then its counter starts near 0. No
// strike in a pause is in the truth.
func TestBrownOuts(t *testing.T) {
	r := datasettest.Rig(t)
	o := simulate.Usual(r, 100, 2)
	thrown := len(session(t, o).Truth())
	o.Board = simulate.Board{StartMicros: 1 << 31, BrownOutsPerMin: 6}
	s := session(t, o)
	type pause struct{ from, to float64 }
	var pauses []pause
	var before simulate.Sample
	if err := s.Each(func(x simulate.Sample) error {
		if x.Restart {
			pauses = append(pauses, pause{before.TimeS, x.TimeS})
			if x.Micros > 500_000 || x.Segment != before.Segment+1 {
				t.Errorf("the counter starts at %d in segment %d after %d", x.Micros, x.Segment, before.Segment)
			}
		} else if before.Micros > 0 && x.Micros <= before.Micros {
			t.Fatalf("the counter goes from %d to %d", before.Micros, x.Micros)
		}
		before = x
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	for _, p := range pauses {
		if d := p.to - p.from; d < 0.3 || d > 1.502 {
			t.Errorf("a pause of %g s", d)
		}
		for _, x := range s.Truth() {
			if x.TimeS > p.from+0.001 && x.TimeS < p.to-0.001 {
				t.Errorf("a strike at %g s is in the truth, in the pause from %g to %g s", x.TimeS, p.from, p.to)
			}
		}
	}
	if left := len(s.Truth()); len(pauses) < 10 || left >= thrown || left < thrown/2 {
		t.Errorf("%d pauses leave %d strikes of %d", len(pauses), left, thrown)
	}
}

// A strike whose contact a pause cuts, at either end, is not in the truth.
func TestBrownOutsCutContacts(t *testing.T) {
	r := datasettest.Rig(t)
	o := still(r, 60, simulate.Sensor{}, simulate.Board{BrownOutsPerMin: 6})
	all := samples(t, o)
	again := slices.IndexFunc(all, func(x simulate.Sample) bool { return x.Restart })
	if again < 1 {
		t.Fatal("no pause")
	}
	from, until := all[again-1].TimeS, all[again].TimeS
	for _, c := range []struct {
		timeS float64
		want  int
	}{{from - 0.03, 1}, {from - 0.005, 0}, {from + 0.1, 0}, {until - 0.01, 0}, {until + 0.01, 1}} {
		o.Exactly = []simulate.Strike{{TimeS: c.timeS, HeightM: 0.5, PeakN: 500, ContactS: 0.015}}
		if got := len(session(t, o).Truth()); got != c.want {
			t.Errorf("a strike of 15 ms at %g s, pause from %g to %g s: %d in the truth, want %d", c.timeS, from, until, got, c.want)
		}
	}
}

// A shove moves the bag and is no strike.
func TestShoves(t *testing.T) {
	r := datasettest.Rig(t)
	o := simulate.Usual(r, 12, 6)
	o.Sensor, o.Board = simulate.Sensor{}, simulate.Board{}
	o.Striker.ShovesPerMin = 0
	without, truth := samples(t, o), session(t, o).Truth()
	o.Striker.ShovesPerMin = 60
	with := samples(t, o)
	first := slices.IndexFunc(with, func(x simulate.Sample) bool { return x.A != without[0].A })
	if first < 0 || with[first].TimeS >= truth[0].TimeS {
		t.Errorf("no shove in the first pause: the readings differ from sample %d on", first)
	}
	if got := session(t, o).Truth(); !slices.Equal(got, truth) {
		t.Error("shoves changed the truth")
	}
}

func TestNoGyro(t *testing.T) {
	r := datasettest.Rig(t)
	o := simulate.Usual(r, 2, 1)
	o.Sensor.NoGyro = true
	s := session(t, o)
	if sig := s.Signal(); s.HasGyro() || sig.HasGyro() || sig.Len() == 0 {
		t.Error("a sensor without gyroscope gave rotation rates")
	}
}
