package trees

import "slices"

// blockRows is the most rows that go through a tree together: enough to share the
// work of fetching its splits, few enough to stay near at hand themselves.
// Fewer than fewestRows are sooner done one by one.
const (
	blockRows  = 1024
	fewestRows = 64
)

// block is rows on their way through trees.
type block struct {
	rows  int
	x     []float64 // their features, column-major
	order []uint16  // their numbers, as the last tree sorted them
}

// eachBlock cuts rows into blocks and does each, on all processors.
func eachBlock(rows [][]float64, columns int, do func(from int, b *block)) {
	eachWorker((len(rows)+blockRows-1)/blockRows, func(take func() (int, bool)) {
		b := &block{}
		for i, ok := take(); ok; i, ok = take() {
			from := i * blockRows
			b.fill(rows[from:min(from+blockRows, len(rows))], columns)
			do(from, b)
		}
	})
}

// fill takes other rows, in the room that it has.
func (b *block) fill(rows [][]float64, columns int) {
	n := len(rows)
	b.rows, b.x, b.order = n, slices.Grow(b.x[:0], n*columns)[:n*columns], b.order[:0]
	for i, row := range rows {
		b.order = append(b.order, uint16(i))
		for k, v := range row[:columns] {
			b.x[k*n+i] = v
		}
	}
}

// through hands over each leaf of a tree that any rows find, with their numbers.
func (b *block) through(t *Tree, arrive func(l leaf, rows []uint16)) {
	(&descent{b, t, arrive}).below(0, 0, len(t.splits), b.order)
}

// descent is a block on its way through one tree.
type descent struct {
	*block
	tree   *Tree
	arrive func(l leaf, rows []uint16)
}

// below sorts rows down the part of the tree that has so many splits, from one on,
// and leaves from one on. It calls itself for the fewer rows of two sides, so no
// tree however deep makes many calls within each other.
func (d *descent) below(split, leaf, splits int, rows []uint16) {
	for len(rows) > 0 {
		if splits == 0 {
			d.arrive(d.tree.leaves[leaf], rows)
			return
		}
		s := &d.tree.splits[split]
		first := int(s.first)
		k := part(rows, d.x[int(s.column)*d.rows:][:d.rows], s.threshold)
		if k <= len(rows)-k {
			d.below(split+1, leaf, first-1, rows[:k])
			split, leaf, splits, rows = split+first, leaf+first, splits-first, rows[k:]
		} else {
			d.below(split+first, leaf+first, splits-first, rows[k:])
			split, splits, rows = split+1, first-1, rows[:k]
		}
	}
}

// part moves the rows whose value is at or below the threshold to the front and
// returns how many they are. Like next, it compiles without a branch by row.
func part(rows []uint16, value []float64, threshold float64) int {
	n := 0
	for k, r := range rows {
		first := 0
		if value[r] <= threshold {
			first = 1
		}
		rows[k], rows[n] = rows[n], r
		n += first
	}
	return n
}
