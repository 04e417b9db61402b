package bearing_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
)

// circularReference mirrors testdata/reference/circular.json (R circular
// 0.4-95; kappa exact).
type circularReference struct {
	Samples map[string]struct {
		Data      []float64 `json:"data_deg"`
		R         float64   `json:"rbar"`
		MeanDeg   float64   `json:"mean_deg"`
		SDDeg     float64   `json:"circ_sd_deg"`
		Medians   []float64 `json:"median_minimisers_deg"`
		HalfWidth *float64  `json:"fisher_ci95_halfwidth_deg"`
		Kappa     float64   `json:"kappa_exact"`
		RayleighP float64   `json:"rayleigh_p_zar"`
	} `json:"samples"`
	Grouped   grouped `json:"grouped"`
	Mallards  grouped `json:"grouped_mallards"`
	A1        []struct{ Kappa, I0, A1 float64 }
	A1Inverse []struct{ RBar, Kappa float64 } `json:"a1_inverse"`
	Density   []struct {
		Theta   float64 `json:"theta_rad"`
		Mu      float64 `json:"mu_rad"`
		Kappa   float64
		Density float64
	}
}

type grouped struct {
	Midpoints []float64 `json:"midpoints_deg"`
	Freq      []float64
	R         float64
	MeanDeg   float64 `json:"mean_deg"`
}

func reference(t *testing.T) circularReference {
	t.Helper()
	var ref circularReference
	datasettest.Reference(t, "circular.json", &ref)
	if len(ref.Samples) < 15 || len(ref.A1) == 0 || len(ref.A1Inverse) == 0 || len(ref.Density) == 0 ||
		len(ref.Grouped.Freq) == 0 || len(ref.Mallards.Freq) == 0 {
		t.Fatal("circular.json lacks values")
	}
	return ref
}

const z95 = 1.9599639845400545 // standard normal quantile at 0.975

func TestCircularStatistics(t *testing.T) {
	for name, s := range reference(t).Samples {
		t.Run(name, func(t *testing.T) {
			check := func(what string, got, want, tol float64) {
				t.Helper()
				if !datasettest.Near(got, want, tol) {
					t.Errorf("%s = %.12g, want %.12g", what, got, want)
				}
			}
			mean, r := bearing.Mean(s.Data)
			check("Mean", mean, s.MeanDeg, 1e-9)
			check("Mean r", r, s.R, 1e-9)
			check("SDDeg", bearing.SDDeg(r), s.SDDeg, 1e-9)
			check("A1Inv", bearing.A1Inv(r), s.Kappa, 1e-6)
			p := bearing.RayleighP(len(s.Data), r)
			if math.Abs(p-s.RayleighP) > 1e-8*s.RayleighP {
				t.Errorf("RayleighP = %g, want %g", p, s.RayleighP)
			}
			want := 180.0
			if s.HalfWidth != nil {
				want = *s.HalfWidth
			}
			check("MeanHalfWidthDeg", bearing.MeanHalfWidthDeg(s.Data, z95), want, 1e-8)
			wantMedian, _ := bearing.Mean(s.Medians)
			check("Median", bearing.Diff(bearing.Median(s.Data), wantMedian), 0, 1e-9)
		})
	}
}

func TestWeightedMean(t *testing.T) {
	ref := reference(t)
	for name, g := range map[string]grouped{"zar 26.3": ref.Grouped, "mallards": ref.Mallards} {
		mean, r := bearing.WeightedMean(g.Midpoints, g.Freq)
		if !datasettest.Near(mean, g.MeanDeg, 1e-9) || !datasettest.Near(r, g.R, 1e-9) {
			t.Errorf("WeightedMean(%s) = %g, %g, want %g, %g", name, mean, r, g.MeanDeg, g.R)
		}
	}
}

func TestNothingToAverage(t *testing.T) {
	nan := math.NaN()
	if m, r := bearing.Mean(nil); !math.IsNaN(m) || !math.IsNaN(r) {
		t.Errorf("Mean(nil) = %g, %g, want NaN", m, r)
	}
	if m, r := bearing.WeightedMean([]float64{1, 2}, []float64{0, 0}); !math.IsNaN(m) || !math.IsNaN(r) {
		t.Errorf("WeightedMean without weight = %g, %g, want NaN", m, r)
	}
	if m, r := bearing.Mean([]float64{1, nan}); !math.IsNaN(m) || !math.IsNaN(r) {
		t.Errorf("Mean with NaN = %g, %g, want NaN", m, r)
	}
	if m := bearing.Median(nil); !math.IsNaN(m) {
		t.Errorf("Median(nil) = %g, want NaN", m)
	}
	if h := bearing.MeanHalfWidthDeg([]float64{0, 180}, z95); h != 180 {
		t.Errorf("MeanHalfWidthDeg of opposite angles = %g, want 180", h)
	}
	if h := bearing.MeanHalfWidthDeg(nil, z95); h != 180 {
		t.Errorf("MeanHalfWidthDeg(nil) = %g, want 180", h)
	}
}

func TestTurningTurnsMeanAndMedian(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deg := rapid.SliceOfN(rapid.Float64Range(0, 90), 1, 30).Draw(t, "deg")
		turn := rapid.Float64Range(-360, 360).Draw(t, "turn")
		turned := make([]float64, len(deg))
		for i, d := range deg {
			turned[i] = d + turn
		}
		before := slices.Clone(turned)
		m, r := bearing.Mean(deg)
		mt, rt := bearing.Mean(turned)
		if math.Abs(bearing.Diff(mt, m+turn)) > 1e-7 || math.Abs(rt-r) > 1e-12 {
			t.Fatalf("mean %g, r %g turned by %g is %g, %g", m, r, turn, mt, rt)
		}
		h, ht := bearing.MeanHalfWidthDeg(deg, 1), bearing.MeanHalfWidthDeg(turned, 1)
		if math.Abs(h-ht) > 1e-4 {
			t.Fatalf("half-width %g becomes %g", h, ht)
		}
		md, mdt := bearing.Median(deg), bearing.Median(turned)
		if spread := math.Abs(bearing.Diff(mdt, md+turn)); spread > 1e-6 {
			t.Fatalf("median %g turned by %g is %g", md, turn, mdt)
		}
		if !slices.Equal(before, turned) {
			t.Fatal("the angles were changed")
		}
	})
}

func TestMedianWithstandsFlips(t *testing.T) {
	deg := []float64{9, 10, 11, 10.5, 9.5, 190, 191}
	if got := bearing.Median(deg); math.Abs(got-10) > 1 {
		t.Errorf("Median(%v) = %g, want about 10", deg, got)
	}
}

func TestVonMises(t *testing.T) {
	ref := reference(t)
	for _, c := range ref.A1 {
		if got := bearing.A1(c.Kappa); !datasettest.Near(got, c.A1, 1e-11) {
			t.Errorf("A1(%g) = %.13g, want %.13g", c.Kappa, got, c.A1)
		}
		if got := bearing.LogI0(c.Kappa); !datasettest.Near(got, math.Log(c.I0), 1e-11) {
			t.Errorf("LogI0(%g) = %.13g, want %.13g", c.Kappa, got, math.Log(c.I0))
		}
	}
	for _, c := range ref.A1Inverse {
		if got := bearing.A1Inv(c.RBar); !datasettest.Near(got, c.Kappa, 1e-10) {
			t.Errorf("A1Inv(%g) = %.13g, want %.13g", c.RBar, got, c.Kappa)
		}
	}
	for _, c := range ref.Density {
		got := math.Exp(bearing.VonMisesLogDensity(bearing.Deg(c.Theta-c.Mu), c.Kappa))
		if !datasettest.Near(got, c.Density, 1e-10) {
			t.Errorf("density at %g, kappa %g = %.12g, want %.12g", c.Theta, c.Kappa, got, c.Density)
		}
	}
}

func TestA1InvInvertsA1(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kappa := math.Exp(rapid.Float64Range(-12, 14).Draw(t, "log kappa"))
		got := bearing.A1Inv(bearing.A1(kappa))
		// Near 1, r holds kappa only to the rounding of 1 - r.
		if tol := 1e-9 + 1e-15*kappa; math.Abs(got/kappa-1) > tol {
			t.Fatalf("A1Inv(A1(%g)) = %g", kappa, got)
		}
	})
	for r, want := range map[float64]float64{0: 0, -0.1: 0, 1: math.Inf(1), 1.1: math.Inf(1)} {
		if got := bearing.A1Inv(r); got != want {
			t.Errorf("A1Inv(%g) = %g, want %g", r, got, want)
		}
	}
	for _, f := range []func(float64) float64{bearing.A1, bearing.A1Inv, bearing.LogI0} {
		if got := f(math.NaN()); !math.IsNaN(got) {
			t.Errorf("of NaN: %g, want NaN", got)
		}
	}
	if got := bearing.A1(0); got != 0 {
		t.Errorf("A1(0) = %g, want 0", got)
	}
	if got := bearing.A1(math.Inf(1)); got != 1 {
		t.Errorf("A1(Inf) = %g, want 1", got)
	}
}

func TestSeriesMeet(t *testing.T) {
	// The two formulas of LogI0 and of A1 agree where one takes over.
	for _, c := range []struct {
		name string
		f    func(float64) float64
		at   float64
		rise float64 // slope there
	}{
		{"LogI0", bearing.LogI0, 30, bearing.A1(30)},
		{"A1", bearing.A1, 500, 1 - bearing.A1(500)/500 - bearing.A1(500)*bearing.A1(500)},
	} {
		const h = 1e-6
		got := c.f(c.at+h) - c.f(c.at-h)
		if math.Abs(got-2*h*c.rise) > 1e-13 {
			t.Errorf("%s steps by %g at %g, want %g", c.name, got, c.at, 2*h*c.rise)
		}
	}
}

func TestDensityIntegratesToOne(t *testing.T) {
	for _, kappa := range []float64{0, 0.3, 2, 29, 31, 400} {
		sum := 0.0
		const n = 3600
		for i := range n {
			sum += math.Exp(bearing.VonMisesLogDensity(float64(i)*360/n, kappa)) * 2 * math.Pi / n
		}
		if math.Abs(sum-1) > 1e-12 {
			t.Errorf("density of kappa %g integrates to %.15g, want 1", kappa, sum)
		}
	}
}
