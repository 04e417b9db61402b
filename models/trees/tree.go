package trees

import (
	"math"

	"strikerose/dataset/bearing"
)

// Tree is a regression tree. It is immutable and safe for concurrent use.
type Tree struct {
	bearings bool
	columns  int
	splits   []split // each before those on its first side, and these before those on its second
	leaves   []leaf  // from those at or below every threshold upward
	rows     []int32 // by leaf: see Leaf
}

// split parts rows in two sides: what lies below it are the splits that follow it,
// and leaves. With n leaves on the first side, these are the first n of them, and
// the n-1 splits that follow next are those between them. That is all that tells
// where a side begins and ends, so that a tree takes few lines of the processor's
// cache.
type split struct {
	threshold float64 // at or below it a row goes to the first side
	column    int32
	first     int32 // leaves on the first side
}

// leaf is what a tree answers: of a number mean and standard deviation, of a
// bearing cosine and sine of the mean vector.
type leaf struct{ a, b float64 }

func (l leaf) mean(bearings bool) complex128 {
	if bearings {
		return complex(l.a, l.b)
	}
	return complex(l.a, 0)
}

func (l leaf) sd(bearings bool) float64 {
	if bearings {
		return 0
	}
	return l.b
}

// leaf finds a row's leaf.
func (t *Tree) leaf(row []float64) leaf {
	splits, leaves := t.splits, t.leaves
	for len(splits) > 0 {
		s := &splits[0]
		if row[s.column] <= s.threshold {
			splits, leaves = splits[1:s.first], leaves[:s.first]
		} else {
			splits, leaves = splits[s.first:], leaves[s.first:]
		}
	}
	return leaves[0]
}

// Predict answers for a row, which must have as many features as the table had
// columns. What is not a number counts as large.
func (t *Tree) Predict(row []float64) Prediction {
	l := t.leaf(row)
	return Prediction{Mean: l.mean(t.bearings), SD: l.sd(t.bearings)}
}

// Leaf is what the rows in one leaf have in common.
type Leaf struct {
	Rows int        // different ones
	Mean complex128 // of numbers, or the mean vector of bearings, exp(i b)
	SD   float64    // of numbers, over all rows in the leaf; 0 for bearings
}

// Leaves lists the leaves, from those at or below every threshold upward.
func (t *Tree) Leaves() []Leaf {
	out := make([]Leaf, len(t.leaves))
	for i, l := range t.leaves {
		out[i] = Leaf{Rows: int(t.rows[i]), Mean: l.mean(t.bearings), SD: l.sd(t.bearings)}
	}
	return out
}

// Columns is how many features it was grown on.
func (t *Tree) Columns() int { return t.columns }

// Split is a place where a tree parts its rows.
type Split struct {
	Column    int
	Threshold float64 // at or below it a row goes to the first side
	Depth     int     // 0 at the root
}

// Splits lists the splits, each before those on its first side and these before
// those on its second side.
func (t *Tree) Splits() []Split {
	var out []Split
	for i, p := range t.places() {
		out = append(out, Split{Column: int(t.splits[i].column), Threshold: t.splits[i].threshold, Depth: p.depth})
	}
	return out
}

// place is where a split stands in its tree.
type place struct {
	depth int // 0 at the root
	leaf  int // the first below it
	end   int // of the splits below it
}

// places lists where the splits stand.
func (t *Tree) places() []place {
	out := make([]place, len(t.splits))
	if len(out) > 0 {
		out[0].end = len(out)
	}
	for i, p := range out {
		first := int(t.splits[i].first)
		if first > 1 {
			out[i+1] = place{depth: p.depth + 1, leaf: p.leaf, end: i + first}
		}
		if i+first < p.end {
			out[i+first] = place{depth: p.depth + 1, leaf: p.leaf + first, end: p.end}
		}
	}
	return out
}

// Prediction is a distribution that is predicted for a row. For a number it has
// a mean and a standard deviation, for a bearing a mean vector.
type Prediction struct {
	Mean complex128 // the number, or the mean of exp(i bearing)
	SD   float64    // of a number; 0 for a bearing
}

// Number is the mean of a number.
func (p Prediction) Number() float64 { return real(p.Mean) }

// BearingDeg is the mean bearing in [0, 360).
func (p Prediction) BearingDeg() float64 { return bearing.Of(p.Mean) }

// R is the mean resultant length of a bearing, from 0 to 1.
func (p Prediction) R() float64 { return math.Min(math.Hypot(real(p.Mean), imag(p.Mean)), 1) }

// Kappa is the concentration of the von Mises distribution with that mean vector.
func (p Prediction) Kappa() float64 { return bearing.A1Inv(p.R()) }
