package trees_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/models/trees"
)

func mustTable[T float32 | float64](t testing.TB, x []T, rows, bins int) *trees.Table {
	t.Helper()
	table, err := trees.NewTable(x, rows, bins)
	if err != nil {
		t.Fatal(err)
	}
	return table
}

func mustNumbers(t testing.TB, y []float64) *trees.Target {
	t.Helper()
	target, err := trees.Numbers(y, nil)
	if err != nil {
		t.Fatal(err)
	}
	return target
}

func mustBearings(t testing.TB, deg []float64) *trees.Target {
	t.Helper()
	target, err := trees.Bearings(deg, nil)
	if err != nil {
		t.Fatal(err)
	}
	return target
}

func mustGrow(t testing.TB, table *trees.Table, y *trees.Target, g trees.Growth) *trees.Tree {
	t.Helper()
	tree, err := trees.Grow(table, y, g, 1)
	if err != nil {
		t.Fatal(err)
	}
	return tree
}

// row copies a row out of a column-major table.
func row[T float32 | float64](x []T, rows, i int) []float64 {
	out := make([]float64, len(x)/rows)
	for k := range out {
		out[k] = float64(x[k*rows+i])
	}
	return out
}

func floats(x []int) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = float64(v)
	}
	return out
}

// made is a made-up problem: of each row's features the first five decide the
// number and the bearing, with noise.
type made struct {
	x      []float64 // column-major
	rows   int
	number []float64
	deg    []float64
	noise  []float64 // standard deviation of each bearing's noise, degrees
}

// problem makes one. Numbers follow Friedman's first function (1991, Ann. Stat.
// 19); bearings turn with four features, and the other makes them noisier.
func problem(rows, columns int, seed uint64) *made {
	rng := rand.New(rand.NewPCG(seed, 0))
	m := &made{x: make([]float64, rows*columns), rows: rows}
	for i := range m.x {
		m.x[i] = rng.Float64()
	}
	at := func(k, i int) float64 { return m.x[k*rows+i] }
	for i := range rows {
		m.number = append(m.number, 10*math.Sin(math.Pi*at(0, i)*at(1, i))+20*math.Pow(at(2, i)-0.5, 2)+10*at(3, i)+5*at(4, i)+rng.NormFloat64())
		noise := 4.0
		if at(2, i) > 0.5 {
			noise = 25
		}
		m.noise = append(m.noise, noise)
		m.deg = append(m.deg, 150*at(0, i)+40*math.Sin(6*at(1, i))+60*at(3, i)*at(4, i)+noise*rng.NormFloat64())
	}
	return m
}

func (m *made) table(t testing.TB) *trees.Table { return mustTable(t, m.x, m.rows, trees.MostBins) }

func (m *made) row(i int) []float64 { return row(m.x, m.rows, i) }

// bearingError is the mean absolute error of answers.
func (m *made) bearingError(answer func(row []float64) float64) float64 {
	sum := 0.0
	for i := range m.rows {
		sum += math.Abs(bearing.Diff(answer(m.row(i)), m.deg[i]))
	}
	return sum / float64(m.rows)
}

func (m *made) numberError(answer func(row []float64) float64) float64 {
	sum := 0.0
	for i := range m.rows {
		sum += math.Abs(answer(m.row(i)) - m.number[i])
	}
	return sum / float64(m.rows)
}
