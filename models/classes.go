package models

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"strikerose/dataset/bearing"
	"strikerose/models/lda"
)

// Classes are slices of a target, with what tells them apart.
type Classes struct {
	lda.Discriminant
	Means []float64 `json:"means"` // of the target in each class
}

// fewestInSlice is the size of a slice, a strike and its mirror image counted as
// two. On simulated recordings slices of 10, and 5 to 30 of them, erred alike.
const fewestInSlice = 16

// classTarget is what classes are to tell of each row, and the class of each.
type classTarget struct {
	values, weights []float64
	class           []int
	classes         int
}

// add takes a strike's value and its mirror image's.
func (t *classTarget) add(weight, value, mirrored float64) {
	t.values, t.weights = append(t.values, value, mirrored), append(t.weights, weight, weight)
}

// part puts the rows into classes: values of one group into slices of about
// equally many, as many as they fill, at most so many. Equal values share a
// class. At most one slice puts all rows into one class.
func (t *classTarget) part(most int, group func(value float64) int) {
	t.class, t.classes = make([]int, len(t.values)), 1
	if most <= 1 {
		return
	}
	order := make([]int, len(t.values))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(group(t.values[a]), group(t.values[b])), cmp.Compare(t.values[a], t.values[b]))
	})
	t.classes = 0
	for from := 0; from < len(order); {
		of := group(t.values[order[from]])
		to := from
		for to < len(order) && group(t.values[order[to]]) == of {
			to++
		}
		n := min(max((to-from)/fewestInSlice, 1), most)
		slice := -1
		for k := from; k < to; k++ {
			if s := (k - from) * n / (to - from); s != slice && (k == from || t.values[order[k]] != t.values[order[k-1]]) {
				slice = s
				t.classes++
			}
			t.class[order[k]] = t.classes - 1
		}
		from = to
	}
}

// learn analyses the classes on rows of features.
func (t *classTarget) learn(x [][]float64, shrink float64, mean func(values, weights []float64) float64) (*Classes, error) {
	a, err := lda.Fit(x, t.class, lda.Options{Weights: t.weights, Shrink: shrink})
	if err != nil {
		return nil, err
	}
	c := &Classes{Discriminant: a.Discriminant}
	for k := range t.classes {
		var values, weights []float64
		for i, of := range t.class {
			if of == k {
				values, weights = append(values, t.values[i]), append(weights, t.weights[i])
			}
		}
		c.Means = append(c.Means, mean(values, weights))
	}
	return c, nil
}

// circularMean is the mean of bearings within half a turn of 0, plainMean that
// of numbers.
func circularMean(deg, weights []float64) float64 {
	m, _ := bearing.WeightedMean(deg, weights)
	return bearing.Wrap180(m)
}

func plainMean(x, weights []float64) float64 {
	var sum, total float64
	for i, v := range x {
		sum += weights[i] * v
		total += weights[i]
	}
	return sum / total
}

// direction is the mean vector of the classes' bearings for a row.
func (c *Classes) direction(row []float64) (z complex128) {
	for k, p := range c.probabilities(row) {
		z += complex(p, 0) * bearing.Unit(c.Means[k])
	}
	return z
}

// number is the mean of the classes' numbers for a row.
func (c *Classes) number(row []float64) (mean float64) {
	for k, p := range c.probabilities(row) {
		mean += p * c.Means[k]
	}
	return mean
}

func (c *Classes) probabilities(row []float64) []float64 {
	p := make([]float64, len(c.Means))
	c.Posterior(row, p)
	return p
}

func (c *Classes) check(width int) error {
	if err := c.Check(width); err != nil {
		return err
	}
	if len(c.Means) != len(c.Intercepts) {
		return fmt.Errorf("%d means for %d classes", len(c.Means), len(c.Intercepts))
	}
	for _, m := range c.Means {
		if math.Abs(m) > tooLarge {
			return fmt.Errorf("a class with a mean of %g", m)
		}
	}
	return nil
}
