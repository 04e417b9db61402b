package lda_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/datasettest"
	"strikerose/models/lda"
)

// iris is Fisher's irises with what scikit-learn says of them.
type iris struct {
	Data struct {
		Iris struct {
			Rows   [][]float64
			Target []int
		}
	}
	Want struct {
		Means         [][]float64 `json:"class_means"`
		Covariance    [][]float64 `json:"pooled_covariance_div_n"`
		Coefficients  [][]float64 `json:"coef_svd"`
		Intercepts    []float64   `json:"intercept_svd"`
		Scalings      [][]float64
		Proportions   []float64
		Accuracy      float64
		Confusion     [][]int
		PosteriorRows []int `json:"posterior_rows"`
		Posteriors    [][]float64
	} `json:"iris_lda"`
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !datasettest.Near(got, want, tol) {
		t.Errorf("%s: %.12g, want %.12g", what, got, want)
	}
}

func mustFit(t rapid.TB, x [][]float64, class []int, o lda.Options) *lda.Analysis {
	t.Helper()
	a, err := lda.Fit(x, class, o)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// TestIris compares an analysis of Fisher's irises with scikit-learn's.
func TestIris(t *testing.T) {
	var ref iris
	datasettest.Reference(t, "sklearn.json", &ref)
	x, class, want := ref.Data.Iris.Rows, ref.Data.Iris.Target, ref.Want
	if len(x) != 150 || len(want.PosteriorRows) != 3 {
		t.Fatal("sklearn.json lacks values")
	}
	a := mustFit(t, x, class, lda.Options{})
	for k, m := range want.Means {
		for p := range m {
			near(t, "mean", a.Means[k][p], m[p], 1e-12)
			// Theirs is over the rows, ours over the rows less the classes.
			near(t, "covariance", a.Within.At(k, p)*147/150, want.Covariance[k][p], 1e-12)
			// Theirs leave out what all classes share.
			near(t, "coefficient", a.Coefficients[k][p]-a.Coefficients[0][p], want.Coefficients[k][p]-want.Coefficients[0][p], 1e-8)
		}
		near(t, "intercept", a.Intercepts[k]-a.Intercepts[0], want.Intercepts[k]-want.Intercepts[0], 1e-8)
	}
	for d, proportion := range want.Proportions {
		near(t, "proportion", a.Proportions[d], proportion, 1e-9)
		sign := math.Copysign(1, a.Scalings[0][d]*want.Scalings[0][d])
		for p := range want.Scalings {
			near(t, "scaling", sign*a.Scalings[p][d], want.Scalings[p][d], 1e-8)
		}
	}
	confusion := [][]int{make([]int, 3), make([]int, 3), make([]int, 3)}
	right := 0.0
	for i, row := range x {
		k := a.Class(row)
		confusion[class[i]][k]++
		if k == class[i] {
			right++
		}
	}
	if right/150 != want.Accuracy || !slices.EqualFunc(confusion, want.Confusion, slices.Equal) {
		t.Errorf("confusion %v, want %v", confusion, want.Confusion)
	}
	p := make([]float64, 3)
	for i, row := range want.PosteriorRows {
		a.Posterior(x[row], p)
		for k := range p {
			near(t, "posterior", p[k], want.Posteriors[i][k], 1e-7)
		}
	}
}

// made is some classes about different means.
func made(rng *rand.Rand, rows, classes, features int) (x [][]float64, class []int) {
	for i := range rows {
		row := make([]float64, features)
		for p := range row {
			row[p] = rng.NormFloat64() + float64((i%classes)*(p+1))/2
			if p > 0 {
				row[p] += row[p-1] / 2
			}
		}
		x, class = append(x, row), append(class, i%classes)
	}
	return x, class
}

func posterior(a *lda.Analysis, row []float64) []float64 {
	p := make([]float64, len(a.Priors))
	a.Posterior(row, p)
	return p
}

func TestInvariants(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		classes, features := rapid.IntRange(1, 5).Draw(t, "classes"), rapid.IntRange(1, 6).Draw(t, "features")
		x, class := made(rng, 40, classes, features)
		shrink := rapid.SampledFrom([]float64{0, 0.2, 1}).Draw(t, "shrink")
		a := mustFit(t, x, class, lda.Options{Shrink: shrink})

		var sum float64
		for _, v := range posterior(a, x[7]) {
			sum += v
		}
		if math.Abs(sum-1) > 1e-12 {
			t.Errorf("probabilities sum to %g", sum)
		}
		// Along every axis the spread within classes is 1, and axes do not
		// vary together.
		for d := range a.Proportions {
			for e := range a.Proportions {
				var s float64
				for p := range features {
					for q := range features {
						s += a.Scalings[p][d] * a.Within.At(p, q) * a.Scalings[q][e]
					}
				}
				if want := map[bool]float64{true: 1}[d == e]; math.Abs(s-want) > 1e-9 {
					t.Errorf("covariance of axes %d and %d is %g", d, e, s)
				}
			}
		}
		// Other units of the features, and weights all doubled, change nothing.
		scaled, doubled := make([][]float64, len(x)), make([]float64, len(x))
		for i, row := range x {
			doubled[i] = 2
			for p, v := range row {
				scaled[i] = append(scaled[i], 3+v*math.Pow(10, float64(3*p-4)))
			}
		}
		b := mustFit(t, scaled, class, lda.Options{Shrink: shrink, Weights: doubled})
		for i := range x {
			for k, p := range posterior(a, x[i]) {
				if q := posterior(b, scaled[i])[k]; math.Abs(p-q) > 1e-6 {
					t.Fatalf("row %d, class %d: %g in other units, %g", i, k, q, p)
				}
			}
		}
	})
}

// TestShrinkage: all the way leaves each feature its own spread alone, which is
// naive Bayes with one variance for all classes.
func TestShrinkage(t *testing.T) {
	x, class := made(rand.New(rand.NewPCG(2, 2)), 60, 3, 4)
	a := mustFit(t, x, class, lda.Options{Shrink: 1})
	row := x[10]
	logs := make([]float64, 3)
	for k := range logs {
		logs[k] = math.Log(a.Priors[k])
		for p, v := range row {
			logs[k] -= math.Pow(v-a.Means[k][p], 2) / a.Within.At(p, p) / 2
		}
	}
	p := posterior(a, row)
	for k := range logs {
		near(t, "odds", math.Log(p[k]/p[0]), logs[k]-logs[0], 1e-9)
	}
}

// TestStillFeatures: what does not vary within any class spoils nothing.
func TestStillFeatures(t *testing.T) {
	x, class := made(rand.New(rand.NewPCG(3, 3)), 30, 2, 2)
	a := mustFit(t, x, class, lda.Options{})
	for i := range x {
		x[i] = append(slices.Clone(x[i]), 0.1)
	}
	b := mustFit(t, x, class, lda.Options{})
	for _, row := range x {
		near(t, "probability", posterior(b, row)[0], posterior(a, row[:2])[0], 1e-9)
	}
	one := mustFit(t, [][]float64{{1, 2}}, []int{0}, lda.Options{})
	if p := posterior(one, []float64{5, 5}); p[0] != 1 || len(one.Proportions) != 0 {
		t.Errorf("one row of one class: probability %g, axes %v", p[0], one.Proportions)
	}
}

func TestFitRefuses(t *testing.T) {
	x := [][]float64{{1, 2}, {2, 3}, {4, 1}, {0, 7}}
	class := []int{0, 1, 0, 1}
	for _, c := range []struct {
		name, want string
		x          [][]float64
		class      []int
		o          lda.Options
	}{
		{"nothing", "at least one row", nil, nil, lda.Options{}},
		{"classes short", "3 classes", x, class[:3], lda.Options{}},
		{"a gap", "class 1", x, []int{0, 2, 0, 2}, lda.Options{}},
		{"ragged", "row 1 has 1", [][]float64{{1, 2}, {1}, {2, 2}, {3, 1}}, class, lda.Options{}},
		{"not a number", "feature 1 of row 0", [][]float64{{1, math.NaN()}, {1, 1}, {2, 2}, {3, 1}}, class, lda.Options{}},
		{"no weight", "weight of row 2", x, class, lda.Options{Weights: []float64{1, 1, 0, 1}}},
		{"too much shrinkage", "from 0 to 1", x, class, lda.Options{Shrink: 1.1}},
		{"features alike", "shrink it", [][]float64{{1, 2}, {2, 4}, {4, 8}, {0, 0}}, class, lda.Options{}},
	} {
		if _, err := lda.Fit(c.x, c.class, c.o); err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "lda: ") {
			t.Errorf("%s: error %v; want one about %q", c.name, err, c.want)
		}
	}
}

func TestCheck(t *testing.T) {
	good := lda.Discriminant{Coefficients: [][]float64{{1, 2}, {3, 4}}, Intercepts: []float64{0, 1}}
	if err := good.Check(2); err != nil {
		t.Error(err)
	}
	for name, d := range map[string]lda.Discriminant{
		"empty":       {},
		"wide":        {Coefficients: [][]float64{{1, 2, 3}}, Intercepts: []float64{0}},
		"intercepts":  {Coefficients: [][]float64{{1, 2}}, Intercepts: []float64{0, 1}},
		"not numbers": {Coefficients: [][]float64{{1, math.NaN()}}, Intercepts: []float64{0}},
	} {
		if d.Check(2) == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
