package trees

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
)

// treeJSON is a tree in a file. Nodes come in the order of a walk that enters a
// split's first side before its second, so that the list of columns alone makes
// the tree, and no list of numbers can make a walk that never ends.
type treeJSON struct {
	Columns    int       `json:"columns"`        // of the features
	Split      []int     `json:"split"`          // by node: column, -1 for a leaf
	Thresholds []float64 `json:"thresholds"`     // by split
	Rows       []int     `json:"rows"`           // by leaf
	Mean       []float64 `json:"mean"`           // by leaf: of numbers, or of cosines of bearings
	Sine       []float64 `json:"sine,omitempty"` // by leaf, of bearings
	SD         []float64 `json:"sd,omitempty"`   // by leaf, of numbers; absent: all 0
}

// MarshalJSON writes the tree.
func (t *Tree) MarshalJSON() ([]byte, error) {
	f := treeJSON{Columns: t.columns, Thresholds: []float64{}}
	leaves := func(to int) { // all up to that number, of which some are written
		for n := len(f.Split) - len(f.Thresholds); n < to; n++ {
			f.Split = append(f.Split, -1)
		}
	}
	for i, p := range t.places() {
		leaves(p.leaf)
		f.Split = append(f.Split, int(t.splits[i].column))
		f.Thresholds = append(f.Thresholds, t.splits[i].threshold)
	}
	leaves(len(t.leaves))
	for i, l := range t.leaves {
		f.Rows, f.Mean = append(f.Rows, int(t.rows[i])), append(f.Mean, l.a)
		if t.bearings {
			f.Sine = append(f.Sine, l.b)
		} else {
			f.SD = append(f.SD, l.b)
		}
	}
	if !slices.ContainsFunc(f.SD, func(sd float64) bool { return sd != 0 }) {
		f.SD = nil // steps of boosting have none
	}
	return json.Marshal(f)
}

// UnmarshalJSON reads what MarshalJSON wrote. Whatever it accepts answers every
// row of the width stated without a panic.
func (t *Tree) UnmarshalJSON(data []byte) error {
	var f treeJSON
	if err := strict(data, &f); err != nil {
		return fmt.Errorf("tree: %w", err)
	}
	if f.Columns < 1 || f.Columns > math.MaxInt32 {
		return fmt.Errorf("tree: of %d columns", f.Columns)
	}
	out := Tree{columns: f.Columns, bearings: f.Sine != nil}
	if err := out.shape(f); err != nil {
		return fmt.Errorf("tree: %w", err)
	}
	n := len(f.Split)/2 + 1 // a tree has one leaf more than splits
	if len(f.Thresholds) != n-1 || len(f.Rows) != n || len(f.Mean) != n || f.Sine != nil && (len(f.Sine) != n || f.SD != nil) || f.SD != nil && len(f.SD) != n {
		return fmt.Errorf("tree: %d thresholds, and %d rows, %d means, %d sines and %d spreads of leaves do not fit %d splits and %d leaves",
			len(f.Thresholds), len(f.Rows), len(f.Mean), len(f.Sine), len(f.SD), n-1, n)
	}
	out.leaves, out.rows = make([]leaf, n), make([]int32, n)
	for i, rows := range f.Rows {
		l := leaf{a: f.Mean[i]}
		if out.bearings {
			l.b = f.Sine[i]
		} else if f.SD != nil {
			l.b = f.SD[i]
		}
		if sd := l.sd(out.bearings); rows < 1 || rows > math.MaxInt32 || !(sd >= 0) {
			return fmt.Errorf("tree: leaf %d: %d rows with spread %g", i, rows, sd)
		}
		out.leaves[i], out.rows[i] = l, int32(rows)
	}
	*t = out
	return nil
}

// shape builds the splits from the list of columns.
func (t *Tree) shape(f treeJSON) error {
	var open []int // splits whose second side has not begun
	t.splits = make([]split, 0, len(f.Thresholds))
	leaves := int32(0)
	for i, column := range f.Split {
		if i > 0 && f.Split[i-1] < 0 { // a leaf ended a first side
			if len(open) == 0 {
				return fmt.Errorf("node %d comes after the end", i)
			}
			s := &t.splits[open[len(open)-1]]
			s.first = leaves - s.first
			open = open[:len(open)-1]
		}
		if column < 0 {
			leaves++
			continue
		}
		if column >= f.Columns || len(t.splits) >= len(f.Thresholds) {
			return fmt.Errorf("node %d: a split by column %d of %d, with %d thresholds for all splits", i, column, f.Columns, len(f.Thresholds))
		}
		open = append(open, len(t.splits))
		t.splits = append(t.splits, split{threshold: f.Thresholds[len(t.splits)], column: int32(column), first: leaves})
	}
	if len(f.Split) == 0 || len(open) > 0 || f.Split[len(f.Split)-1] >= 0 {
		return fmt.Errorf("its %d nodes are cut off", len(f.Split))
	}
	return nil
}

// alike refuses trees of different widths or kinds.
func alike(trees []*Tree) error {
	for i, t := range trees {
		if t == nil {
			return fmt.Errorf("tree %d is missing", i)
		}
		if t.columns != trees[0].columns || t.bearings != trees[0].bearings {
			return fmt.Errorf("tree %d differs from the first in its columns or kind", i)
		}
	}
	if len(trees) > MostTrees {
		return fmt.Errorf("%d trees: at most %d", len(trees), MostTrees)
	}
	return nil
}

// MarshalJSON writes the forest as a list of its trees.
func (f *Forest) MarshalJSON() ([]byte, error) { return json.Marshal(f.trees) }

// UnmarshalJSON reads what MarshalJSON wrote.
func (f *Forest) UnmarshalJSON(data []byte) error {
	var trees []*Tree
	if err := strict(data, &trees); err != nil {
		return fmt.Errorf("forest: %w", err)
	}
	if len(trees) == 0 {
		return errors.New("forest: it has no trees")
	}
	if err := alike(trees); err != nil {
		return fmt.Errorf("forest: %w", err)
	}
	f.trees = trees
	return nil
}

// boostedJSON is a sum of trees in a file.
type boostedJSON struct {
	Loss      Loss     `json:"loss"`
	Columns   int      `json:"columns"`
	Start     float64  `json:"start"`
	StartSine *float64 `json:"start_sine,omitempty"` // of bearings, for which start is a cosine
	Trees     []*Tree  `json:"trees"`
}

// MarshalJSON writes the sum of trees.
func (b *Boosted) MarshalJSON() ([]byte, error) {
	f := boostedJSON{Loss: b.loss, Columns: b.columns, Start: real(b.start), Trees: append([]*Tree{}, b.trees...)}
	if b.bearings {
		sine := imag(b.start)
		f.StartSine = &sine
	}
	return json.Marshal(f)
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (b *Boosted) UnmarshalJSON(data []byte) error {
	var f boostedJSON
	if err := strict(data, &f); err != nil {
		return fmt.Errorf("boosted trees: %w", err)
	}
	out := Boosted{loss: f.Loss, bearings: f.StartSine != nil, columns: f.Columns, start: complex(f.Start, 0), trees: f.Trees}
	if out.bearings {
		out.start = complex(f.Start, *f.StartSine)
	}
	if f.Columns < 1 {
		return fmt.Errorf("boosted trees: of %d columns", f.Columns)
	}
	if f.Loss != Plane && !(f.Loss == Angle && out.bearings) {
		return fmt.Errorf("boosted trees: loss %q is unknown or not for this target", f.Loss)
	}
	if err := alike(f.Trees); err != nil {
		return fmt.Errorf("boosted trees: %w", err)
	}
	if len(f.Trees) > 0 && (f.Trees[0].columns != f.Columns || f.Trees[0].bearings != (out.bearings && f.Loss == Plane)) {
		return errors.New("boosted trees: the trees are of other columns or of another kind than the sum")
	}
	*b = out
	return nil
}

// strict decodes one JSON value and refuses unknown fields and what follows it.
func strict(data []byte, to any) error {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(to); err != nil {
		return err
	}
	if d.More() {
		return errors.New("more than one JSON value")
	}
	return nil
}
