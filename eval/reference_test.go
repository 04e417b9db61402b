package eval

import (
	"encoding/json"
	"math"
	"os"
	"testing"
)

// reference holds published data and what R makes of it; the source of each
// entry is named in the file.
type reference struct {
	Source             string `json:"source"`
	WilcoxonDepression struct {
		X, Y []float64
		V    float64
		P    float64 `json:"p_two_sided"`
	} `json:"wilcoxon_depression"`
	WilcoxonNull9 struct{ CDF []float64 } `json:"wilcoxon_null_n9"`
	Darwin        struct {
		D         []float64
		P         float64 `json:"p_two_sided"`
		WilcoxonV float64 `json:"wilcoxon_V"`
		WilcoxonP float64 `json:"wilcoxon_p"`
	} `json:"signflip_darwin"`
	Tiny struct {
		D []float64
		P float64 `json:"p_two_sided"`
	} `json:"signflip_tiny"`
	LawSchool struct {
		LSAT, GPA    []float64
		R            float64
		Acceleration float64   `json:"acceleration_empinf"`
		Percentile95 []float64 `json:"perc95"`
		BCa95        []float64 `json:"bca95"`
		BCa90        []float64 `json:"bca90"`
	} `json:"law_school"`
	Spatial struct {
		A            []float64
		Theta        float64   `json:"theta_plugin_variance"`
		Acceleration float64   `json:"acceleration"`
		Percentile90 []float64 `json:"perc90"`
		BCa90        []float64 `json:"bca90"`
	} `json:"spatial_test_A"`
	BH1995    struct{ P, Holm []float64 } `json:"bh1995"`
	HolmSmall struct{ P, Holm []float64 } `json:"holm_small"`
	Binomial  struct {
		ClopperPearson []float64 `json:"clopper_pearson"`
	} `json:"binomial_45_50"`
	RuleOfThree struct {
		X, N  int
		Upper float64 `json:"clopper_pearson_upper_95_two_sided"`
	} `json:"binomial_rule_of_three"`
}

func loadReference(t *testing.T) reference {
	t.Helper()
	data, err := os.ReadFile("testdata/reference/resampling_and_paired_tests.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref reference
	if err := json.Unmarshal(data, &ref); err != nil {
		t.Fatal(err)
	}
	return ref
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.9g, want %.9g within %g", what, got, want, tolerance)
	}
}

func TestSignFlipReference(t *testing.T) {
	ref := loadReference(t)
	near(t, "SignFlip(Darwin's maize)", SignFlip(ref.Darwin.D, 0, nil), ref.Darwin.P, 1e-9)
	near(t, "SignFlip(tiny)", SignFlip(ref.Tiny.D, 0, nil), ref.Tiny.P, 1e-12)
}

func TestSignFlipManyUnits(t *testing.T) {
	// Two extra units of no difference leave the exact distribution as it is
	// but take the test past exact enumeration.
	ref := loadReference(t)
	d := append(append([]float64{}, ref.Darwin.D...), 0, 0)
	near(t, "SignFlip at random", SignFlip(d, 20000, stream(1, "test")), ref.Darwin.P, 0.006)
	if p := SignFlip(make([]float64, 40), 100, stream(1, "test")); p != 1 {
		t.Errorf("SignFlip without any difference = %g, want 1", p)
	}
	clear := make([]float64, 40)
	for i := range clear {
		clear[i] = 1
	}
	near(t, "SignFlip of a sure difference", SignFlip(clear, 999, stream(1, "test")), 1.0/1000, 1e-12)
}

func TestWilcoxonReference(t *testing.T) {
	ref := loadReference(t)
	var d []float64
	for i, x := range ref.WilcoxonDepression.X {
		d = append(d, x-ref.WilcoxonDepression.Y[i])
	}
	v, p := Wilcoxon(d)
	near(t, "V(depression)", v, ref.WilcoxonDepression.V, 0)
	near(t, "p(depression)", p, ref.WilcoxonDepression.P, 1e-12)
	v, p = Wilcoxon(ref.Darwin.D)
	near(t, "V(Darwin)", v, ref.Darwin.WilcoxonV, 0)
	near(t, "p(Darwin)", p, ref.Darwin.WilcoxonP, 1e-8)

	// The null distribution of nine: the positive ranks chosen one by one.
	for sum, cdf := range ref.WilcoxonNull9.CDF[:23] {
		d := make([]float64, 9)
		left := sum
		for r := 9; r >= 1; r-- {
			d[r-1] = -float64(r)
			if r <= left {
				d[r-1], left = float64(r), left-r
			}
		}
		v, p := Wilcoxon(d)
		near(t, "V", v, float64(sum), 0)
		near(t, "p", p, math.Min(1, 2*cdf), 1e-12)
	}
}

func TestWilcoxonEdges(t *testing.T) {
	for _, c := range []struct {
		name string
		d    []float64
		v, p float64
	}{
		{"nothing", nil, 0, 1},
		{"only zeros", []float64{0, 0}, 0, 1},
		{"zero dropped", []float64{0, 1}, 1, 1},
		{"ties share a rank", []float64{1, -1, 1, 1}, 7.5, 0.625}, // of 16 signings 5 have at most one of the shared ranks positive: 2 * 5/16
	} {
		v, p := Wilcoxon(c.d)
		near(t, c.name+" V", v, c.v, 0)
		near(t, c.name+" p", p, c.p, 1e-12)
	}
	// Past the exact limit the normal distribution must join on.
	twice := make([]int, wilcoxonExact+1) // the normal is not corrected for continuity
	for i := range twice {
		twice[i] = 2 * (i + 1)
	}
	for _, limit := range []int{3600, 4000, 4600, 5000} {
		near(t, "normal beside exact", signedRankNormal(twice, limit), signedRankExact(twice, limit), 2e-3)
	}
}

func TestHolmReference(t *testing.T) {
	ref := loadReference(t)
	for _, c := range []struct{ p, want []float64 }{
		{ref.BH1995.P, ref.BH1995.Holm}, {ref.HolmSmall.P, ref.HolmSmall.Holm}, {nil, nil},
	} {
		got := Holm(c.p)
		if len(got) != len(c.want) {
			t.Fatalf("Holm(%v) has %d values, want %d", c.p, len(got), len(c.want))
		}
		for i := range got {
			near(t, "Holm", got[i], c.want[i], 1e-12)
		}
	}
}

func TestClopperPearsonReference(t *testing.T) {
	ref := loadReference(t)
	low, high := clopperPearson(45, 50, 0.95)
	near(t, "low of 45/50", low, ref.Binomial.ClopperPearson[0], 1e-9)
	near(t, "high of 45/50", high, ref.Binomial.ClopperPearson[1], 1e-9)
	low, high = clopperPearson(ref.RuleOfThree.X, ref.RuleOfThree.N, 0.95)
	near(t, "low of 0/60", low, 0, 0)
	near(t, "high of 0/60", high, ref.RuleOfThree.Upper, 1e-9)
	if low, _ := clopperPearson(0, 0, 0.95); !math.IsNaN(low) {
		t.Errorf("clopperPearson(0, 0) = %g, want NaN", low)
	}
}

// correlation of two columns as a function of how often each pair counts.
func correlation(x, y []float64) func([]float64) float64 {
	return func(w []float64) float64 {
		var n, sx, sy, sxx, syy, sxy float64
		for i, k := range w {
			n += k
			sx += k * x[i]
			sy += k * y[i]
			sxx += k * x[i] * x[i]
			syy += k * y[i] * y[i]
			sxy += k * x[i] * y[i]
		}
		return (n*sxy - sx*sy) / math.Sqrt((n*sxx-sx*sx)*(n*syy-sy*sy))
	}
}

// correlationAcceleration is a from the correlation's influence in closed form,
// zx zy - r (zx^2 + zy^2) / 2 of standardised x and y.
func correlationAcceleration(x, y []float64) float64 {
	standard := func(v []float64) []float64 {
		var mean, square float64
		for _, a := range v {
			mean += a / float64(len(v))
		}
		for _, a := range v {
			square += (a - mean) * (a - mean) / float64(len(v))
		}
		out := make([]float64, len(v))
		for i, a := range v {
			out[i] = (a - mean) / math.Sqrt(square)
		}
		return out
	}
	zx, zy := standard(x), standard(y)
	r := correlation(x, y)(ones(len(x)))
	var squares, cubes float64
	for i := range zx {
		l := zx[i]*zy[i] - r*(zx[i]*zx[i]+zy[i]*zy[i])/2
		squares += l * l
		cubes += l * l * l
	}
	return cubes / (6 * math.Pow(squares, 1.5))
}

func TestBootstrapLawSchools(t *testing.T) {
	ref := loadReference(t).LawSchool
	stat := correlation(ref.LSAT, ref.GPA)
	near(t, "r", stat(ones(15)), ref.R, 1e-9)
	near(t, "acceleration", acceleration(stat, 15), ref.Acceleration, 1e-5) // boot differentiates forward, with a coarser step
	near(t, "acceleration", acceleration(stat, 15), correlationAcceleration(ref.LSAT, ref.GPA), 1e-8)
	r := newResampler(15, 100_000, stream(1, "law schools"))
	for _, c := range []struct {
		name      string
		level     float64
		bca       bool
		want      []float64
		tolerance float64 // of the low end
	}{
		{"percentile 95", 0.95, false, ref.Percentile95, 0.01},
		{"BCa 95", 0.95, true, ref.BCa95, 0.015}, // out at the 0.5 % tail, where either Monte Carlo error is about 0.004
		{"BCa 90", 0.90, true, ref.BCa90, 0.01},
	} {
		low, high, _ := r.interval(stat, c.level, c.bca)
		near(t, c.name+" low", low, c.want[0], c.tolerance)
		near(t, c.name+" high", high, c.want[1], 0.01)
	}
}

func TestBootstrapSpatialTest(t *testing.T) {
	ref := loadReference(t).Spatial
	stat := func(w []float64) float64 {
		var n, s, ss float64
		for i, k := range w {
			n += k
			s += k * ref.A[i]
			ss += k * ref.A[i] * ref.A[i]
		}
		return ss/n - s/n*s/n
	}
	units := len(ref.A)
	near(t, "variance", stat(ones(units)), ref.Theta, 1e-6)
	near(t, "acceleration", acceleration(stat, units), ref.Acceleration, 1e-8)
	r := newResampler(units, 100_000, stream(1, "spatial test"))
	low, high, method := r.interval(stat, 0.90, false)
	near(t, "percentile low", low, ref.Percentile90[0], 4)
	near(t, "percentile high", high, ref.Percentile90[1], 4)
	if method != MethodPercentile {
		t.Errorf("method %q, want %q", method, MethodPercentile)
	}
	low, high, method = r.interval(stat, 0.90, true)
	near(t, "BCa low", low, ref.BCa90[0], 4)
	near(t, "BCa high", high, ref.BCa90[1], 4)
	if method != MethodBCa {
		t.Errorf("method %q, want %q", method, MethodBCa)
	}
}
