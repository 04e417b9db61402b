package eval_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/eval"
)

// pushed makes a window in which a strike at a bearing pushes the bag for 20
// ms, lifts it a little and leaves it rocking.
func pushed(bearingDeg, size, rateHz float64, gyro bool) *dataset.Window {
	w := &dataset.Window{RateHz: rateHz, Pre: int(0.05 * rateHz), Strike: dataset.Strike{OnsetNs: 2.5e9}}
	n := w.Pre + int(0.15*rateHz)
	for k := range 3 {
		w.A[k] = make([]float64, n)
		if gyro {
			w.G[k] = make([]float64, n)
		}
	}
	away := -bearing.Unit(bearingDeg) // y + i x
	for i := w.Pre; i < n; i++ {
		t := float64(i-w.Pre) / rateHz
		a := 0.1 * size
		if t < 0.02 {
			a = size * math.Sin(math.Pi*(t+0.5/rateHz)/0.02)
			w.A[2][i] = 0.2 * a
		}
		w.A[0][i], w.A[1][i] = a*imag(away), a*real(away)
		if gyro {
			w.G[0][i] = 0.01 * size * math.Min(1, t/0.02)
		}
	}
	return w
}

func TestPlanFinds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deg := rapid.Float64Range(0, 360).Draw(t, "bearing")
		size := rapid.Float64Range(5, 500).Draw(t, "size")
		rateHz := rapid.SampledFrom([]float64{400, 800, 1000, 1600}).Draw(t, "rate")
		gyro := rapid.Bool().Draw(t, "gyro")
		r := &rig.Rig{}
		if gyro {
			r.Sensor.GyroRangeDPS = 2000
		}
		w, stronger := pushed(deg, size, rateHz, gyro), pushed(deg+70, 3*size, rateHz, gyro)
		finds := eval.PlanFinds([]*dataset.Window{w, stronger}, r)
		if d := bearing.Diff(finds[0].PushBearingDeg, deg); math.Abs(d) > 1e-6 {
			t.Fatalf("push comes from %g, want %g", finds[0].PushBearingDeg, deg)
		}
		if finds[0].TimeS != 2.5 {
			t.Fatalf("time %g s, want 2.5", finds[0].TimeS)
		}
		want := 3
		if gyro {
			want = 4
		}
		if len(finds[0].Height) != want {
			t.Fatalf("%d height features, want %d", len(finds[0].Height), want)
		}
		// Turning and strength change the size of the kick alone; the rest are ratios.
		for k, x := range finds[0].Height {
			grows := 0.0
			if k == 0 {
				grows = math.Log(3)
			}
			if d := finds[1].Height[k] - x - grows; !(math.Abs(d) < 1e-9) {
				t.Fatalf("height feature %d goes from %g to %g when turned and tripled", k, x, finds[1].Height[k])
			}
		}
	})
}

func TestPlanFindsWithPoorWindows(t *testing.T) {
	short := pushed(90, 50, 1000, false)
	for k := range 3 { // nothing before the onset, and 10 ms after it
		short.A[k] = short.A[k][short.Pre : short.Pre+10]
	}
	short.Pre = 0
	still := pushed(90, 0, 1000, false)
	gyro := &rig.Rig{Sensor: rig.Sensor{GyroRangeDPS: 2000}}
	finds := eval.PlanFinds([]*dataset.Window{short, still}, gyro) // a rig with a gyroscope, windows without
	if d := bearing.Diff(finds[0].PushBearingDeg, 90); math.Abs(d) > 1e-6 {
		t.Errorf("a short window's push comes from %g, want 90", finds[0].PushBearingDeg)
	}
	if !math.IsNaN(finds[0].Height[2]) || !math.IsNaN(finds[0].Height[3]) {
		t.Errorf("height features %v, want no later push and no rotation", finds[0].Height)
	}
	if !math.IsNaN(finds[1].PushBearingDeg) || len(finds[1].Height) != 4 {
		t.Errorf("no push at all gives %+v", finds[1])
	}
}
