package intake

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

func TestNoise(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct{ sd, step float64 }{{0.05, 0}, {0.05, 0.01}, {0.05, 0.1}, {1, 1}, {2.5, 1}} {
		x := make([]float32, 50000)
		for i := range x {
			v := 3*math.Sin(float64(i)/60) + c.sd*rnd.NormFloat64()
			if i%1000 < 5 {
				v += 40 // strikes
			}
			if c.step > 0 {
				v = math.Round(v/c.step) * c.step
			}
			x[i] = float32(v)
		}
		want := math.Sqrt(c.sd*c.sd + c.step*c.step/12) // rounding adds its own noise
		if got := noise(x, mostDifferences); math.Abs(got/want-1) > 0.05 {
			t.Errorf("noise of sd %g in steps of %g = %g, want %g", c.sd, c.step, got, want)
		}
	}
	if noise(nil, mostDifferences) != 0 || noise(make([]float32, 100), mostDifferences) != 0 {
		t.Error("noise where there is none")
	}
}

// TestSlant leans a simulated sensor and reads gravity with it.
func TestSlant(t *testing.T) {
	rg := testRig(t, 1000)
	rg.Sensor.YawDeg = 30
	m := rg.SensorToBag()
	for _, lean := range []float64{0.5, 1.6, 8} {
		for toward := 0.0; toward < 360; toward += 45 {
			// The sensor's axes in the bag frame: those of the rig, turned about the
			// horizontal axis that takes up toward the bearing.
			b := bearing.Unit(toward)
			to := [3]float64{imag(b), real(b), 0} // unit vector toward the bearing
			sin, cos := math.Sincos(bearing.Rad(lean))
			var still [3]float64
			for k := range 3 {
				axis := [3]float64{m[0][k], m[1][k], m[2][k]}
				along := axis[0]*to[0] + axis[1]*to[1]
				// Turned by the lean, the part along "to" gives -sin of itself to up,
				// the part up keeps cos.
				still[k] = dataset.StandardGravity * (axis[2]*cos - along*sin)
			}
			deg, got := slant(still, rg)
			if math.Abs(deg-lean) > 1e-9 || math.Abs(bearing.Diff(got, toward)) > 1e-9 {
				t.Errorf("lean of %g degrees toward %g: slant %g toward %g", lean, toward, deg, got)
			}
		}
	}
}

func TestRest(t *testing.T) {
	rg := testRig(t, 1000)
	sig := testSignal(20000, 1000, 5000, 8)
	res := mustRead(t, encode("counts-csv", sig), rg, Options{})
	s := res.Session
	want := [3]float64{20, -35, 2048}
	for k := range 3 {
		if d := math.Abs(s.StillMPS2[k]/dataset.StandardGravity*2048 - want[k]); d > 1 {
			t.Errorf("still reading of axis %d is off by %.2f counts", k, d)
		}
		if n := s.NoiseMPS2[k] / dataset.StandardGravity * 2048; math.Abs(n-8) > 0.6 {
			t.Errorf("noise of axis %d is %.2f counts, want 8", k, n)
		}
		if n := bearing.Deg(s.NoiseRadps[k]) * 16.384; math.Abs(n-2) > 0.2 {
			t.Errorf("noise of gyroscope axis %d is %.2f counts, want 2", k, n)
		}
	}
	if s.StillS < 2.5 || s.StillS > 4 {
		t.Errorf("%g s at rest, want 3", s.StillS)
	}
	restless := sig.Slice(3100, 20000)
	res = mustRead(t, encode("counts-csv", &restless), rg, Options{})
	if len(res.Notes) == 0 || res.Session.StillS != 0 {
		t.Errorf("%g s at rest of a restless log, notes %q", res.Session.StillS, res.Notes)
	}
}

// A log of a sensor laid on each of its faces is refused as one of a bag, and
// read where it is said to be what it is.
func TestAnyPose(t *testing.T) {
	rg := testRig(t, 1000)
	sig := testSignal(18000, 1000, 18000, 8)
	rng := rand.New(rand.NewPCG(5, 6))
	for i := range sig.Len() {
		for k := range 3 {
			counts := 0.0
			if face := i / 3000; face/2 == k {
				counts = 2048 * float64(1-2*(face%2))
			}
			sig.A[k][i] = float32(math.Round(counts+8*rng.NormFloat64()) / 2048 * dataset.StandardGravity)
		}
	}
	log := encode("counts-csv", sig)
	if _, err := Read(t.Context(), bytes.NewReader(log), "poses", rg, Options{}, nil); err == nil {
		t.Error("six poses pass for a hanging bag")
	}
	res := mustRead(t, log, rg, Options{AnyPose: true})
	if len(res.Notes) > 0 {
		t.Errorf("notes %q, want none", res.Notes)
	}
	rg.Sensor.AccelLSBPerG = 4096
	if _, err := Read(t.Context(), bytes.NewReader(log), "poses", rg, Options{AnyPose: true}, nil); err == nil || !strings.Contains(err.Error(), "near 1 g in none") {
		t.Errorf("a wrong scale: error %v", err)
	}
}

func TestClipping(t *testing.T) {
	rg := testRig(t, 1000)
	sig := testSignal(5000, 1000, 5000, 8)
	full := float32(32767.0 / 2048 * dataset.StandardGravity)
	for i, k := range []int{1000, 1001, 2000} {
		sig.A[i%3][k] = full
	}
	sig.A[2][3000] = -32768.0 / 2048 * dataset.StandardGravity
	sig.A[1][4000] = 32000.0 / 2048 * dataset.StandardGravity // not clipped
	for _, d := range allDialects() {
		if got := mustRead(t, encode(d, sig), rg, Options{}).Session.ClippedSamples; got != 4 {
			t.Errorf("%s: %d clipped samples, want 4", d, got)
		}
	}
}

// Counts at the end of an int16 are readings, also where that end lies beyond
// the sensor's nominal range: strikes must not lose their peaks.
func TestFullCounts(t *testing.T) {
	rg := testRig(t, 1000)
	for _, lsbPerG := range []float64{2048, 1950, 1638, 1365} {
		rg.Sensor.AccelLSBPerG = lsbPerG
		var log bytes.Buffer
		log.WriteString("t_us,ax,ay,az\n")
		for i := range 6000 {
			ax := 0
			if i >= 3000 && i%500 < 5 {
				ax = -32768 + i%2*65535
			}
			fmt.Fprintf(&log, "%d,%d,%d,%.0f\n", 1000*i, ax, i%5-2, lsbPerG+float64(i%7-3))
		}
		s := mustRead(t, log.Bytes(), rg, Options{}).Session
		if s.Samples != 6000 || s.DamagedRecords != 0 || s.ClippedSamples != 30 {
			t.Errorf("%g counts a g: %d samples, %d damaged, %d clipped, want 6000, 0, 30", lsbPerG, s.Samples, s.DamagedRecords, s.ClippedSamples)
		}
	}
}

// A board that cuts trailing zeros writes a first reading without decimals, as
// "0" or "1"; that must not make the log's step a whole g.
func TestClippingCutZeros(t *testing.T) {
	var log bytes.Buffer
	for i := range 6000 {
		az := 1.0
		switch {
		case i > 3000 && i%500 == 0:
			az = 15.2 // hard, but not clipped
		case i > 3000 && i%500 == 1:
			az = 15.999
		case i > 0:
			az += float64(i%7-3) / 1000
		}
		fmt.Fprintf(&log, `{"t":%d,"ax_g":0,"ay_g":0,"az_g":%g}`+"\n", 1000*i, az)
	}
	if got := mustRead(t, log.Bytes(), testRig(t, 1000), Options{}).Session.ClippedSamples; got != 6 {
		t.Errorf("%d clipped samples, want 6", got)
	}
}

// A rate that makes the finder guess is named at import.
func TestSlowRateIsNoted(t *testing.T) {
	for rate, want := range map[float64]bool{250: true, 400: false, 1000: false} {
		res := mustRead(t, encode("counts-csv", testSignal(6000, rate, 0, 3)), testRig(t, rate), Options{})
		if got := strings.Contains(strings.Join(res.Notes, "\n"), "400 Hz or more"); got != want {
			t.Errorf("%g Hz: notes %q", rate, res.Notes)
		}
	}
}

// What a rig's calibration corrects is neither noted nor taken for a slant.
func TestRestCalibrated(t *testing.T) {
	rg := testRig(t, 1000)
	sig := testSignal(20000, 1000, 5000, 8)
	const scale, bias = 0.9, 0.6 // of the upward axis; m/s2 on the first
	for i := range sig.Len() {
		sig.A[2][i] *= scale
		sig.A[0][i] += bias
		sig.G[1][i] += 0.5
	}
	log := encode("counts-csv", sig)
	raw := mustRead(t, log, rg, Options{})
	if notes := strings.Join(raw.Notes, " "); !strings.Contains(notes, "its bias or scale") || !strings.Contains(notes, "gyroscope's y axis") {
		t.Errorf("not calibrated: notes %q", raw.Notes)
	}
	rg.Calibration = &rig.Calibration{
		AccelBiasMPS2: []float64{bias, 0, 0},
		AccelMatrix:   [][]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1 / scale}},
		GyroBiasRadps: []float64{0, 0.5, 0},
	}
	right := mustRead(t, log, rg, Options{})
	if len(right.Notes) != 0 {
		t.Errorf("calibrated: notes %q", right.Notes)
	}
	if raw.Session.SlantDeg < 3 || right.Session.SlantDeg > 1.5 {
		t.Errorf("slant %.2f degrees, calibrated %.2f", raw.Session.SlantDeg, right.Session.SlantDeg)
	}
	rg.Calibration.AccelMatrix[2][2] = 1 / scale / scale
	if notes := strings.Join(mustRead(t, log, rg, Options{}).Notes, " "); !strings.Contains(notes, "g with the rig's calibration: its bias or scale") {
		t.Errorf("wrongly calibrated: notes %q", notes)
	}
}
