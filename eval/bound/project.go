package bound

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// indistinct is the share of a parameter's effect that has to be left when all
// others' are taken off it for the parameter to be told at all: far above
// rounding, far below what any window of use leaves.
const indistinct = 1e-9

// leastSD returns the Cramér-Rao bound on the standard deviation of one
// parameter. Each column holds the derivative of every reading by one
// parameter, over that reading's noise. What is left of the wanted column after
// the others are projected out has length 1/sd: the inverse of the Fisher
// information by blocks (Schur complement), without forming the matrix. It is
// +Inf where nothing is left, that is, where the information is singular and
// the parameter cannot be told from the others.
func leastSD(wanted []float64, others [][]float64) float64 {
	var basis [][]float64
	for _, c := range others {
		if left, ok := rest(c, basis); ok {
			floats.Scale(1/floats.Norm(left, 2), left)
			basis = append(basis, left)
		}
	}
	left, ok := rest(wanted, basis)
	if !ok {
		return math.Inf(1)
	}
	return 1 / floats.Norm(left, 2)
}

// rest returns a column less its part in the span of an orthonormal basis; ok
// is false where nothing but rounding is left. Gram-Schmidt, twice, which is
// enough (Giraud, Langou and Rozložník 2005).
func rest(column []float64, basis [][]float64) (left []float64, ok bool) {
	left = append([]float64(nil), column...)
	for range 2 {
		for _, b := range basis {
			floats.AddScaled(left, -floats.Dot(left, b), b)
		}
	}
	return left, floats.Norm(left, 2) > indistinct*floats.Norm(column, 2)
}
