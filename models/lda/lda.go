// Package lda is linear discriminant analysis: rows of features, each of one
// class, and for a new row the probability of each class (Fisher 1936, Annals of
// Eugenics 7; for several classes Rao 1948, JRSS B 10).
//
// Every class is a normal cloud about its own mean, and all share one
// covariance, so that the logarithms of the probabilities are linear in the
// features. The covariance may be shrunk toward its diagonal. The package knows
// nothing of strikes.
package lda

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Analysis is what a training set says of its classes.
type Analysis struct {
	Discriminant
	Means       [][]float64   // a row a class
	Priors      []float64     // share of each class
	Within      *mat.SymDense // covariance within classes, shrunk
	Scalings    [][]float64   // a row a feature, a column an axis; covariance 1 within classes along each
	Proportions []float64     // of the spread between class means, by axis, largest first
}

// Discriminant gives the probabilities of classes for a row.
type Discriminant struct {
	Coefficients [][]float64 `json:"coefficients"` // a row a class
	Intercepts   []float64   `json:"intercepts"`
}

// Options steers a fit.
type Options struct {
	Weights []float64 // of the rows, positive; nil: all 1
	Shrink  float64   // 0 takes the covariance as it is, 1 its diagonal alone
}

// Fit analyses rows x, equally long, of classes numbered from 0 without a gap.
//
// The covariance within classes is the sum of squares about the class means over
// the rows less the classes. A feature that does not vary within any class counts
// as if it varied by 1 on its own. A covariance without inverse, as without
// shrinkage of features that follow from one another, is an error.
func Fit(x [][]float64, class []int, o Options) (*Analysis, error) {
	classes, err := check(x, class, o)
	if err != nil {
		return nil, fmt.Errorf("lda: %w", err)
	}
	a := &Analysis{Means: make([][]float64, classes), Priors: make([]float64, classes)}
	n := len(x[0])
	weight := func(i int) float64 {
		if o.Weights == nil {
			return 1
		}
		return o.Weights[i]
	}
	for k := range a.Means {
		a.Means[k] = make([]float64, n)
	}
	var total float64
	for i, row := range x {
		w := weight(i)
		total += w
		a.Priors[class[i]] += w
		for p, v := range row {
			a.Means[class[i]][p] += w * v
		}
	}
	for k, m := range a.Means {
		for p := range m {
			m[p] /= a.Priors[k]
		}
	}
	for k := range a.Priors {
		a.Priors[k] /= total
	}

	a.Within = mat.NewSymDense(n, nil)
	data := a.Within.RawSymmetric().Data
	d := make([]float64, n)
	// Rows less classes, in units of the usual row's weight.
	freedom := total * math.Max(1-float64(classes)/float64(len(x)), 1/float64(len(x)))
	for i, row := range x {
		for p, v := range row {
			d[p] = v - a.Means[class[i]][p]
		}
		w := weight(i) / freedom
		for p, v := range d {
			for q := p; q < n; q++ {
				data[p*n+q] += w * v * d[q]
			}
		}
	}
	spread := make([]float64, n)
	for p := range n {
		var largest float64
		for _, row := range x {
			largest = math.Max(largest, math.Abs(row[p]))
		}
		if spread[p] = math.Sqrt(data[p*n+p]); spread[p] <= stillShare*largest {
			spread[p], data[p*n+p] = 1, 1
			for q := range n {
				if q != p {
					data[min(p, q)*n+max(p, q)] = 0
				}
			}
		}
	}
	for p := range n {
		for q := p + 1; q < n; q++ {
			data[p*n+q] *= 1 - o.Shrink
		}
	}
	return a, a.solve(spread)
}

// stillShare is the share of a whole that is but rounding: a spread so small
// against a feature's largest value is none.
const stillShare = 1e-12

func check(x [][]float64, class []int, o Options) (classes int, err error) {
	if len(x) == 0 || len(x[0]) == 0 || len(class) != len(x) || o.Weights != nil && len(o.Weights) != len(x) {
		return 0, fmt.Errorf("%d rows, %d classes and %d weights: give a class, and a weight or none, for each of at least one row of at least one feature", len(x), len(class), len(o.Weights))
	}
	if !(o.Shrink >= 0 && o.Shrink <= 1) {
		return 0, fmt.Errorf("shrinkage of %g: from 0 to 1", o.Shrink)
	}
	seen := map[int]bool{}
	for i, row := range x {
		if len(row) != len(x[0]) {
			return 0, fmt.Errorf("row %d has %d features, not %d", i, len(row), len(x[0]))
		}
		for p, v := range row {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return 0, fmt.Errorf("feature %d of row %d is %g: give finite numbers", p, i, v)
			}
		}
		if o.Weights != nil && !(o.Weights[i] > 0 && !math.IsInf(o.Weights[i], 0)) {
			return 0, fmt.Errorf("the weight of row %d is %g: give positive numbers", i, o.Weights[i])
		}
		seen[class[i]] = true
	}
	for k := range len(seen) {
		if !seen[k] {
			return 0, fmt.Errorf("%d classes, and none of them is class %d: number them from 0 without a gap", len(seen), k)
		}
	}
	return len(seen), nil
}

// solve finds what follows from means, shares and covariance, in units of each
// feature's spread within classes, so that features of any size weigh alike in
// rounding.
func (a *Analysis) solve(spread []float64) error {
	n := len(spread)
	correlation := mat.NewSymDense(n, nil)
	for p := range n {
		for q := p; q < n; q++ {
			correlation.SetSym(p, q, a.Within.At(p, q)/(spread[p]*spread[q]))
		}
	}
	var root mat.Cholesky
	if !root.Factorize(correlation) || root.Cond() > 1/stillShare {
		return errors.New("lda: the covariance within classes has no inverse: leave out features that follow from others, or shrink it")
	}
	means := make([][]float64, len(a.Means))
	for k, m := range a.Means {
		means[k] = make([]float64, n)
		for p, v := range m {
			means[k][p] = v / spread[p]
		}
		mean := mat.NewVecDense(n, means[k])
		var c mat.VecDense
		if err := root.SolveVecTo(&c, mean); err != nil {
			return fmt.Errorf("lda: %w", err)
		}
		a.Intercepts = append(a.Intercepts, math.Log(a.Priors[k])-mat.Dot(&c, mean)/2)
		coefficients := c.RawVector().Data
		for p := range coefficients {
			coefficients[p] /= spread[p]
		}
		a.Coefficients = append(a.Coefficients, coefficients)
	}
	return a.axes(&root, means, spread)
}

// axes finds the directions along which the class means lie farthest apart, in
// units of the spread within classes, by the singular values of the means
// after the covariance is made round.
func (a *Analysis) axes(root *mat.Cholesky, means [][]float64, spread []float64) error {
	classes, n := len(means), len(spread)
	dims := min(classes-1, n)
	a.Scalings = make([][]float64, n)
	if dims == 0 {
		return nil
	}
	centre := make([]float64, n)
	for k, m := range means {
		for p, v := range m {
			centre[p] += a.Priors[k] * v
		}
	}
	between := mat.NewDense(n, classes, nil)
	for k, m := range means {
		for p, v := range m {
			between.Set(p, k, math.Sqrt(a.Priors[k])*(v-centre[p]))
		}
	}
	var lower mat.TriDense
	root.LTo(&lower)
	var rounded mat.Dense
	if err := rounded.Solve(&lower, between); err != nil {
		return fmt.Errorf("lda: %w", err)
	}
	var svd mat.SVD
	if !svd.Factorize(&rounded, mat.SVDThin) {
		return errors.New("lda: no axes between the class means")
	}
	var u, scalings mat.Dense
	svd.UTo(&u)
	if err := scalings.Solve(lower.T(), &u); err != nil {
		return fmt.Errorf("lda: %w", err)
	}
	var sum float64
	for _, v := range svd.Values(nil)[:dims] {
		a.Proportions = append(a.Proportions, v*v)
		sum += v * v
	}
	for d := range a.Proportions {
		if sum > 0 {
			a.Proportions[d] /= sum
		}
	}
	for p := range a.Scalings {
		for _, v := range scalings.RawRowView(p)[:dims] {
			a.Scalings[p] = append(a.Scalings[p], v/spread[p])
		}
	}
	return nil
}

// Posterior writes the probability of each class for a row to out, which has a
// place for each.
func (d *Discriminant) Posterior(row, out []float64) {
	most := math.Inf(-1)
	for k, c := range d.Coefficients {
		out[k] = d.Intercepts[k]
		for p, w := range c {
			out[k] += w * row[p]
		}
		most = math.Max(most, out[k])
	}
	var sum float64
	for k, v := range out {
		out[k] = math.Exp(v - most)
		sum += out[k]
	}
	for k := range out {
		out[k] /= sum
	}
}

// Class is the most probable class of a row, the first among equals.
func (d *Discriminant) Class(row []float64) int {
	p := make([]float64, len(d.Intercepts))
	d.Posterior(row, p)
	best := 0
	for k, v := range p {
		if v > p[best] {
			best = k
		}
	}
	return best
}

// Check refuses a discriminant that does not answer rows of some width.
func (d *Discriminant) Check(width int) error {
	if len(d.Intercepts) == 0 || len(d.Coefficients) != len(d.Intercepts) {
		return fmt.Errorf("lda: %d rows of coefficients and %d intercepts", len(d.Coefficients), len(d.Intercepts))
	}
	for k, c := range d.Coefficients {
		if len(c) != width {
			return fmt.Errorf("lda: class %d: %d coefficients for %d features", k, len(c), width)
		}
		for _, v := range append([]float64{d.Intercepts[k]}, c...) {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("lda: class %d: a coefficient of %g", k, v)
			}
		}
	}
	return nil
}
