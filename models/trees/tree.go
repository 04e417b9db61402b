package trees

import (
	"math"

	"strikerose/dataset/bearing"
)

// Tree is a regression tree. It is immutable and safe for concurrent use.
type Tree struct {
	bearings bool
	columns  int
	nodes    []node // a node's first child follows it
	leaves   []Leaf
}

// node is a split, or a leaf where column is negative.
type node struct {
	column    int32
	other     int32 // a split's second child, or the number of the leaf
	threshold float64
}

// Leaf is what the rows in one leaf have in common.
type Leaf struct {
	Rows int        // different ones
	Mean complex128 // of numbers, or the mean vector of bearings, exp(i b)
	SD   float64    // of numbers, over all rows in the leaf; 0 for bearings
}

// leaf finds a row's leaf.
func (t *Tree) leaf(row []float64) *Leaf {
	at := int32(0)
	for {
		n := &t.nodes[at]
		switch {
		case n.column < 0:
			return &t.leaves[n.other]
		case row[n.column] <= n.threshold:
			at++
		default:
			at = n.other
		}
	}
}

// Predict answers for a row, which must have as many features as the table had
// columns. What is not a number counts as large.
func (t *Tree) Predict(row []float64) Prediction {
	l := t.leaf(row)
	return Prediction{Mean: l.Mean, SD: l.SD}
}

// Leaves lists the leaves, from those at or below every threshold upward. The
// caller must not change them.
func (t *Tree) Leaves() []Leaf { return t.leaves }

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
	var open []int // second sides still to come of each split
	for _, n := range t.nodes {
		if n.column >= 0 {
			out = append(out, Split{Column: int(n.column), Threshold: n.threshold, Depth: len(open)})
			open = append(open, 1)
			continue
		}
		for len(open) > 0 && open[len(open)-1] == 0 {
			open = open[:len(open)-1]
		}
		if len(open) > 0 {
			open[len(open)-1]--
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
