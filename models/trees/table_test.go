package trees_test

import (
	"math"
	"strings"
	"testing"

	"strikerose/models/trees"
)

func TestFaultyInput(t *testing.T) {
	x := []float64{1, 2, 3, 4, 5, 6}
	nan, inf := math.NaN(), math.Inf(1)
	table := mustTable(t, x, 3, 8)
	y, deg := mustNumbers(t, []float64{1, 2, 3}), mustBearings(t, []float64{1, 2, 3})
	of := func(_ any, err error) error { return err }
	grow := func(g trees.Growth, y *trees.Target) error { return of(trees.Grow(table, y, g, 1)) }
	forest := func(n int) error {
		_, _, err := trees.GrowForest(t.Context(), table, y, trees.Bagging{Trees: n}, 1)
		return err
	}
	boost := func(change func(*trees.Boosting), held []bool) error {
		b := usualBoosting()
		change(&b)
		return of(trees.Boost(t.Context(), table, y, b, held, 1))
	}
	for _, c := range []struct {
		want string
		err  error
	}{
		{"6 numbers for 4 rows", of(trees.NewTable(x, 4, 8))},
		{"0 rows", of(trees.NewTable(x, 0, 8))},
		{"0 numbers", of(trees.NewTable([]float32(nil), 1, 8))},
		{"1 bins", of(trees.NewTable(x, 3, 1))},
		{"256 bins", of(trees.NewTable(x, 3, 256))},
		{"column 1 of row 2 is NaN", of(trees.NewTable([]float64{1, 2, 3, 4, 5, nan}, 3, 8))},
		{"column 0 of row 1 is +Inf", of(trees.NewTable([]float64{1, inf, 3, 4, 5, 6}, 3, 8))},
		{"target of row 1 is NaN", of(trees.Numbers([]float64{1, nan}, nil))},
		{"target of row 0 is +Inf", of(trees.Bearings([]float64{inf, 1}, nil))},
		{"1 weights for 2", of(trees.Numbers([]float64{1, 2}, []float64{1}))},
		{"weight of row 1 is 0", of(trees.Bearings([]float64{1, 2}, []float64{1, 0}))},
		{"2 targets for 3 rows", grow(trees.Growth{}, mustNumbers(t, []float64{1, 2}))},
		{"depth -1", grow(trees.Growth{Depth: -1}, y)},
		{"criterion 9", grow(trees.Growth{Criterion: 9}, deg)},
		{"for bearings", grow(trees.Growth{Criterion: trees.VonMises}, y)},
		{"0 trees", forest(0)},
		{"10001 trees", forest(10001)},
		{"rate 0", boost(func(b *trees.Boosting) { b.Rate = 0 }, nil)},
		{"rate NaN", boost(func(b *trees.Boosting) { b.Rate = nan }, nil)},
		{"share of rows 2", boost(func(b *trees.Boosting) { b.Rows = 2 }, nil)},
		{"depth 0", boost(func(b *trees.Boosting) { b.Depth = 0 }, nil)},
		{"loss \"more\"", boost(func(b *trees.Boosting) { b.Loss = "more" }, nil)},
		{"is for bearings", boost(func(b *trees.Boosting) { b.Loss = trees.Angle }, nil)},
		{"2 rows held back or not, of 3", boost(func(*trees.Boosting) {}, []bool{true, false})},
		{"none is left", boost(func(*trees.Boosting) {}, []bool{true, true, true})},
		{"patience 0", boost(func(b *trees.Boosting) { b.Patience = 0 }, []bool{true, false, false})},
	} {
		if c.err == nil || !strings.Contains(c.err.Error(), c.want) {
			t.Errorf("error %v; want one about %q", c.err, c.want)
		}
	}
}

// TestBins: many values share few bins about equally, equal ones always one.
func TestBins(t *testing.T) {
	x := make([]float64, 1000)
	for i := range x {
		x[i] = float64(i * i)
		if i >= 300 && i < 500 {
			x[i] = 1e5
		}
	}
	y := make([]float64, len(x))
	for i := range y {
		y[i] = x[i]
	}
	tree := mustGrow(t, mustTable(t, x, len(x), 10), mustNumbers(t, y), trees.Growth{})
	if n := len(tree.Leaves()); n > 10 || n < 8 {
		t.Errorf("%d leaves on 10 bins", n)
	}
	for i := 301; i < 500; i++ {
		if tree.Predict(x[i:i+1]) != tree.Predict(x[300:301]) {
			t.Fatalf("equal values in different leaves: row %d", i)
		}
	}
	for _, l := range tree.Leaves() {
		if l.Rows < 50 || l.Rows > 320 {
			t.Errorf("a leaf of %d rows", l.Rows)
		}
	}
}

// TestFewRows: one row, equal rows and equal targets make a single leaf.
func TestFewRows(t *testing.T) {
	for name, c := range map[string]struct{ x, deg []float64 }{
		"one row":       {[]float64{1}, []float64{350}},
		"equal rows":    {[]float64{2, 2, 2}, []float64{350, 10, 0}},
		"equal targets": {[]float64{1, 2, 3}, []float64{0, 360, -360}},
	} {
		for _, criterion := range []trees.Criterion{trees.SquaredError, trees.ResultantLength, trees.VonMises} {
			table, y := mustTable(t, c.x, len(c.x), 8), mustBearings(t, c.deg)
			if n := len(mustGrow(t, table, y, trees.Growth{Criterion: criterion}).Leaves()); n != 1 {
				t.Errorf("%s, criterion %d: %d leaves", name, criterion, n)
			}
			f, _ := mustForest(t, table, y, usualForest(criterion))
			b := mustBoost(t, table, y, usualBoosting(), nil)
			for _, deg := range []float64{f.Predict(c.x[:1]).BearingDeg(), b.BearingDeg(c.x[:1])} {
				if deg > 20 && deg < 340 {
					t.Errorf("%s, criterion %d: answers %g", name, criterion, deg)
				}
			}
		}
	}
}
