package trees_test

import (
	"math"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/models/trees"
)

// treesReference mirrors testdata/reference/trees.json.
type treesReference struct {
	Regression map[string]struct {
		Columns [][]float32
		Target  []float64
		Trees   []struct {
			Depth      int
			MinLeaf    int `json:"min_leaf"`
			Columns    []int
			Thresholds []float64
			Rows       []int
			Means, SDs []float64
			R2         float64
		}
	}
	Periwinkles struct {
		BearingDeg       []float64 `json:"bearing_deg"`
		Distance         []float64
		RegressionLogLik float64 `json:"regression_loglik"`
		Trees            []struct {
			Criterion  string
			Depth      int
			MinLeaf    int `json:"min_leaf"`
			Thresholds []float64
			Leaves     []struct {
				Rows     int
				MeanDeg  float64 `json:"mean_deg"`
				R, Kappa float64
				LogLik   float64 `json:"loglik"`
			}
			LogLik float64 `json:"loglik"`
		}
	}
}

func reference(t *testing.T) treesReference {
	t.Helper()
	var ref treesReference
	datasettest.Reference(t, "trees.json", &ref)
	if len(ref.Regression) < 3 || len(ref.Periwinkles.Trees) < 9 {
		t.Fatal("trees.json lacks values")
	}
	return ref
}

// near compares lists, to a share of the values.
func near(t *testing.T, what string, got, want []float64, tol float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: %v, want %v", what, got, want)
		return
	}
	for i := range want {
		if !datasettest.Near(got[i], want[i], tol) {
			t.Errorf("%s %d: %.12g, want %.12g", what, i, got[i], want[i])
		}
	}
}

// TestRegressionTrees compares trees with scikit-learn's on its three data sets.
func TestRegressionTrees(t *testing.T) {
	for name, set := range reference(t).Regression {
		var x []float32
		for _, c := range set.Columns {
			x = append(x, c...)
		}
		rows := len(set.Target)
		table := mustTable(t, x, rows, trees.MostBins)
		y := mustNumbers(t, set.Target)
		for _, want := range set.Trees {
			got := mustGrow(t, table, y, trees.Growth{Depth: want.Depth, MinLeaf: want.MinLeaf})
			var thresholds, means, sds []float64
			var columns, counts []float64
			for _, s := range got.Splits() {
				columns, thresholds = append(columns, float64(s.Column)), append(thresholds, s.Threshold)
			}
			for _, l := range got.Leaves() {
				counts, means, sds = append(counts, float64(l.Rows)), append(means, real(l.Mean)), append(sds, l.SD)
			}
			near(t, name+" columns", columns, floats(want.Columns), 0)
			near(t, name+" thresholds", thresholds, want.Thresholds, 1e-12)
			near(t, name+" rows", counts, floats(want.Rows), 0)
			near(t, name+" means", means, want.Means, 1e-9)
			near(t, name+" spreads", sds, want.SDs, 1e-9)
			if r2 := rSquared(set.Target, func(i int) float64 { return got.Predict(row(x, rows, i)).Number() }); !datasettest.Near(r2, want.R2, 1e-9) {
				t.Errorf("%s: R2 %.12g, want %.12g", name, r2, want.R2)
			}
		}
	}
}

// TestPeriwinkles grows circular trees on Fisher's blue periwinkles, the bearing
// in which each crept against how far it got, and compares them with those of an
// exhaustive search.
func TestPeriwinkles(t *testing.T) {
	p := reference(t).Periwinkles
	table := mustTable(t, p.Distance, len(p.Distance), trees.MostBins)
	y := mustBearings(t, p.BearingDeg)
	criteria := map[string]trees.Criterion{"von mises": trees.VonMises, "resultant": trees.ResultantLength, "squared error": trees.SquaredError}
	for _, want := range p.Trees {
		got := mustGrow(t, table, y, trees.Growth{Criterion: criteria[want.Criterion], Depth: want.Depth, MinLeaf: want.MinLeaf})
		var thresholds []float64
		for _, s := range got.Splits() {
			thresholds = append(thresholds, s.Threshold)
		}
		near(t, want.Criterion+" thresholds", thresholds, want.Thresholds, 1e-12)
		if len(got.Leaves()) != len(want.Leaves) {
			t.Errorf("%s: %d leaves, want %d", want.Criterion, len(got.Leaves()), len(want.Leaves))
			continue
		}
		var logLik float64
		for i, l := range got.Leaves() {
			w := want.Leaves[i]
			a := trees.Prediction{Mean: l.Mean}
			near(t, want.Criterion+" leaf", []float64{float64(l.Rows), a.BearingDeg(), a.R()}, []float64{float64(w.Rows), w.MeanDeg, w.R}, 1e-9)
			near(t, want.Criterion+" kappa", []float64{a.Kappa()}, []float64{w.Kappa}, 1e-6)
			logLik += float64(l.Rows) * (a.Kappa()*a.R() - bearing.LogI0(a.Kappa()))
		}
		if !datasettest.Near(logLik, want.LogLik, 1e-6) || logLik < p.RegressionLogLik {
			t.Errorf("%s: log-likelihood %.9g, want %.9g, above the %g of Fisher and Lee's regression with one concentration for all", want.Criterion, logLik, want.LogLik, p.RegressionLogLik)
		}
	}
}

// TestLeavesOfKnownSamples gives the samples of textbooks a number each: a tree
// with a leaf for each must state their mean directions and concentrations.
func TestLeavesOfKnownSamples(t *testing.T) {
	var ref struct {
		Samples map[string]struct {
			Data    []float64 `json:"data_deg"`
			R       float64   `json:"rbar"`
			MeanDeg float64   `json:"mean_deg"`
			Kappa   float64   `json:"kappa_exact"`
		}
	}
	datasettest.Reference(t, "circular.json", &ref)
	x := []float64{}
	var deg []float64
	names := []string{"fisherB6_set2", "fisherB6_set3", "fisherB7_ants", "fisherB3_turtles76", "fisherB10_set1", "fisherB11_seastars", "fisherB12_pigeons15"}
	for k, name := range names {
		for _, d := range ref.Samples[name].Data {
			x, deg = append(x, float64(k)), append(deg, d)
		}
	}
	for _, c := range []trees.Criterion{trees.SquaredError, trees.ResultantLength, trees.VonMises} {
		tree := mustGrow(t, mustTable(t, x, len(x), 16), mustBearings(t, deg), trees.Growth{Criterion: c})
		for k, name := range names {
			got, want := tree.Predict([]float64{float64(k)}), ref.Samples[name]
			near(t, name, []float64{bearing.Diff(got.BearingDeg(), want.MeanDeg), got.R()}, []float64{0, want.R}, 1e-9)
			near(t, name+" kappa", []float64{got.Kappa()}, []float64{want.Kappa}, 1e-6)
		}
	}
}

func rSquared(y []float64, answer func(i int) float64) float64 {
	mean := 0.0
	for _, v := range y {
		mean += v / float64(len(y))
	}
	var left, all float64
	for i, v := range y {
		left += math.Pow(v-answer(i), 2)
		all += (v - mean) * (v - mean)
	}
	return 1 - left/all
}

// TestGiniByBearings grows a tree on three kinds of iris as bearings a third of a
// turn apart. Spread in the plane is then 3/2 of Gini's impurity, so that the tree
// is the classification tree that scikit-learn grows.
func TestGiniByBearings(t *testing.T) {
	var ref struct {
		Data struct {
			Iris struct {
				Rows   [][]float64
				Target []int
			}
		}
		Want struct {
			Depth int
			Nodes []struct {
				Feature   int
				Threshold float64
				N         int
				Impurity  float64
			}
			Accuracy float64
		} `json:"iris_tree_gini"`
	}
	datasettest.Reference(t, "sklearn.json", &ref)
	rows := ref.Data.Iris.Rows
	var width, deg []float64
	for i, r := range rows {
		width, deg = append(width, r[3]), append(deg, 120*float64(ref.Data.Iris.Target[i]))
	}
	tree := mustGrow(t, mustTable(t, width, len(width), trees.MostBins), mustBearings(t, deg), trees.Growth{Depth: ref.Want.Depth})
	var thresholds, counts, impurities, wantThresholds, wantCounts, wantImpurities []float64
	for _, s := range tree.Splits() {
		thresholds = append(thresholds, s.Threshold)
	}
	for _, l := range tree.Leaves() {
		r := trees.Prediction{Mean: l.Mean}.R()
		counts, impurities = append(counts, float64(l.Rows)), append(impurities, (1-r*r)*2/3)
	}
	for _, n := range ref.Want.Nodes {
		if n.Feature >= 0 {
			wantThresholds = append(wantThresholds, n.Threshold)
		} else {
			wantCounts, wantImpurities = append(wantCounts, float64(n.N)), append(wantImpurities, n.Impurity)
		}
	}
	near(t, "threshold", thresholds, wantThresholds, 1e-7) // theirs go by 32-bit numbers
	near(t, "rows of a leaf", counts, wantCounts, 0)
	near(t, "impurity of a leaf", impurities, wantImpurities, 1e-12)
	right := 0.0
	for i, w := range width {
		if math.Abs(bearing.Diff(tree.Predict([]float64{w}).BearingDeg(), deg[i])) < 60 {
			right++
		}
	}
	near(t, "accuracy", []float64{right / float64(len(rows))}, []float64{ref.Want.Accuracy}, 1e-12)
}
