package advice

import (
	"math"
	"math/rand/v2"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
	"strikerose/eval/bound"
)

// stay is what drawing many strikes gives.
func TestStayIsWhatDrawsGive(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const n = 200_000
	for _, sd := range []float64{0.01, 0.1, 0.5, 2} {
		in := 0
		for range n {
			if x := rng.Float64() + sd*rng.NormFloat64(); x >= 0 && x < 1 {
				in++
			}
		}
		got, want := stay(1, sd), float64(in)/n
		if math.Abs(got-want) > 4*math.Sqrt(0.25/n) {
			t.Errorf("stay(1, %g) = %g, drawn %g", sd, got, want)
		}
	}
	if stay(1, 0) != 1 || stay(1, math.Inf(1)) != 0 {
		t.Errorf("without error %g stay, without knowledge %g: want 1 and 0", stay(1, 0), stay(1, math.Inf(1)))
	}
}

func TestRightBand(t *testing.T) {
	r := datasettest.Rig(t) // bands end at 0.35 and 0.65
	for _, c := range []struct{ heightM, sdM, want float64 }{
		{0.35, 0.01, 0.5}, // on the edge, half go either way
		{0.5, 0.15, math.Erf(1 / math.Sqrt2)},
		{-0.2, 0.01, 1}, // the ends are open
		{1.2, 0.01, 1},
		{0.5, math.Inf(1), 0.3}, // guessed by the band's length
	} {
		if got := rightBand(r, c.heightM, c.sdM); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("rightBand(%g, %g) = %g, want %g", c.heightM, c.sdM, got, c.want)
		}
	}
}

func TestMisplacedWhenNothingIsKnown(t *testing.T) {
	r := datasettest.Rig(t)
	share, wrong := misplaced(r, bound.Least{HeightM: 0.5, BearingSDDeg: math.Inf(1), HeightSDM: math.Inf(1)})
	if want := 1 - 0.3/6; math.Abs(share-want) > 1e-12 || math.Abs(wrong-0.7) > 1e-12 {
		t.Errorf("misplaced %g and wrong band %g, want %g and 0.7", share, wrong, want)
	}
}

// The heights between two accelerances hold exactly those heights.
func TestWithin(t *testing.T) {
	for _, depth := range []float64{0, 0.06, 0.3, 0.5, 0.8, 1} {
		r := datasettest.Rig(t)
		r.Sensor.DepthM = depth
		m := r.Mechanics()
		for _, limits := range [][2]float64{{math.Inf(-1), 0}, {-0.01, 0.01}, {0.02, 0.05}, {0, math.Inf(1)}} {
			from, to := within(m, limits[0], limits[1])
			for i := range 1000 {
				h := (float64(i) + 0.5) / 1000
				if math.Abs(h-from) < 1e-9 || math.Abs(h-to) < 1e-9 {
					continue
				}
				a := m.Accelerance(m.DepthM(h), m.SensorM)
				if in, want := h > from && h < to, a > limits[0] && a < limits[1]; in != want {
					t.Fatalf("sensor at %g, accelerance %g at %g m: within %v to %v m is %t, want %t", depth, a, h, from, to, in, want)
				}
			}
		}
	}
}

func TestBetween(t *testing.T) {
	none := stretch{}
	for _, c := range []struct{ a, b, want stretch }{
		{none, none, none},
		{stretch{0, 0.3}, none, stretch{0, 0.3}},
		{none, stretch{0.8, 1}, stretch{0.8, 1}},
		{stretch{0, 0.3}, stretch{0, 0.4}, stretch{0.3, 0.4}},
		{stretch{0.8, 1}, stretch{0.7, 1}, stretch{0.7, 0.8}},
		{stretch{0, 0.1}, stretch{0.9, 1}, stretch{0, 1}},
	} {
		from, to := between(c.a, c.b)
		if got := (stretch{from, to}); got != c.want {
			t.Errorf("between(%v, %v) = %v, want %v", c.a, c.b, got, c.want)
		}
	}
}

func TestCanSit(t *testing.T) {
	r := datasettest.Rig(t)
	r.Core = &rig.Core{MassKg: 10, LengthM: 0.5, DiameterM: 0.1, TopDepthM: 0.1}
	s := &study{rig: r}
	for depth, want := range map[float64]bool{0: false, 0.03: true, 0.6: true, 0.62: false, 1: false} {
		if got := s.canSit(depth); got != want {
			t.Errorf("with a core down to 0.6 m, canSit(%g) = %t, want %t", depth, got, want)
		}
	}
	r.Core = nil
	if !s.canSit(0.9) || s.canSit(0.98) {
		t.Errorf("without a core, canSit is %t at 0.9 and %t at 0.98, want true and false", s.canSit(0.9), s.canSit(0.98))
	}
}
