package trees

import (
	"fmt"
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"
)

// Growth says how a tree is grown.
type Growth struct {
	Criterion Criterion
	Depth     int // most splits from the root to a leaf; 0: as many as it takes
	MinLeaf   int // least different rows in a leaf; 0 is 1
	Try       int // columns that vary to try a split, drawn at random; 0: all
}

func (g Growth) check(t *Table, y *Target) error {
	switch {
	case len(y.z) != t.rows:
		return fmt.Errorf("trees: %d targets for %d rows", len(y.z), t.rows)
	case g.Depth < 0 || g.MinLeaf < 0 || g.Try < 0:
		return fmt.Errorf("trees: depth %d, %d rows a leaf, %d columns to try: none may be negative", g.Depth, g.MinLeaf, g.Try)
	case g.Criterion < SquaredError || g.Criterion > VonMises:
		return fmt.Errorf("trees: criterion %d is unknown", g.Criterion)
	case !y.bearings && g.Criterion != SquaredError:
		return fmt.Errorf("trees: criterion %d is for bearings: numbers are split by squared error", g.Criterion)
	}
	return nil
}

// Grow grows one tree on all rows. The seed matters only where columns are
// drawn (Growth.Try).
func Grow(t *Table, y *Target, g Growth, seed uint64) (*Tree, error) {
	if err := g.check(t, y); err != nil {
		return nil, err
	}
	r := newGrower(t, g, g.Criterion.likelihood())
	r.spread = true
	r.start(y, nil)
	return r.grow(rand.New(rand.NewPCG(seed, 0))).tree, nil
}

// grown is a tree with the bins that its splits keep on their first side, which
// place a row of the table without its features.
type grown struct {
	tree *Tree
	cut  []uint8 // by split
}

// leaf finds the number of the leaf of one of the table's rows.
func (g *grown) leaf(t *Table, row int) int32 {
	splits, cut, leaf := g.tree.splits, g.cut, int32(0)
	for len(splits) > 0 {
		first := splits[0].first
		if t.bin[int(splits[0].column)*t.rows+row] <= cut[0] {
			splits, cut = splits[1:first], cut[1:first]
		} else {
			splits, cut, leaf = splits[first:], cut[first:], leaf+first
		}
	}
	return leaf
}

// member is a row on its way down a tree.
type member struct {
	row int32
	side
}

// grower grows trees one after another, in room that it keeps.
type grower struct {
	Growth
	table      *Table
	likelihood *likelihood
	spread     bool // search columns on all processors where it is worth it

	members, room []member
	columns       []int // that may be split on, as drawn so far
	histogram     histogram
	found         []candidate // by column

	rng      *rand.Rand
	z        []complex128 // targets, for the leaves
	weights  []float64    // by row, for the leaves
	bearings bool
	out      *grown
}

func newGrower(t *Table, g Growth, l *likelihood) *grower {
	g.MinLeaf = max(g.MinLeaf, 1)
	return &grower{Growth: g, table: t, likelihood: l, weights: make([]float64, t.rows), found: make([]candidate, t.columns)}
}

// start takes the rows that a tree is to be grown on; times says how often each
// counts, nil once. Numbers are moved to mean 0 and spread 1, so that rounding
// errors mean the same in any unit.
func (g *grower) start(y *Target, times []uint16) {
	g.z, g.bearings, g.members = y.z, y.bearings, g.members[:0]
	var all side
	var square float64
	for i, z := range y.z {
		w := y.weightOf(i)
		if times != nil {
			w *= float64(times[i])
		}
		if g.weights[i] = w; w == 0 {
			continue
		}
		all.add(side{w, w * real(z), w * imag(z)})
		square += w * real(z) * real(z)
		g.members = append(g.members, member{int32(i), side{w: w}})
	}
	centre, scale := complex(0, 0), 1.0
	if !y.bearings {
		m := all.a / all.w
		centre = complex(m, 0)
		if v := square/all.w - m*m; v > 0 {
			scale = 1 / math.Sqrt(v)
		}
	}
	for i := range g.members {
		m := &g.members[i]
		z := y.z[m.row] - centre
		m.a, m.b = m.w*real(z)*scale, m.w*imag(z)*scale
	}
	if cap(g.room) < len(g.members) {
		g.room = make([]member, len(y.z))
	}
	g.columns = g.columns[:0]
	for k := range g.table.columns {
		g.columns = append(g.columns, k)
	}
}

// grow grows a tree on the rows taken.
func (g *grower) grow(rng *rand.Rand) *grown {
	g.rng = rng
	g.out = &grown{tree: &Tree{bearings: g.bearings, columns: g.table.columns}}
	g.node(0, len(g.members), 0)
	t := g.out.tree
	t.splits, t.leaves, t.rows = slices.Clone(t.splits), slices.Clone(t.leaves), slices.Clone(t.rows) // without room to grow
	return g.out
}

// node grows the tree below one node, whose rows are members from to to.
func (g *grower) node(from, to, depth int) {
	t := g.out.tree
	best := candidate{column: -1}
	if to-from >= 2*g.MinLeaf && (g.Depth == 0 || depth < g.Depth) {
		best = g.best(g.members[from:to])
	}
	if best.column < 0 {
		t.leaves = append(t.leaves, g.leaf(g.members[from:to]))
		t.rows = append(t.rows, int32(to-from))
		return
	}
	middle := from + g.part(g.members[from:to], best)
	at := len(t.splits)
	t.splits = append(t.splits, split{threshold: g.table.threshold(best.column, best.below, best.above), column: int32(best.column)})
	g.out.cut = append(g.out.cut, best.below)
	g.node(from, middle, depth+1)
	t.splits[at].first = int32(len(t.splits) - at)
	g.node(middle, to, depth+1)
}

// part moves the members of a split's first side to the front, all in the order
// that they had, and returns how many they are.
func (g *grower) part(members []member, s candidate) int {
	bin := g.table.bin[s.column*g.table.rows:]
	n, others := 0, g.room[:0]
	for _, m := range members {
		if bin[m.row] <= s.below {
			members[n] = m
			n++
		} else {
			others = append(others, m)
		}
	}
	copy(members[n:], others)
	return n
}

// leaf sums up the members of a leaf, from the targets as they were given.
func (g *grower) leaf(members []member) leaf {
	var w, square float64
	var sum complex128
	for _, m := range members {
		w += g.weights[m.row]
		sum += complex(g.weights[m.row], 0) * g.z[m.row]
	}
	l := leaf{real(sum) / w, imag(sum) / w}
	if !g.bearings {
		for _, m := range members {
			d := real(g.z[m.row]) - l.a
			square += g.weights[m.row] * d * d
		}
		l.b = math.Sqrt(square / w)
	}
	return l
}

// candidate is the best split of a node by one column; column is negative where no
// split makes anything better.
type candidate struct {
	column       int
	below, above uint8 // neighbouring bins with rows, on the first side and on the second
	gain         float64
	varies       bool // the column has more than one value in the node
}

// manyCells is from how many rows times columns on a node is searched on all
// processors: below it, waking them takes longer than the search.
const manyCells = 1 << 15

// best finds the best split of a node over the columns, all or as many as are to
// be tried. Of splits that are equally good to rounding error the first counts.
func (g *grower) best(members []member) candidate {
	all := side{}
	for _, m := range members {
		all.add(m.side)
	}
	best := candidate{column: -1}
	better := func(s candidate) {
		if s.column >= 0 && (best.column < 0 || s.gain > best.gain+rounding*all.w) {
			best = s
		}
	}
	switch {
	case g.Try > 0 && g.Try < len(g.columns):
		tried := 0
		for i := 0; i < len(g.columns) && tried < g.Try; i++ {
			j := i + g.rng.IntN(len(g.columns)-i)
			g.columns[i], g.columns[j] = g.columns[j], g.columns[i]
			if s := g.search(&g.histogram, g.columns[i], members, all); s.varies {
				tried++
				better(s)
			}
		}
	case g.spread && len(members)*len(g.columns) > manyCells:
		eachWorker(len(g.columns), func(take func() (int, bool)) {
			h := &histogram{}
			for i, ok := take(); ok; i, ok = take() {
				g.found[i] = g.search(h, g.columns[i], members, all)
			}
		})
		for _, s := range g.found[:len(g.columns)] {
			better(s)
		}
	default:
		for _, k := range g.columns {
			better(g.search(&g.histogram, k, members, all))
		}
	}
	return best
}

// rounding is how much better a split must be a row, in a worth that is at most
// some units a row, to be more than a rounding error. The likelihood's slope is up
// to half a million where bearings agree: it makes 1e-9 of the last bits of a sum.
const rounding = 1e-8

// histogram is the sums of a node's members by bin; filled marks the bins that
// have any. It is empty between searches.
type histogram struct {
	cell   [MostBins + 1]cell
	filled [(MostBins + 1) / 64]uint64
}

type cell struct {
	side
	rows int
}

// search finds the best split by one column.
func (g *grower) search(h *histogram, column int, members []member, all side) candidate {
	bin := g.table.bin[column*g.table.rows:][:g.table.rows]
	for i := range members {
		m := &members[i]
		b := bin[m.row]
		c := &h.cell[b]
		c.rows++
		c.add(m.side)
		h.filled[b>>6] |= 1 << (b & 63)
	}
	best := candidate{column: -1}
	least := g.Criterion.worth(all, g.likelihood)
	first := cell{}
	last, any := uint8(0), false
	for word := range h.filled {
		for set := h.filled[word]; set != 0; set &= set - 1 {
			b := uint8(word<<6 + bits.TrailingZeros64(set))
			if any {
				best.varies = true
				if first.rows >= g.MinLeaf && len(members)-first.rows >= g.MinLeaf {
					gain := g.Criterion.worth(first.side, g.likelihood) + g.Criterion.worth(all.without(first.side), g.likelihood) - least
					if gain > best.gain+rounding*all.w {
						best.column, best.below, best.above, best.gain = column, last, b, gain
					}
				}
			}
			first.add(h.cell[b].side)
			first.rows += h.cell[b].rows
			h.cell[b] = cell{}
			last, any = b, true
		}
		h.filled[word] = 0
	}
	return best
}
