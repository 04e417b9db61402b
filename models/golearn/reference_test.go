package golearn

import (
	"testing"

	"strikerose/dataset/datasettest"
)

// TestAgainstSklearn compares a tree on scikit-learn's diabetes data with the one
// that scikit-learn grows: the same splits and leaves, in the same order.
func TestAgainstSklearn(t *testing.T) {
	var ref struct {
		Regression struct {
			Diabetes struct {
				Columns [][]float64
				Target  []float64
				Trees   []struct {
					Depth      int
					MinLeaf    int `json:"min_leaf"`
					Columns    []int
					Thresholds []float64
					Means      []float64
				}
			}
		}
	}
	datasettest.Reference(t, "trees.json", &ref)
	d := ref.Regression.Diabetes
	want := d.Trees[0]
	if want.MinLeaf != 1 { // the only kind that the library grows
		t.Fatal("trees.json has no tree of leaves of any size first")
	}
	x := make([][]float64, len(d.Target))
	for i := range x {
		for _, column := range d.Columns {
			x[i] = append(x[i], column[i])
		}
	}
	nodes, err := Regress(x, d.Target, want.Depth)
	if err != nil {
		t.Fatal(err)
	}
	var columns []int
	var thresholds, means []float64
	var walk func(at int)
	walk = func(at int) {
		n := nodes[at]
		if n.Feature < 0 {
			means = append(means, n.Value)
			return
		}
		columns, thresholds = append(columns, n.Feature), append(thresholds, n.Threshold)
		walk(n.Below)
		walk(n.Other)
	}
	walk(0)
	if len(columns) != len(want.Columns) || len(means) != len(want.Means) {
		t.Fatalf("%d splits and %d leaves, want %d and %d", len(columns), len(means), len(want.Columns), len(want.Means))
	}
	for i, c := range want.Columns {
		if columns[i] != c || !datasettest.Near(thresholds[i], want.Thresholds[i], 1e-7) {
			t.Errorf("split %d: column %d at %.9g, want %d at %.9g", i, columns[i], thresholds[i], c, want.Thresholds[i])
		}
	}
	for i, m := range want.Means {
		if !datasettest.Near(means[i], m, 1e-9) {
			t.Errorf("leaf %d: %.12g, want %.12g", i, means[i], m)
		}
	}
}
