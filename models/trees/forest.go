package trees

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
)

// Bagging says how a forest is grown.
type Bagging struct {
	Growth
	Trees int // each on as many rows as there are, drawn with replacement
}

// Forest is trees that were each grown on other rows. It is immutable and safe
// for concurrent use.
type Forest struct{ trees []*Tree }

// GrowForest grows a forest. Beside it, it returns what the trees that were grown
// without a row predict for it, in the order of the rows; where every tree saw a
// row, its mean is not a number.
func GrowForest(ctx context.Context, t *Table, y *Target, b Bagging, seed uint64) (*Forest, []Prediction, error) {
	if err := b.check(t, y); err != nil {
		return nil, nil, err
	}
	if b.Trees < 1 || b.Trees > MostTrees {
		return nil, nil, fmt.Errorf("trees: a forest of %d trees: from 1 to %d", b.Trees, MostTrees)
	}
	all := make([]*grown, b.Trees)
	leafOf := make([][]int32, b.Trees) // by row: its leaf where it is out of bag, else -1
	l := b.Criterion.likelihood()
	eachWorker(b.Trees, func(take func() (int, bool)) {
		g := newGrower(t, b.Growth, l)
		times := make([]uint16, t.rows)
		for i, ok := take(); ok && ctx.Err() == nil; i, ok = take() {
			rng := rand.New(rand.NewPCG(seed, uint64(i)))
			clear(times)
			for range t.rows {
				times[rng.IntN(t.rows)]++
			}
			g.start(y, times)
			all[i] = g.grow(rng)
			leafOf[i] = make([]int32, t.rows)
			for row := range leafOf[i] {
				leafOf[i][row] = -1
				if times[row] == 0 {
					leafOf[i][row] = all[i].leaf(t, row)
				}
			}
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, nil, err
	}
	f := &Forest{}
	for _, g := range all {
		f.trees = append(f.trees, g.tree)
	}
	out := make([]Prediction, t.rows)
	each(t.rows, func(row int) {
		var m mixture
		for i, tree := range f.trees {
			if leaf := leafOf[i][row]; leaf >= 0 {
				m.add(tree.leaves[leaf], y.bearings)
			}
		}
		out[row] = m.prediction(y.bearings)
	})
	return f, out, nil
}

// MostTrees bounds forests and boosting.
const MostTrees = 10000

// mixture is leaves' distributions in equal parts. Of numbers it also keeps the
// sum of squares about their running mean (Welford 1962, Technometrics 4).
type mixture struct {
	n      float64
	mean   complex128
	square float64
}

func (m *mixture) add(l leaf, bearings bool) {
	m.n++
	step := l.a - real(m.mean)
	if bearings {
		turn := l.b - imag(m.mean)
		m.mean += complex(step/m.n, turn/m.n)
		return
	}
	m.mean = complex(real(m.mean)+step/m.n, 0)
	m.square += l.b*l.b + step*(l.a-real(m.mean))
}

func (m *mixture) prediction(bearings bool) Prediction {
	switch {
	case m.n == 0:
		return Prediction{Mean: complex(math.NaN(), 0), SD: math.NaN()}
	case bearings:
		return Prediction{Mean: m.mean}
	}
	return Prediction{Mean: m.mean, SD: math.Sqrt(math.Max(m.square/m.n, 0))}
}

// Predict answers for a row, which must have as many features as the table had
// columns. What is not a number counts as large.
func (f *Forest) Predict(row []float64) Prediction {
	var m mixture
	for l := range leavesOf(f.trees, row) {
		m.add(l, f.Bearings())
	}
	return m.prediction(f.Bearings())
}

// Means is the mean that Predict gives each of many rows. Where they are many
// enough they are answered together, on all processors.
func (f *Forest) Means(rows [][]float64) []complex128 {
	out := make([]complex128, len(rows))
	if len(rows) < fewestRows {
		for i, row := range rows {
			out[i] = f.Predict(row).Mean
		}
		return out
	}
	eachBlock(rows, f.Columns(), func(from int, b *block) {
		mixtures := make([]mixture, b.rows)
		for _, t := range f.trees {
			b.through(t, func(l leaf, rows []uint16) {
				for _, r := range rows {
					mixtures[r].add(l, t.bearings)
				}
			})
		}
		for i, m := range mixtures {
			out[from+i] = m.mean
		}
	})
	return out
}

// Trees lists the trees. The caller must not change them.
func (f *Forest) Trees() []*Tree { return f.trees }

// Columns is how many features it was grown on.
func (f *Forest) Columns() int { return f.trees[0].columns }

// Bearings tells whether it answers with bearings.
func (f *Forest) Bearings() bool { return f.trees[0].bearings }

// Leaves counts the leaves of all trees.
func (f *Forest) Leaves() int {
	n := 0
	for _, t := range f.trees {
		n += len(t.leaves)
	}
	return n
}
