package report

import (
	"math"

	"strikerose/eval/bound"
)

// BoundOf is what a drawing of bounds shows.
type BoundOf int

const (
	BoundBearing BoundOf = iota // in degrees
	BoundHeight                 // in centimetres
)

// value picks it; +Inf where it cannot be told.
func (of BoundOf) value(l bound.Least) float64 {
	if of == BoundHeight {
		return 100 * l.HeightSDM
	}
	return l.BearingSDDeg
}

func (of BoundOf) words() string {
	if of == BoundHeight {
		return "least sd of the height, cm"
	}
	return "least sd of the bearing, degrees"
}

// shortly writes a bound with two digits, and what cannot be told as a dash.
func shortly(x float64) string {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return "–"
	}
	return twoDigits(x)
}

// reach is the least and the largest of the finite numbers above 0; ok is
// false when there are none.
func reach(numbers []float64) (least, most float64, ok bool) {
	least, most = math.Inf(1), 0
	for _, x := range numbers {
		if x > 0 && !math.IsInf(x, 0) {
			least, most = min(least, x), max(most, x)
		}
	}
	return least, most, most > 0
}
