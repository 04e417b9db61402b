package signal_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/datasettest"
	"strikerose/features/signal"
)

func TestSavGolAgainstReference(t *testing.T) {
	var ref struct {
		Weights map[string]struct {
			Numerators  []float64
			Denominator float64
		}
		Example struct {
			X            []float64
			Window, Poly int
			Interp       []float64 `json:"mode_interp"`
		}
	}
	datasettest.Reference(t, "savgol.json", &ref)
	if len(ref.Weights) < 20 {
		t.Fatalf("savgol.json holds %d sets of weights", len(ref.Weights))
	}
	for name, c := range ref.Weights {
		kind, rest, _ := strings.Cut(name, "_")
		polynomial, size, _ := strings.Cut(rest, "_")
		degree := map[string]int{"quadratic": 2, "cubic": 3, "quartic": 4}[polynomial]
		derivative := map[string]int{"smooth": 0, "deriv1": 1, "deriv2": 2}[kind]
		var window int
		if _, err := fmt.Sscan(size, &window); err != nil {
			t.Fatal(err)
		}
		want := make([]float64, len(c.Numerators))
		for i, n := range c.Numerators {
			want[i] = n / c.Denominator
		}
		got, err := signal.SavGolWeights(window, degree, derivative)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		differ(t, name, got, want, 1e-9)
	}
	got, err := signal.SavGol(ref.Example.X, ref.Example.Window, ref.Example.Poly, 0)
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "example", got, ref.Example.Interp, 1e-9)
}

// A polynomial of the filter's degree passes unchanged, ends included, and is
// differentiated exactly.
func TestSavGolKeepsPolynomials(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		window := 2*rapid.IntRange(1, 15).Draw(t, "half") + 1
		degree := rapid.IntRange(0, min(window-1, 5)).Draw(t, "degree")
		derivative := rapid.IntRange(0, min(degree, 3)).Draw(t, "derivative")
		c := rapid.SliceOfN(rapid.Float64Range(-2, 2), degree+1, degree+1).Draw(t, "coefficients")
		x, want := make([]float64, window+10), make([]float64, window+10)
		for i := range x {
			p := float64(i) / 10
			for j, v := range c {
				x[i] += v * math.Pow(p, float64(j))
				if j < derivative {
					continue
				}
				f := v * math.Pow(p, float64(j-derivative)) * math.Pow(10, -float64(derivative))
				for k := range derivative {
					f *= float64(j - k)
				}
				want[i] += f
			}
		}
		got, err := signal.SavGol(x, window, degree, derivative)
		if err != nil {
			t.Fatal(err)
		}
		for i := range want {
			if math.Abs(got[i]-want[i]) > 1e-7*(1+math.Abs(x[len(x)-1])) {
				t.Fatalf("sample %d = %g, want %g", i, got[i], want[i])
			}
		}
	})
}

func TestSavGolRefuses(t *testing.T) {
	for _, c := range []struct{ window, degree, derivative, samples int }{
		{4, 2, 0, 10}, {1, 0, 0, 10}, {-5, 2, 0, 10}, {5, 5, 0, 10}, {5, -1, 0, 10}, {5, 2, 3, 10}, {5, 2, -1, 10}, {5, 2, 0, 4},
	} {
		if _, err := signal.SavGol(make([]float64, c.samples), c.window, c.degree, c.derivative); err == nil {
			t.Errorf("SavGol of %+v is accepted", c)
		}
	}
}
