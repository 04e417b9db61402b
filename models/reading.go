package models

import (
	"math"

	"strikerose/features"
)

// tooLarge bounds what a feature may say: no sensor reads a thousandth of it,
// and squares of it stay finite.
const tooLarge = 1e9

// vectors reads vector features, y + i x. A part that is no number or beyond
// reason counts as 0, and whole says that there was none.
func vectors(row features.Row, names []string, dst []complex128) (z []complex128, whole bool) {
	dst, whole = dst[:0], true
	for _, n := range names {
		v := row.Vector(n)
		re, ok1 := sane(real(v))
		im, ok2 := sane(imag(v))
		whole = whole && ok1 && ok2
		dst = append(dst, complex(re, im))
	}
	return dst, whole
}

// scalars reads scalar features in the same way.
func scalars(row features.Row, names []string, dst []float64) (x []float64, whole bool) {
	dst, whole = dst[:0], true
	for _, n := range names {
		v, ok := sane(row.Scalar(n))
		whole = whole && ok
		dst = append(dst, v)
	}
	return dst, whole
}

func sane(v float64) (float64, bool) {
	if math.IsNaN(v) || math.Abs(v) > tooLarge {
		return 0, false
	}
	return v, true
}

// size2 is |z|^2.
func size2(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

// unit is z/|z|, 1 for a vector without length.
func unit(z complex128) complex128 {
	n := math.Hypot(real(z), imag(z))
	if !(n > 0) {
		return 1
	}
	return complex(real(z)/n, imag(z)/n)
}

// along is the part of z along the unit vector u, across the part to its left
// (u turned by +i, which is clockwise: toward growing bearing).
func along(z, u complex128) float64  { return real(z)*real(u) + imag(z)*imag(u) }
func across(z, u complex128) float64 { return imag(z)*real(u) - real(z)*imag(u) }

// hasGyro tells whether a row comes from a window with rotation rates. It asks for
// those before the onset, which every wait leaves.
func hasGyro(row features.Row) bool { return row.Has("rock_before") }
