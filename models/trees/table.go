package trees

import (
	"fmt"
	"math"
	"slices"
)

// MostBins is how many bins a column can have.
const MostBins = 255

// Table is features of some rows, put into bins column by column. It is
// immutable: many trees may be grown on it at once.
type Table struct {
	rows, columns int
	bin           []uint8     // column-major
	low, high     [][]float64 // least and largest value in each bin, by column
}

// NewTable puts features into at most bins bins a column, from 2 to MostBins.
// Features are column-major: x[k*rows+i] is column k of row i. A column with no
// more different values than bins keeps them apart; else bins hold about equally
// many rows, and equal values always share one. Only the order of a column's
// values decides which rows share a bin. It refuses what is not finite.
func NewTable[T float32 | float64](x []T, rows, bins int) (*Table, error) {
	if rows < 1 || rows > math.MaxInt32 || len(x) < rows || len(x)%rows != 0 {
		return nil, fmt.Errorf("trees: %d numbers for %d rows: there must be the same number for each row, and at least one", len(x), rows)
	}
	if bins < 2 || bins > MostBins {
		return nil, fmt.Errorf("trees: %d bins: from 2 to %d", bins, MostBins)
	}
	for i, v := range x {
		if f := float64(v); math.IsNaN(f) || math.IsInf(f, 0) {
			return nil, fmt.Errorf("trees: column %d of row %d is %g: give finite numbers", i/rows, i%rows, f)
		}
	}
	t := &Table{rows: rows, columns: len(x) / rows, bin: make([]uint8, len(x))}
	t.low, t.high = make([][]float64, t.columns), make([][]float64, t.columns)
	each(t.columns, func(k int) {
		from, to := k*rows, (k+1)*rows
		t.low[k], t.high[k] = binColumn(x[from:to], bins, t.bin[from:to])
	})
	return t, nil
}

// Rows and Columns are the table's size.
func (t *Table) Rows() int    { return t.rows }
func (t *Table) Columns() int { return t.columns }

// binColumn writes each value's bin and returns the bins' least and largest
// values.
func binColumn[T float32 | float64](x []T, bins int, to []uint8) (low, high []float64) {
	sorted := slices.Clone(x)
	slices.Sort(sorted)
	different := 1
	for i := 1; i < len(sorted); i++ {
		if sorted[i] != sorted[i-1] {
			different++
		}
	}
	var tops []T
	for i := 0; i < len(sorted); {
		want := 1
		if different > bins {
			// What is left, dealt out equally among the bins that are left.
			left := bins - len(tops)
			want = (len(sorted) - i + left - 1) / left
		}
		end := i + want
		for end < len(sorted) && sorted[end] == sorted[end-1] {
			end++
		}
		low, high = append(low, float64(sorted[i])), append(high, float64(sorted[end-1]))
		tops = append(tops, sorted[end-1])
		i = end
	}
	for i, v := range x {
		b, _ := slices.BinarySearch(tops, v)
		to[i] = uint8(b)
	}
	return low, high
}

// threshold lies between two bins of a column: at or below it are the values of
// the lower one and none of the upper one.
func (t *Table) threshold(column int, below, above uint8) float64 {
	a, b := t.high[column][below], t.low[column][above]
	if m := a/2 + b/2; m >= a && m < b {
		return m
	}
	return a
}
