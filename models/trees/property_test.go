package trees_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/bearing"
	"strikerose/models/trees"
)

// circularAnswers fits every kind of circular answer on a problem.
func circularAnswers(t testing.TB, m *made, deg []float64) map[string]func(row []float64) float64 {
	t.Helper()
	table, y := m.table(t), mustBearings(t, deg)
	out := map[string]func(row []float64) float64{}
	for _, c := range []trees.Criterion{trees.SquaredError, trees.ResultantLength, trees.VonMises} {
		g := trees.Growth{Criterion: c, MinLeaf: 4}
		tree := mustGrow(t, table, y, g)
		out[fmt.Sprint("tree ", c)] = func(row []float64) float64 { return tree.Predict(row).BearingDeg() }
		g.Try = 2
		forest, _, err := trees.GrowForest(t.Context(), table, y, trees.Bagging{Growth: g, Trees: 20}, 7)
		if err != nil {
			t.Fatal(err)
		}
		out[fmt.Sprint("forest ", c)] = func(row []float64) float64 { return forest.Predict(row).BearingDeg() }
	}
	for _, loss := range []trees.Loss{trees.Plane, trees.Angle} {
		held := make([]bool, m.rows)
		for i := range held {
			held[i] = i%4 == 0
		}
		b, err := trees.Boost(t.Context(), table, y, trees.Boosting{Loss: loss, Depth: 3, MinLeaf: 4, Rounds: 60, Rate: 0.1, Rows: 0.7, Columns: 0.8, Patience: 10}, held, 7)
		if err != nil {
			t.Fatal(err)
		}
		out["boosted "+string(loss)] = b.BearingDeg
	}
	return out
}

func TestTurningBearingsTurnsAnswers(t *testing.T) {
	m := problem(150, 6, 1)
	plain := circularAnswers(t, m, m.deg)
	for _, by := range []float64{90, -123.4, 400} {
		turned := make([]float64, m.rows)
		for i, d := range m.deg {
			turned[i] = d + by
		}
		for name, answer := range circularAnswers(t, m, turned) {
			for i := range m.rows {
				r := m.row(i)
				if off := bearing.Diff(answer(r), plain[name](r)+by); math.Abs(off) > 1e-9 {
					t.Fatalf("%s: turned by %g, row %d: %g degrees off", name, by, i, off)
				}
			}
		}
	}
}

func TestMirrorImagesMirrorAnswers(t *testing.T) {
	m := problem(150, 6, 2)
	plain := circularAnswers(t, m, m.deg)
	mirrored := make([]float64, m.rows)
	for i, d := range m.deg {
		mirrored[i] = -d
	}
	for name, answer := range circularAnswers(t, m, mirrored) {
		for i := range m.rows {
			if off := bearing.Diff(answer(m.row(i)), -plain[name](m.row(i))); math.Abs(off) > 1e-9 {
				t.Fatalf("%s: row %d: %g degrees off", name, i, off)
			}
		}
	}
}

func TestOrderOfRows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.IntRange(2, 120).Draw(t, "rows")
		m := problem(rows, 5, rapid.Uint64().Draw(t, "seed"))
		bins := rapid.IntRange(2, trees.MostBins).Draw(t, "bins")
		g := trees.Growth{Depth: rapid.IntRange(0, 6).Draw(t, "depth"), MinLeaf: rapid.IntRange(0, 9).Draw(t, "rows a leaf")}
		order := rand.New(rand.NewPCG(3, 3)).Perm(rows)
		x, number, deg := make([]float64, len(m.x)), make([]float64, rows), make([]float64, rows)
		for i, from := range order {
			number[i], deg[i] = m.number[from], m.deg[from]
			for k := range 5 {
				x[k*rows+i] = m.x[k*rows+from]
			}
		}
		same := func(what string, a, b *trees.Target, c trees.Criterion) {
			g.Criterion = c
			one, two := grow(t, m.x, rows, bins, a, g), grow(t, x, rows, bins, b, g)
			if !reflect.DeepEqual(one.Splits(), two.Splits()) {
				t.Fatalf("%s: rows in another order gave other splits:\n%v\n%v", what, one.Splits(), two.Splits())
			}
			for i := range rows {
				p, q := one.Predict(row(m.x, rows, i)), two.Predict(row(m.x, rows, i))
				if math.Abs(real(p.Mean-q.Mean)) > 1e-9 || math.Abs(imag(p.Mean-q.Mean)) > 1e-9 || math.Abs(p.SD-q.SD) > 1e-9 {
					t.Fatalf("%s: row %d: %+v and %+v", what, i, p, q)
				}
			}
		}
		a, _ := trees.Numbers(m.number, nil)
		b, _ := trees.Numbers(number, nil)
		same("numbers", a, b, trees.SquaredError)
		a, _ = trees.Bearings(m.deg, nil)
		b, _ = trees.Bearings(deg, nil)
		same("bearings", a, b, trees.VonMises)
		same("bearings", a, b, trees.ResultantLength)
	})
}

func grow(t *rapid.T, x []float64, rows, bins int, y *trees.Target, g trees.Growth) *trees.Tree {
	table, err := trees.NewTable(x, rows, bins)
	if err != nil {
		t.Fatal(err)
	}
	tree, err := trees.Grow(table, y, g, 1)
	if err != nil {
		t.Fatal(err)
	}
	return tree
}

// TestMonotoneFeatures: a tree asks only which of two values is larger.
func TestMonotoneFeatures(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.IntRange(2, 400).Draw(t, "rows")
		bins := rapid.IntRange(2, trees.MostBins).Draw(t, "bins")
		m := problem(rows, 5, rapid.Uint64().Draw(t, "seed"))
		x := append([]float64(nil), m.x...)
		for i := range rows {
			x[i] = math.Exp(5 * x[i])
			x[rows+i] = math.Pow(x[rows+i]-0.3, 3)
		}
		y, _ := trees.Bearings(m.deg, nil)
		g := trees.Growth{Criterion: trees.VonMises, MinLeaf: 3}
		one, two := grow(t, m.x, rows, bins, y, g), grow(t, x, rows, bins, y, g)
		for i := range rows {
			if p, q := one.Predict(row(m.x, rows, i)), two.Predict(row(x, rows, i)); p != q {
				t.Fatalf("row %d: %+v, transformed %+v", i, p, q)
			}
		}
	})
}

// TestRowsLandInTheirLeaves: the means of the leaves that rows find by their
// features, weighted by rows, are the mean of all; no leaf is too small, no path
// too long.
func TestRowsLandInTheirLeaves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.IntRange(1, 300).Draw(t, "rows")
		x := rapid.SliceOfN(rapid.Float64Range(-3, 3), 2*rows, 2*rows).Draw(t, "x")
		for i := range x {
			x[i] = math.Round(x[i]*20) / 20 // ties
		}
		g := trees.Growth{Depth: rapid.IntRange(0, 7).Draw(t, "depth"), MinLeaf: rapid.IntRange(0, 20).Draw(t, "rows a leaf"), Try: rapid.IntRange(0, 2).Draw(t, "try")}
		m := problem(rows, 5, 4)
		y, _ := trees.Numbers(m.number, nil)
		tree := grow(t, x, rows, rapid.IntRange(2, trees.MostBins).Draw(t, "bins"), y, g)
		var mean, of float64
		for i := range rows {
			mean += m.number[i] / float64(rows)
			of += tree.Predict(row(x, rows, i)).Number() / float64(rows)
		}
		if math.Abs(mean-of) > 1e-9 {
			t.Fatalf("mean of all answers %g, of all targets %g", of, mean)
		}
		sum := 0
		for _, l := range tree.Leaves() {
			sum += l.Rows
			if l.Rows < g.MinLeaf && len(tree.Leaves()) > 1 {
				t.Fatalf("a leaf of %d rows", l.Rows)
			}
		}
		if sum != rows {
			t.Fatalf("leaves hold %d rows of %d", sum, rows)
		}
		for _, s := range tree.Splits() {
			if g.Depth > 0 && s.Depth >= g.Depth {
				t.Fatalf("a split at depth %d", s.Depth)
			}
		}
	})
}

// TestWeights: a row of weight 2 is worth two.
func TestWeights(t *testing.T) {
	m := problem(90, 5, 5)
	weight := make([]float64, m.rows)
	var x []float64
	var number, deg []float64
	for i := range m.rows {
		weight[i] = float64(1 + i%3)
		for range 1 + i%3 {
			number, deg = append(number, m.number[i]), append(deg, m.deg[i])
		}
	}
	for k := range 5 {
		for i := range m.rows {
			for range 1 + i%3 {
				x = append(x, m.x[k*m.rows+i])
			}
		}
	}
	repeated := mustTable(t, x, len(number), trees.MostBins)
	for _, c := range []struct {
		name          string
		weighted, two *trees.Target
		criterion     trees.Criterion
	}{
		{"numbers", must(trees.Numbers(m.number, weight)), must(trees.Numbers(number, nil)), trees.SquaredError},
		{"bearings", must(trees.Bearings(m.deg, weight)), must(trees.Bearings(deg, nil)), trees.VonMises},
	} {
		g := trees.Growth{Criterion: c.criterion, Depth: 4}
		one, two := mustGrow(t, m.table(t), c.weighted, g), mustGrow(t, repeated, c.two, g)
		if !reflect.DeepEqual(one.Splits(), two.Splits()) {
			t.Errorf("%s: weights gave other splits than repeated rows:\n%v\n%v", c.name, one.Splits(), two.Splits())
		}
		for i := range m.rows {
			if p, q := one.Predict(m.row(i)), two.Predict(m.row(i)); math.Hypot(real(p.Mean-q.Mean), imag(p.Mean-q.Mean)) > 1e-9 || math.Abs(p.SD-q.SD) > 1e-9 {
				t.Fatalf("%s: row %d: %+v, repeated %+v", c.name, i, p, q)
			}
		}
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}
