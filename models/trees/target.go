package trees

import (
	"fmt"
	"math"

	"strikerose/dataset/bearing"
)

// Target is what trees are to tell of each row: a number or a bearing.
type Target struct {
	bearings bool
	z        []complex128 // the number, or exp(i bearing)
	weight   []float64    // nil: all 1
}

// Numbers makes a target of one number a row; nil weights are all 1.
func Numbers(y, weights []float64) (*Target, error) {
	t := &Target{z: make([]complex128, len(y)), weight: weights}
	for i, v := range y {
		t.z[i] = complex(v, 0)
	}
	return t, t.check(y)
}

// Bearings makes a target of one bearing in degrees a row; nil weights are all 1.
func Bearings(deg, weights []float64) (*Target, error) {
	t := &Target{bearings: true, z: make([]complex128, len(deg)), weight: weights}
	for i, v := range deg {
		t.z[i] = bearing.Unit(v)
	}
	return t, t.check(deg)
}

func (t *Target) check(y []float64) error {
	if t.weight != nil && len(t.weight) != len(y) {
		return fmt.Errorf("trees: %d weights for %d targets", len(t.weight), len(y))
	}
	for i, v := range y {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("trees: the target of row %d is %g: give finite numbers", i, v)
		}
	}
	for i, w := range t.weight {
		if !(w > 0) || math.IsInf(w, 0) {
			return fmt.Errorf("trees: the weight of row %d is %g: give positive numbers", i, w)
		}
	}
	return nil
}

func (t *Target) weightOf(row int) float64 {
	if t.weight == nil {
		return 1
	}
	return t.weight[row]
}
