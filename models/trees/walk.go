package trees

import (
	"iter"
	"slices"
)

// abreast is how many trees a row goes down at the same time: the processor need
// not wait for one with a step in another.
const abreast = 8

// walker is where a row stands in a tree: above so many splits, and leaves one more,
// with the places of the first of both.
type walker struct{ split, leaf, splits int32 }

// next takes a step. It is written so that it compiles without a branch: which
// side a row takes cannot be foretold.
func (w walker) next(s *split, row []float64) walker {
	to := walker{w.split + s.first, w.leaf + s.first, w.splits - s.first}
	if row[s.column] <= s.threshold {
		to = walker{w.split + 1, w.leaf, s.first - 1}
	}
	return to
}

// leavesOf finds a row's leaf in each of the trees, in their order.
func leavesOf(trees []*Tree, row []float64) iter.Seq[leaf] {
	return func(yield func(leaf) bool) {
		for some := range slices.Chunk(trees, abreast) {
			var at [abreast]walker
			descend(some, row, at[:len(some)])
			for i, t := range some {
				if !yield(t.leaves[at[i].leaf]) {
					return
				}
			}
		}
	}
}

// descend walks down trees step by step, all at the same time.
func descend(trees []*Tree, row []float64, at []walker) {
	for i, t := range trees {
		at[i] = walker{splits: int32(len(t.splits))}
	}
	for on := true; on; {
		on = false
		for i, t := range trees {
			if w := at[i]; w.splits > 0 {
				at[i], on = w.next(&t.splits[w.split], row), true
			}
		}
	}
}
