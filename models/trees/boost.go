package trees

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"strikerose/dataset/bearing"
)

// Loss is what boosting makes small.
type Loss string

const (
	// Plane is the squared error of numbers, or of bearings as unit vectors in
	// the plane: a sum of vectors grows, whose direction is the answer, and a
	// strike can be turned right round by passing near 0.
	Plane Loss = "plane"
	// Angle is 1 - cos of a bearing's error, the von Mises likelihood at one
	// concentration: a sum of angles grows. Trees are split by the sine of what
	// is left, which is the gradient, and turn each leaf toward the mean
	// direction of what is left there.
	Angle Loss = "angle"
)

// Boosting says how trees are boosted.
type Boosting struct {
	Loss    Loss
	Depth   int     // most splits from the root to a leaf of a tree, at least 1
	MinLeaf int     // least different rows in a leaf; 0 is 1
	Rounds  int     // most trees
	Rate    float64 // share of each tree's step that is taken, over 0 to 1
	Rows    float64 // share of the rows that each tree sees, drawn anew; 0 is all
	Columns float64 // share of the columns that each tree may split on; 0 is all
	// Patience is how many rounds without less error on the rows held back end
	// the boosting.
	Patience int
}

func (b Boosting) check(t *Table, y *Target, held []bool) error {
	if err := (Growth{Depth: b.Depth, MinLeaf: b.MinLeaf}).check(t, y); err != nil {
		return err
	}
	share := func(x float64) bool { return x >= 0 && x <= 1 }
	switch {
	case b.Loss != Plane && b.Loss != Angle:
		return fmt.Errorf("trees: loss %q is unknown", b.Loss)
	case b.Loss == Angle && !y.bearings:
		return fmt.Errorf("trees: loss %q is for bearings: numbers are boosted by squared error", b.Loss)
	case b.Depth < 1 || b.Rounds < 1 || b.Rounds > MostTrees:
		return fmt.Errorf("trees: boosting by %d trees of depth %d: 1 to %d trees, and at least one split", b.Rounds, b.Depth, MostTrees)
	case !(b.Rate > 0 && b.Rate <= 1) || !share(b.Rows) || !share(b.Columns):
		return fmt.Errorf("trees: rate %g, share of rows %g, share of columns %g: all lie from 0 to 1, the rate above 0", b.Rate, b.Rows, b.Columns)
	case held != nil && len(held) != t.rows:
		return fmt.Errorf("trees: %d rows held back or not, of %d", len(held), t.rows)
	case held != nil && !slices.Contains(held, false):
		return fmt.Errorf("trees: every row is held back: none is left to learn from")
	case held != nil && b.Patience < 1:
		return fmt.Errorf("trees: patience %d with rows held back: at least 1", b.Patience)
	}
	return nil
}

// Boosted is a sum of trees. It is immutable and safe for concurrent use.
type Boosted struct {
	loss     Loss
	bearings bool
	columns  int
	start    complex128
	trees    []*Tree // their leaves hold steps: vectors, or angles in radians
}

// Boost fits a sum of trees, each to what the ones before it leave of the target
// (Friedman 2001, Ann. Stat. 29; on shares of the rows: Friedman 2002, Comput.
// Stat. Data Anal. 38). Rows that are held back (held) teach nothing; the trees
// end where the error on them was least. Without any, all rounds are run. Groups
// of rows that resemble each other belong on one side: hold back whole ones.
func Boost(ctx context.Context, t *Table, y *Target, b Boosting, held []bool, seed uint64) (*Boosted, error) {
	if err := b.check(t, y, held); err != nil {
		return nil, err
	}
	r := newBooster(t, y, b, held, seed)
	stops := held != nil && slices.Contains(held, true)
	best, least := 0, r.heldLoss()
	for round := 0; round < b.Rounds && !(stops && round >= best+b.Patience); round++ {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		r.step()
		if loss := r.heldLoss(); stops && loss < least {
			best, least = round+1, loss
		}
	}
	if stops {
		r.out.trees = r.out.trees[:best]
	}
	return r.out, nil
}

// booster is a boosting on its way.
type booster struct {
	Boosting
	table  *Table
	y      *Target
	held   []bool
	rng    *rand.Rand
	grower *grower
	free   []int        // rows not held back, in an order that changes
	state  []complex128 // by row: the sum so far, for Angle its unit vector
	left   []complex128 // by row: what it leaves
	times  []uint16
	out    *Boosted
}

func newBooster(t *Table, y *Target, b Boosting, held []bool, seed uint64) *booster {
	r := &booster{
		Boosting: b, table: t, y: y, held: held, rng: rand.New(rand.NewPCG(seed, 0)),
		state: make([]complex128, t.rows), left: make([]complex128, t.rows), times: make([]uint16, t.rows),
		out: &Boosted{loss: b.Loss, bearings: y.bearings, columns: t.columns},
	}
	r.grower = newGrower(t, Growth{Depth: b.Depth, MinLeaf: b.MinLeaf}, nil)
	r.grower.spread = true
	var sum complex128
	var w float64
	for i, z := range y.z {
		if held == nil || !held[i] {
			r.free = append(r.free, i)
			sum += complex(y.weightOf(i), 0) * z
			w += y.weightOf(i)
		}
	}
	r.out.start = complex(real(sum)/w, imag(sum)/w)
	if b.Loss == Angle {
		r.out.start = bearing.Unit(bearing.Of(sum))
	}
	for i := range r.state {
		r.state[i] = r.out.start
	}
	return r
}

// step adds a tree.
func (r *booster) step() {
	target := &Target{bearings: r.y.bearings && r.Loss == Plane, z: make([]complex128, len(r.y.z)), weight: r.y.weight}
	for i, z := range r.y.z {
		if r.Loss == Angle {
			r.left[i] = z * conj(r.state[i])
			target.z[i] = complex(imag(r.left[i]), 0)
		} else {
			r.left[i] = z - r.state[i]
			target.z[i] = r.left[i]
		}
	}
	r.draw()
	r.grower.start(target, r.times)
	r.grower.columns = r.drawColumns(r.grower.columns)
	g := r.grower.grow(r.rng)
	r.turn(g)
	for i := range r.state {
		step := g.tree.leaves[g.leaf(r.table, i)].mean(g.tree.bearings)
		if r.Loss == Angle {
			r.state[i] *= bearing.Unit(bearing.Deg(real(step)))
		} else {
			r.state[i] += step
		}
	}
	r.out.trees = append(r.out.trees, g.tree)
}

// draw picks the rows of a tree, each once.
func (r *booster) draw() {
	clear(r.times)
	n := len(r.free)
	if r.Rows > 0 {
		n = max(int(math.Round(r.Rows*float64(n))), 1)
	}
	for i := range n {
		if n < len(r.free) {
			j := i + r.rng.IntN(len(r.free)-i)
			r.free[i], r.free[j] = r.free[j], r.free[i]
		}
		r.times[r.free[i]] = 1
	}
}

// drawColumns picks the columns of a tree.
func (r *booster) drawColumns(all []int) []int {
	if r.Columns == 0 || r.Columns == 1 {
		return all
	}
	r.rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	all = all[:max(int(math.Round(r.Columns*float64(len(all)))), 1)]
	slices.Sort(all)
	return all
}

// turn makes a tree's leaves the steps that are taken: of vectors the mean of
// what is left, of angles the mean direction of what is left.
func (r *booster) turn(g *grown) {
	leaves := g.tree.leaves
	if r.Loss == Angle {
		left := make([]complex128, len(leaves))
		for _, m := range r.grower.members {
			left[g.leaf(r.table, int(m.row))] += complex(m.w, 0) * r.left[m.row]
		}
		for k, z := range left {
			leaves[k].a = math.Atan2(imag(z), real(z))
		}
	}
	for k, l := range leaves {
		z := l.mean(g.tree.bearings)
		leaves[k] = leaf{real(z) * r.Rate, imag(z) * r.Rate}
	}
}

// heldLoss is the summed loss on the rows held back.
func (r *booster) heldLoss() float64 {
	var sum float64
	for i, held := range r.held {
		if !held {
			continue
		}
		if r.Loss == Angle {
			sum += r.y.weightOf(i) * (1 - real(r.y.z[i]*conj(r.state[i])))
		} else {
			d := r.y.z[i] - r.state[i]
			sum += r.y.weightOf(i) * (real(d)*real(d) + imag(d)*imag(d))
		}
	}
	return sum
}

func conj(z complex128) complex128 { return complex(real(z), -imag(z)) }

// Sum is the sum of start and steps for a row, which must have as many features
// as the table had columns: of numbers the number, of bearings a vector whose
// direction is the bearing. What is not a number counts as large.
func (b *Boosted) Sum(row []float64) complex128 {
	sum := b.before()
	for l := range leavesOf(b.trees, row) {
		sum += l.mean(b.vectors())
	}
	return b.after(sum)
}

// Means is Sum for each of many rows. Where they are many enough they are
// answered together, on all processors.
func (b *Boosted) Means(rows [][]float64) []complex128 {
	out := make([]complex128, len(rows))
	if len(rows) < fewestRows {
		for i, row := range rows {
			out[i] = b.Sum(row)
		}
		return out
	}
	eachBlock(rows, b.columns, func(from int, k *block) {
		sums := out[from : from+k.rows]
		for i := range sums {
			sums[i] = b.before()
		}
		for _, t := range b.trees {
			k.through(t, func(l leaf, rows []uint16) {
				step := l.mean(b.vectors())
				for _, r := range rows {
					sums[r] += step
				}
			})
		}
		for i, sum := range sums {
			sums[i] = b.after(sum)
		}
	})
	return out
}

// vectors tells whether the trees' steps are vectors.
func (b *Boosted) vectors() bool { return b.bearings && b.loss == Plane }

// before is what the trees' steps are added to.
func (b *Boosted) before() complex128 {
	if b.loss == Angle {
		return 0
	}
	return b.start
}

// after is the answer that the steps come to, added up from before.
func (b *Boosted) after(steps complex128) complex128 {
	if b.loss == Angle {
		return b.start * bearing.Unit(bearing.Deg(real(steps)))
	}
	return steps
}

// Number is the number predicted for a row.
func (b *Boosted) Number(row []float64) float64 { return real(b.Sum(row)) }

// BearingDeg is the bearing predicted for a row, in [0, 360).
func (b *Boosted) BearingDeg(row []float64) float64 { return bearing.Of(b.Sum(row)) }

// Trees lists the trees, none where not even one made anything better. The
// caller must not change them.
func (b *Boosted) Trees() []*Tree { return b.trees }

// Columns is how many features it was grown on.
func (b *Boosted) Columns() int { return b.columns }

// Bearings tells whether it answers with bearings.
func (b *Boosted) Bearings() bool { return b.bearings }

// Leaves counts the leaves of all trees.
func (b *Boosted) Leaves() int {
	n := 0
	for _, t := range b.trees {
		n += len(t.leaves)
	}
	return n
}
