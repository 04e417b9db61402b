package golearn

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

func TestRegressSplits(t *testing.T) {
	// By hand: the best split of these targets is between 2 and 3, and a second
	// feature says nothing.
	x := [][]float64{{1, 5}, {2, 5}, {3, 5}, {4, 5}}
	got, err := Regress(x, []float64{1, 1, 9, 9}, 1)
	if err != nil {
		t.Fatal(err)
	}
	want := []Node{{Feature: 0, Threshold: 2.5, Below: 1, Other: 2}, {Feature: -1, Value: 1}, {Feature: -1, Value: 9}}
	if !slices.Equal(got, want) {
		t.Errorf("Regress = %+v, want %+v", got, want)
	}
	for i, row := range x {
		if v := Predict(got, row); v != []float64{1, 1, 9, 9}[i] {
			t.Errorf("Predict(%v) = %g", row, v)
		}
	}
}

func TestNoSplitIsALeaf(t *testing.T) {
	for name, c := range map[string]struct {
		x [][]float64
		y []float64
	}{
		"one row":     {[][]float64{{3}}, []float64{7}},
		"same target": {[][]float64{{1}, {2}}, []float64{7, 7}},
		"same row":    {[][]float64{{1}, {1}}, []float64{6, 8}},
	} {
		got, err := Regress(c.x, c.y, 4)
		if err != nil || len(got) != 1 || got[0].Feature != -1 || got[0].Value != 7 {
			t.Errorf("%s: %+v, %v; want a leaf of 7", name, got, err)
		}
	}
}

// A tree is no better than its depth allows, deterministic, and passes Check.
func TestRegressIsDeterministic(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	var x [][]float64
	var y []float64
	for range 120 {
		row := []float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
		x, y = append(x, row), append(y, math.Sin(2*row[0])+0.1*rng.NormFloat64())
	}
	first, err := Regress(x, y, 4)
	if err != nil {
		t.Fatal(err)
	}
	if err := Check(first, 3); err != nil {
		t.Fatal(err)
	}
	for range 5 {
		again, err := Regress(x, y, 4)
		if err != nil || !slices.Equal(first, again) {
			t.Fatalf("fits differ: %v", err)
		}
	}
	var rest, all float64
	m := mean(y)
	for i, row := range x {
		rest += math.Pow(Predict(first, row)-y[i], 2)
		all += math.Pow(y[i]-m, 2)
	}
	if rest > 0.2*all {
		t.Errorf("the tree explains %.0f %% of the variance", 100*(1-rest/all))
	}
}

func TestRegressRefuses(t *testing.T) {
	for _, c := range []struct {
		name  string
		x     [][]float64
		y     []float64
		depth int
		want  string
	}{
		{"nothing", nil, nil, 3, "0 rows"},
		{"too few targets", [][]float64{{1}, {2}}, []float64{1}, 3, "2 rows and 1 targets"},
		{"no columns", [][]float64{{}}, []float64{1}, 3, "rows"},
		{"ragged", [][]float64{{1}, {1, 2}}, []float64{1, 2}, 3, "row 1"},
		{"not a number", [][]float64{{1}, {math.NaN()}}, []float64{1, 2}, 3, "NaN"},
		{"endless target", [][]float64{{1}, {2}}, []float64{1, math.Inf(1)}, 3, "Inf"},
		{"no depth", [][]float64{{1}, {2}}, []float64{1, 2}, 0, "depth"},
	} {
		if _, err := Regress(c.x, c.y, c.depth); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v; want one about %q", c.name, err, c.want)
		}
	}
}

func TestCheck(t *testing.T) {
	leaf := Node{Feature: -1, Value: 1}
	for name, nodes := range map[string][]Node{
		"empty":          nil,
		"loop":           {{Feature: 0, Below: 0, Other: 1}, leaf},
		"outside":        {{Feature: 0, Below: 1, Other: 2}, leaf},
		"other feature":  {{Feature: 3, Below: 1, Other: 2}, leaf, leaf},
		"leaf of no sum": {{Feature: -1, Value: math.NaN()}},
	} {
		if Check(nodes, 3) == nil {
			t.Errorf("%s: passes", name)
		}
	}
}
