package trees_test

import (
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"strikerose/models/trees"
)

// TestManyRowsAsOne: many rows get to the last bit what each gets alone, and what
// its trees say one by one: few rows and several blocks, values that are no
// numbers or on a threshold, trees of one leaf, deep and one-sided ones.
func TestManyRowsAsOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		train := rapid.IntRange(1, 60).Draw(t, "rows to learn from")
		m := problem(train, 5, rapid.Uint64().Draw(t, "seed"))
		for i := range m.x {
			m.x[i] = math.Round(m.x[i]*8) / 8
		}
		g := trees.Growth{Depth: rapid.IntRange(0, 6).Draw(t, "depth"), MinLeaf: rapid.SampledFrom([]int{1, 3, 100}).Draw(t, "rows a leaf"), Try: 2}
		table := must(trees.NewTable(m.x, train, trees.MostBins))
		rows := make([][]float64, rapid.SampledFrom([]int{0, 1, 63, 64, 1024, 1025, 2500}).Draw(t, "rows"))
		ask := problem(max(len(rows), 1), 5, 3)
		for i := range rows {
			rows[i] = ask.row(i)
			for k, v := range rows[i] {
				rows[i][k] = []float64{v, math.Round(v*16) / 16, math.NaN(), math.Inf(1), math.Inf(-1)}[(i+3*k)%5]
			}
		}
		for _, y := range []*trees.Target{must(trees.Numbers(m.number, nil)), must(trees.Bearings(m.deg, nil))} {
			f, _, err := trees.GrowForest(t.Context(), table, y, trees.Bagging{Growth: g, Trees: rapid.IntRange(1, 20).Draw(t, "trees")}, 1)
			if err != nil {
				t.Fatal(err)
			}
			sameBits(t, "forest", f.Means(rows), rows, func(row []float64) complex128 { return f.Predict(row).Mean })
			sameBits(t, "forest", f.Means(rows), rows, func(row []float64) complex128 {
				var mean complex128
				for i, tree := range f.Trees() {
					step, n := tree.Predict(row).Mean-mean, float64(i+1)
					mean += complex(real(step)/n, imag(step)/n)
				}
				return mean
			})
		}
		for _, loss := range []trees.Loss{trees.Plane, trees.Angle} {
			o := trees.Boosting{Loss: loss, Depth: 1 + g.Depth, MinLeaf: g.MinLeaf, Rounds: 12, Rate: 0.3}
			b, err := trees.Boost(t.Context(), table, must(trees.Bearings(m.deg, nil)), o, nil, 1)
			if err != nil {
				t.Fatal(err)
			}
			sameBits(t, "boosted "+string(loss), b.Means(rows), rows, b.Sum)
		}
	})
}

func sameBits(t *rapid.T, what string, got []complex128, rows [][]float64, want func(row []float64) complex128) {
	if len(got) != len(rows) {
		t.Fatalf("%s: %d answers for %d rows", what, len(got), len(rows))
	}
	for i, row := range rows {
		w := want(row)
		if math.Float64bits(real(got[i])) != math.Float64bits(real(w)) || math.Float64bits(imag(got[i])) != math.Float64bits(imag(w)) {
			t.Fatalf("%s: row %d, %v: %v among many, %v alone", what, i, row, got[i], w)
		}
	}
}

// TestOneSidedTrees: rows sort down trees as deep as they have splits, to either
// side, as they walk down them.
func TestOneSidedTrees(t *testing.T) {
	const splits = 100_000
	rows := make([][]float64, 300)
	for i := range rows {
		rows[i] = []float64{float64(i*splits) / float64(len(rows)-1)}
	}
	for _, side := range []string{"first", "second"} {
		var f struct {
			Columns    int       `json:"columns"`
			Split      []int     `json:"split"`
			Thresholds []float64 `json:"thresholds"`
			Rows       []int     `json:"rows"`
			Mean       []float64 `json:"mean"`
		}
		f.Columns = 1
		for i := range splits {
			f.Split = append(f.Split, 0)
			if side == "second" {
				f.Split = append(f.Split, -1)
				f.Thresholds = append(f.Thresholds, float64(i))
			} else {
				f.Thresholds = append(f.Thresholds, float64(splits-1-i))
			}
		}
		for len(f.Split) < 2*splits+1 {
			f.Split = append(f.Split, -1)
		}
		for i := range splits + 1 {
			f.Rows, f.Mean = append(f.Rows, 1), append(f.Mean, float64(i))
		}
		var forest trees.Forest
		if err := json.Unmarshal([]byte("["+string(marshal(t, f))+"]"), &forest); err != nil {
			t.Fatal(err)
		}
		for i, mean := range forest.Means(rows) {
			if want := math.Ceil(rows[i][0]); real(mean) != want || forest.Predict(rows[i]).Number() != want {
				t.Fatalf("%s side: row %d: %g among many, %g alone, want %g", side, i, real(mean), forest.Predict(rows[i]).Number(), want)
			}
		}
		if n := len(forest.Trees()[0].Splits()); n != splits {
			t.Errorf("%d splits", n)
		}
	}
}

// BenchmarkAnswer answers by a forest as training grows it: one row after the
// other, and many in one call. It reports the time of each row in each tree.
func BenchmarkAnswer(b *testing.B) {
	train, test := problem(5000, 60, 1), problem(8192, 60, 2)
	table, y := train.table(b), mustNumbers(b, train.number)
	f, _ := mustForest(b, table, y, trees.Bagging{Growth: trees.Growth{MinLeaf: 5, Try: 20}, Trees: 100})
	rows := make([][]float64, test.rows)
	for i := range rows {
		rows[i] = test.row(i)
	}
	report := func(b *testing.B, rows int) {
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*rows*len(f.Trees())), "ns/tree")
	}
	b.Run("alone", func(b *testing.B) {
		i := 0
		for b.Loop() {
			f.Predict(rows[i%len(rows)])
			i++
		}
		report(b, 1)
	})
	for n := 16; n <= len(rows); n <<= 3 {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				f.Means(rows[:n])
			}
			report(b, n)
		})
	}
}
