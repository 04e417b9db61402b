package bearing_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
)

func TestVonMisesWithinAgainstR(t *testing.T) {
	var ref struct {
		Half struct {
			Kappa float64
			Theta []float64 `json:"theta_rad"`
			Share []float64
		} `json:"half_share"`
	}
	datasettest.Reference(t, "circular.json", &ref)
	if len(ref.Half.Share) == 0 {
		t.Fatal("circular.json lacks half_share")
	}
	for i, theta := range ref.Half.Theta {
		got := bearing.VonMisesWithin(bearing.Deg(theta), ref.Half.Kappa) / 2
		if !datasettest.Near(got, ref.Half.Share[i], 1e-11) {
			t.Errorf("half the share within %g rad = %.12g, want %.12g", theta, got, ref.Half.Share[i])
		}
	}
}

// integrated is the integral of a density per radian by Simpson's rule.
func integrated(density func(deg float64) float64, fromDeg, toDeg float64) float64 {
	const n = 20000
	sum := density(fromDeg) + density(toDeg)
	for i := 1; i < n; i++ {
		sum += float64(2+2*(i%2)) * density(fromDeg+(toDeg-fromDeg)*float64(i)/n)
	}
	return sum * bearing.Rad(toDeg-fromDeg) / (3 * n)
}

// The shares are the integral of the density, whose reference is R's, on either
// side of where each formula takes over.
func TestWithinIntegratesDensity(t *testing.T) {
	for _, kappa := range []float64{0, 1e-6, 0.3, 2, 30, 700, 9e5, 1.1e6, 1e9} {
		for _, sds := range []float64{0.1, 0.7, 1.645, 3} {
			half := math.Min(sds*bearing.Deg(1/math.Sqrt(math.Max(kappa, 1e-6))), 179)
			want := 2 * integrated(func(d float64) float64 { return math.Exp(bearing.VonMisesLogDensity(d, kappa)) }, 0, half)
			if got := bearing.VonMisesWithin(half, kappa); math.Abs(got-want) > 5e-7 || kappa < 1e6 && math.Abs(got-want) > 1e-10 {
				t.Errorf("within %g degrees, kappa %g: %.12g, want %.12g", half, kappa, got, want)
			}
		}
	}
	for half, want := range map[float64]float64{-1: 0, 0: 0, 180: 1, 200: 1} {
		if got := bearing.VonMisesWithin(half, 2); got != want {
			t.Errorf("within %g degrees: %g, want %g", half, got, want)
		}
	}
	if got := bearing.VonMisesWithin(math.NaN(), 2); !math.IsNaN(got) {
		t.Errorf("within NaN degrees: %g, want NaN", got)
	}
}

func TestVonMisesMomentsAreMeansOfCosines(t *testing.T) {
	for _, kappa := range []float64{0, 0.2, 5, 400} {
		for k, got := range bearing.VonMisesMoments(kappa, 9) {
			want := 2 * integrated(func(d float64) float64 {
				return math.Exp(bearing.VonMisesLogDensity(d, kappa)) * math.Cos(float64(k+1)*bearing.Rad(d))
			}, 0, 180)
			if !datasettest.Near(got, want, 1e-10) {
				t.Errorf("kappa %g: mean of cos(%d t) = %.12g, want %.12g", kappa, k+1, got, want)
			}
		}
		if got := bearing.VonMisesMoments(kappa, 1)[0]; !datasettest.Near(got, bearing.A1(kappa), 1e-12) {
			t.Errorf("kappa %g: first moment %.14g, A1 %.14g", kappa, got, bearing.A1(kappa))
		}
	}
}

func TestSpread(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		near := rapid.Float64Range(0.2, 60).Draw(t, "sd of one direction")
		flip := rapid.Float64Range(0, 0.45).Draw(t, "share of flips")
		r := math.Exp(-math.Pow(bearing.Rad(near), 2) / 2)
		sd := bearing.SDDeg(r * (1 - 2*flip))
		s := bearing.SpreadOf(sd, flip)
		if got := bearing.SDDeg(bearing.A1(s.Kappa)); math.Abs(got-near) > 1e-6*near {
			t.Fatalf("each direction spreads by %g, want %g", got, near)
		}
		if got := s.SDDeg(); math.Abs(got-sd) > 1e-6*sd {
			t.Fatalf("both directions spread by %g, want %g", got, sd)
		}
		p := rapid.Float64Range(0.001, 0.999).Draw(t, "probability")
		if got := s.CDF(s.Quantile(p)); math.Abs(got-p) > 1e-9 {
			t.Fatalf("CDF(Quantile(%g)) = %g", p, got)
		}
		if got := s.Within(s.HalfDeg(p)); math.Abs(got-p) > 1e-9 {
			t.Fatalf("Within(HalfDeg(%g)) = %g", p, got)
		}
	})
	s := bearing.SpreadOf(60, 0.2)
	if got := 2 * integrated(s.Density, 0, 180); math.Abs(got-1) > 1e-9 {
		t.Errorf("the density holds %g", got)
	}
	if got, want := s.Within(100), 2*integrated(s.Density, 0, 100); math.Abs(got-want) > 1e-9 {
		t.Errorf("within 100 degrees: %g, want %g", got, want)
	}
	for k, got := range s.Moments(5) {
		want := 2 * integrated(func(d float64) float64 { return s.Density(d) * math.Cos(float64(k+1)*bearing.Rad(d)) }, 0, 180)
		if math.Abs(got-want) > 1e-9 {
			t.Errorf("mean of cos(%d t) = %g, want %g", k+1, got, want)
		}
	}
	if got := bearing.SpreadOf(0, 0).Within(0.01); got != 1 {
		t.Errorf("no spread at all leaves %g within a hundredth of a degree, want 1", got)
	}
	if got := bearing.SpreadOf(0, 0.1).Within(90); math.Abs(got-0.9) > 1e-12 {
		t.Errorf("a flip in ten and no other spread leaves %g on the near side, want 0.9", got)
	}
	// Far apart, both directions are equally likely, whatever the share says.
	if got := bearing.SpreadOf(500, 0).Within(90); math.Abs(got-0.5) > 1e-6 {
		t.Errorf("a spread without limit leaves %g on the near side, want 0.5", got)
	}
}
