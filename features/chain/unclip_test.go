package chain

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset"
	"strikerose/features/featurestest"
)

// pulse is half a sine of n readings between flat ends.
func pulse(n int, peak float64) []float64 {
	v := make([]float64, n+20)
	for i := range n {
		v[10+i] = peak * math.Sin(math.Pi*(float64(i)+0.5)/float64(n))
	}
	return v
}

func clip(v []float64, limit float64) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		out[i] = math.Max(-limit, math.Min(limit, x))
	}
	return out
}

// Half a sine is put back to within a few hundredths of the limit.
func TestRefill(t *testing.T) {
	const limit = 100
	for _, c := range []struct {
		name    string
		n       int
		peak    float64
		largest float64 // error of a refilled reading
	}{
		{"just clipped", 20, 104, 1.5},
		{"a third over", 20, 133, 4},
		{"the other way", 20, -133, 4},
		{"twice the limit", 20, 200, 25},
		{"few readings", 8, 140, 12},
	} {
		want := pulse(c.n, c.peak)
		got := clip(want, limit)
		add := refill(got, limit*(1-limitSlack))
		if add == nil {
			t.Errorf("%s: nothing was refilled", c.name)
			continue
		}
		for i := range got {
			if math.Abs(got[i]) < limit && add[i] != 0 {
				t.Errorf("%s: reading %d was changed, though not at the limit", c.name, i)
			}
			if d := got[i] + add[i] - want[i]; math.Abs(d) > c.largest {
				t.Errorf("%s: reading %d is %.1f, want %.1f", c.name, i, got[i]+add[i], want[i])
			}
		}
	}
}

func TestRefillLeavesAlone(t *testing.T) {
	const limit = 100
	for name, v := range map[string][]float64{
		"nothing clipped":                   pulse(20, 99),
		"clipped from the first reading on": append([]float64{100, 100, 100}, pulse(20, 50)...),
		"clipped up to the last":            append(pulse(20, 50), 100, 100, 100),
		"one reading before":                append([]float64{3, 100, 100}, pulse(20, 50)...),
		"nothing":                           nil,
	} {
		for i, d := range refill(v, limit) {
			if d != 0 {
				t.Errorf("%s: reading %d was changed by %g", name, i, d)
			}
		}
	}
	if refill([]float64{1, 2, 300, 2, 1}, 0) != nil {
		t.Error("a sensor of unknown range was refilled")
	}
}

// Whatever the readings, a refilled one keeps its sign, is no smaller than it
// was read and no larger than what the limit allows.
func TestRefillIsBounded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const limit = 100
		v := clip(rapid.SliceOfN(rapid.Float64Range(-300, 300), 0, 60).Draw(t, "readings"), limit)
		for i, d := range refill(v, limit) {
			x := v[i] + d
			if d != 0 && (x*v[i] < 0 || math.Abs(x) < limit || math.Abs(x) > mostRefill*limit+1e-9) {
				t.Fatalf("reading %d: %g became %g", i, v[i], x)
			}
		}
	})
}

// Of the velocity change that a limit cuts off a strike, unclip puts most back.
func TestUnclipRestoresTheKick(t *testing.T) {
	kick := func(limit float64) [2]float64 {
		rg := featurestest.Rig(1000)
		s := featurestest.Scene{RateHz: 1000, NoiseMPS2: 0.045, ClipMPS2: limit, Blows: []featurestest.Blow{{AtS: 1, BearingDeg: 120, PeakMPS2: 230}}}
		if limit > 0 {
			rg.Sensor.AccelRangeG = limit / dataset.StandardGravity
		} else {
			rg.Sensor.AccelRangeG = 100
		}
		windows, err := Run(t.Context(), rg, s.Signal(rg, 2), Options{PreMs: 50, PostMs: 65})
		if err != nil || len(windows) != 1 {
			t.Fatalf("%d windows, %v", len(windows), err)
		}
		w := windows[0]
		if clipped := limit > 0; w.Strike.Clipped != clipped {
			t.Fatalf("limit %g: clipped %v", limit, w.Strike.Clipped)
		}
		var sum [2]float64
		for i := w.Pre; i < w.Pre+30; i++ {
			sum[0] += w.A[0][i] / 1000
			sum[1] += w.A[1][i] / 1000
		}
		return sum
	}
	whole, refilled := kick(0), kick(157)
	size := math.Hypot(whole[0], whole[1])
	if miss := math.Hypot(refilled[0]-whole[0], refilled[1]-whole[1]); miss > 0.03*size {
		t.Errorf("kick %.3f, refilled %.3f m/s", whole, refilled)
	}
}
