package models

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// ridge minimises sum (row x - target)^2 + strength |x|^2 (Hoerl and Kennard
// 1970, Technometrics 12). Rows are equally long; strength is positive.
func ridge(rows [][]float64, target []float64, strength float64) ([]float64, error) {
	if len(rows) == 0 || len(rows[0]) == 0 {
		return nil, errors.New("ridge: no rows or no columns")
	}
	n := len(rows[0])
	normal := mat.NewSymDense(n, nil)
	data := normal.RawSymmetric().Data
	right := make([]float64, n)
	for i, row := range rows {
		for p, v := range row {
			right[p] += v * target[i]
			for q := p; q < n; q++ {
				data[p*n+q] += v * row[q]
			}
		}
	}
	for p := range n {
		data[p*n+p] += strength
	}
	var chol mat.Cholesky
	if !chol.Factorize(normal) {
		return nil, errors.New("ridge: features too large or not finite")
	}
	var x mat.VecDense
	if err := chol.SolveVecTo(&x, mat.NewVecDense(n, right)); err != nil {
		return nil, fmt.Errorf("ridge: %w", err)
	}
	return x.RawVector().Data, nil
}

// objective returns a function's value at x and writes its gradient to grad.
type objective func(x, grad []float64) float64

// minimise runs limited-memory BFGS (Nocedal 1980, Math. Comp. 35; the version
// of gonum) from start for at most steps iterations. It is deterministic.
// Where the line search can go no further, the best point is returned.
func minimise(ctx context.Context, start []float64, f objective, steps int) ([]float64, error) {
	best := append([]float64(nil), start...)
	scratch := make([]float64, len(start))
	lowest := f(best, scratch)
	if math.IsNaN(lowest) || math.IsInf(lowest, 0) {
		return nil, errors.New("fit: the starting point has no finite value")
	}
	// Function and gradient are asked for at the same place: keep the last.
	at := append([]float64(nil), start...)
	last := lowest
	evaluate := func(x []float64) float64 {
		if !math.IsNaN(last) && slices.Equal(x, at) {
			return last
		}
		copy(at, x)
		last = f(at, scratch)
		if last < lowest {
			lowest = last
			copy(best, x)
		}
		return last
	}
	problem := optimize.Problem{
		Func:   evaluate,
		Grad:   func(grad, x []float64) { evaluate(x); copy(grad, scratch) },
		Status: func() (optimize.Status, error) { return optimize.NotTerminated, ctx.Err() },
	}
	settings := &optimize.Settings{
		MajorIterations:   steps,
		GradientThreshold: 1e-7,
		Converger:         &optimize.FunctionConverge{Absolute: 1e-9, Relative: 1e-9, Iterations: 20},
	}
	_, err := optimize.Minimize(problem, start, settings, &optimize.LBFGS{})
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	_ = err // a line search that cannot go on is where the precision ends
	return best, nil
}
