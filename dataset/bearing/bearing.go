// Package bearing is the one place where angles wrap.
//
// A bearing is in degrees, clockwise seen from above, 0 at the middle of face
// 1. Horizontal vectors are written as complex numbers y + i x, with +y
// through bearing 0 and +x through bearing 90, so that exp(i b) points to
// bearing b and turning a vector clockwise by a is multiplication by exp(i a).
package bearing

import "math"

// Wrap360 returns deg wrapped to [0, 360). NaN and infinities give NaN.
func Wrap360(deg float64) float64 {
	w := math.Mod(deg, 360)
	if w < 0 {
		w += 360
	}
	if w >= 360 { // -1e-15 + 360 rounds to 360
		w = 0
	}
	return w
}

// Wrap180 returns deg wrapped to (-180, 180]. NaN and infinities give NaN.
func Wrap180(deg float64) float64 {
	w := Wrap360(deg)
	if w > 180 {
		w -= 360
	}
	return w
}

// Diff returns how far a lies clockwise of b, in (-180, 180] degrees. It is
// the bearing error when a is the estimate and b the truth.
func Diff(a, b float64) float64 { return Wrap180(a - b) }

// Rad converts degrees to radians.
func Rad(deg float64) float64 { return deg * math.Pi / 180 }

// Deg converts radians to degrees.
func Deg(rad float64) float64 { return rad * 180 / math.Pi }

// Unit returns exp(i deg), the complex number that points to a bearing.
func Unit(deg float64) complex128 {
	s, c := math.Sincos(Rad(deg))
	return complex(c, s)
}

// FromVector returns the bearing in [0, 360) that the horizontal vector
// (x toward bearing 90, y toward bearing 0) points to; 0 for a zero vector.
func FromVector(x, y float64) float64 { return Wrap360(Deg(math.Atan2(x, y))) }

// Of returns the bearing in [0, 360) of a complex vector y + i x.
func Of(z complex128) float64 { return FromVector(imag(z), real(z)) }

// FaceOf returns the face, 1 to faces, whose sector holds the bearing. Each
// sector is half open: its anticlockwise edge belongs to it. It returns 0
// when faces is not positive or the bearing is not a number.
func FaceOf(deg float64, faces int) int {
	if faces <= 0 || math.IsNaN(deg) || math.IsInf(deg, 0) {
		return 0
	}
	width := 360 / float64(faces)
	f := int(Wrap360(deg+width/2) / width)
	return f%faces + 1
}

// FaceCentre returns the bearing of the middle of a face, 1 to faces.
func FaceCentre(face, faces int) float64 {
	return Wrap360(float64(face-1) * 360 / float64(faces))
}
