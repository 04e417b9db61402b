package trees_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"strikerose/models/trees"
)

func marshal(t testing.TB, v any) []byte {
	t.Helper()
	data, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// saved are one file of each kind, with a row for it.
func saved(t testing.TB) (tree, forest, boosted, turning []byte, m *made) {
	m = problem(80, 5, 1)
	table := m.table(t)
	one := mustGrow(t, table, mustNumbers(t, m.number), trees.Growth{Depth: 3})
	b := usualForest(trees.VonMises)
	b.Trees, b.Depth = 3, 3
	many, _ := mustForest(t, table, mustBearings(t, m.deg), b)
	o := usualBoosting()
	o.Rounds = 3
	sum := mustBoost(t, table, mustNumbers(t, m.number), o, nil)
	o.Loss = trees.Angle
	turn := mustBoost(t, table, mustBearings(t, m.deg), o, nil)
	return marshal(t, one), marshal(t, many), marshal(t, sum), marshal(t, turn), m
}

func TestSaveAndLoad(t *testing.T) {
	treeData, forestData, boostedData, turningData, m := saved(t)
	var tree trees.Tree
	var forest trees.Forest
	var boosted, turning trees.Boosted
	for _, c := range []struct {
		data []byte
		to   any
	}{{treeData, &tree}, {forestData, &forest}, {boostedData, &boosted}, {turningData, &turning}} {
		if err := json.Unmarshal(c.data, c.to); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(string(c.data), string(marshal(t, c.to))); diff != "" {
			t.Errorf("saved again (-first +again):\n%s", diff)
		}
	}
	table := m.table(t)
	b := usualForest(trees.VonMises)
	b.Trees, b.Depth = 3, 3
	o := usualBoosting()
	o.Rounds = 3
	one := mustGrow(t, table, mustNumbers(t, m.number), trees.Growth{Depth: 3})
	many, _ := mustForest(t, table, mustBearings(t, m.deg), b)
	sum := mustBoost(t, table, mustNumbers(t, m.number), o, nil)
	o.Loss = trees.Angle
	turn := mustBoost(t, table, mustBearings(t, m.deg), o, nil)
	for i := range m.rows {
		r := m.row(i)
		if one.Predict(r) != tree.Predict(r) || many.Predict(r) != forest.Predict(r) || sum.Sum(r) != boosted.Sum(r) || turn.Sum(r) != turning.Sum(r) {
			t.Fatalf("row %d: the loaded trees answer otherwise", i)
		}
	}
}

func TestDamagedTrees(t *testing.T) {
	for _, c := range []struct{ name, want, data string }{
		{"empty", "cut off", `{"columns":2,"split":[],"thresholds":[],"rows":[],"mean":[]}`},
		{"no second side", "cut off", `{"columns":2,"split":[0,-1],"thresholds":[1],"rows":[1,1],"mean":[1,2]}`},
		{"splits alone", "cut off", `{"columns":2,"split":[0,1,1],"thresholds":[1,1,1],"rows":[1,1],"mean":[1,2]}`},
		{"too many nodes", "after the end", `{"columns":2,"split":[0,-1,-1,-1],"thresholds":[1],"rows":[1,1,1],"mean":[1,2,3]}`},
		{"column beyond", "column 2 of 2", `{"columns":2,"split":[2,-1,-1],"thresholds":[1],"rows":[1,1],"mean":[1,2]}`},
		{"columns beyond reason", "columns", `{"columns":99999999999,"split":[4294967295,-1,-1],"thresholds":[1],"rows":[1,1],"mean":[1,2]}`},
		{"no columns", "columns", `{"columns":0,"split":[-1],"thresholds":[],"rows":[1],"mean":[1]}`},
		{"too few thresholds", "thresholds", `{"columns":2,"split":[0,-1,-1],"thresholds":[],"rows":[1,1],"mean":[1,2]}`},
		{"too many thresholds", "thresholds", `{"columns":2,"split":[0,-1,-1],"thresholds":[1,2],"rows":[1,1],"mean":[1,2]}`},
		{"too few means", "means", `{"columns":2,"split":[0,-1,-1],"thresholds":[1],"rows":[1,1],"mean":[1]}`},
		{"sines and spreads", "spreads", `{"columns":2,"split":[-1],"thresholds":[],"rows":[1],"mean":[1],"sine":[0],"sd":[0]}`},
		{"no sines", "sines", `{"columns":2,"split":[-1],"thresholds":[],"rows":[1],"mean":[1],"sine":[]}`},
		{"negative spread", "spread", `{"columns":2,"split":[-1],"thresholds":[],"rows":[1],"mean":[1],"sd":[-1]}`},
		{"no rows", "rows", `{"columns":2,"split":[-1],"thresholds":[],"rows":[0],"mean":[1]}`},
		{"unknown field", "unknown", `{"columns":2,"split":[-1],"thresholds":[],"rows":[1],"mean":[1],"more":1}`},
	} {
		var tree trees.Tree
		if err := json.Unmarshal([]byte(c.data), &tree); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v; want one about %q", c.name, err, c.want)
		}
	}
	leaf := func(columns, more string) string {
		return `{"columns":` + columns + `,"split":[-1],"thresholds":[],"rows":[1],"mean":[1]` + more + `}`
	}
	for _, c := range []struct{ name, want, data string }{
		{"none", "no trees", `[]`},
		{"missing tree", "missing", `[` + leaf("2", "") + `,null]`},
		{"other width", "differs", `[` + leaf("2", "") + `,` + leaf("3", "") + `]`},
		{"other kind", "differs", `[` + leaf("2", "") + `,` + leaf("2", `,"sine":[0]`) + `]`},
	} {
		var forest trees.Forest
		if err := json.Unmarshal([]byte(c.data), &forest); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("forest, %s: error %v; want one about %q", c.name, err, c.want)
		}
	}
	for _, c := range []struct{ name, want, data string }{
		{"no loss", "loss", `{"loss":"","columns":2,"start":0,"trees":[]}`},
		{"angle of a number", "loss", `{"loss":"angle","columns":2,"start":0,"trees":[]}`},
		{"other width", "other columns", `{"loss":"plane","columns":3,"start":0,"trees":[` + leaf("2", "") + `]}`},
		{"other kind", "another kind", `{"loss":"plane","columns":2,"start":0,"start_sine":0,"trees":[` + leaf("2", "") + `]}`},
		{"no columns", "columns", `{"loss":"plane","columns":0,"start":0,"trees":[]}`},
		{"missing tree", "missing", `{"loss":"plane","columns":2,"start":0,"trees":[null]}`},
	} {
		var b trees.Boosted
		if err := json.Unmarshal([]byte(c.data), &b); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("boosted, %s: error %v; want one about %q", c.name, err, c.want)
		}
	}
}

// FuzzTrees: whatever is accepted answers any row of its width and is saved as
// it was read.
func FuzzTrees(f *testing.F) {
	tree, forest, boosted, turning, _ := saved(f)
	for _, data := range [][]byte{tree, forest, boosted, turning, tree[:len(tree)/2], []byte(`[null]`), []byte(`{"columns":1,"split":[0,0,-1,-1,-1],"thresholds":[2,1],"rows":[1,1,1],"mean":[1,2,3]}`)} {
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var one trees.Tree
		var many trees.Forest
		var sum trees.Boosted
		rows := func(columns int) [][]float64 {
			var out [][]float64
			for _, v := range []float64{0, 1, -1e300, 1e300, math.NaN(), math.Inf(1)} {
				r := make([]float64, columns)
				for k := range r {
					r[k] = v
				}
				out = append(out, r)
			}
			return out
		}
		const wide = 1 << 12 // rows of more features only take memory
		again := func(v, fresh any) {
			first := marshal(t, v)
			if err := json.Unmarshal(first, fresh); err != nil {
				t.Fatalf("what was saved is refused: %v", err)
			}
			if second := marshal(t, fresh); string(first) != string(second) {
				t.Fatalf("saved again: %s, first %s", second, first)
			}
		}
		if json.Unmarshal(data, &one) == nil && one.Columns() <= wide && len(data) > 0 && data[0] == '{' {
			for _, r := range rows(one.Columns()) {
				one.Predict(r)
			}
			one.Splits()
			again(&one, &trees.Tree{})
		}
		if json.Unmarshal(data, &many) == nil && len(many.Trees()) > 0 && many.Columns() <= wide {
			for _, r := range rows(many.Columns()) {
				many.Predict(r)
			}
			again(&many, &trees.Forest{})
		}
		if json.Unmarshal(data, &sum) == nil && sum.Columns() > 0 && sum.Columns() <= wide {
			for _, r := range rows(sum.Columns()) {
				sum.Sum(r)
			}
			again(&sum, &trees.Boosted{})
		}
	})
}
