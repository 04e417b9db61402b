package fixed

import "math"

// The functions of math.h, for boards that compute in float32. C calls its own;
// the last digit may differ between libraries.

// SqrtF is the square root.
//
//c:extern sqrtf
func SqrtF(x float32) float32 { return float32(math.Sqrt(float64(x))) }

// Atan2F is the angle of a vector in radians, from the x axis toward y.
//
//c:extern atan2f
func Atan2F(y, x float32) float32 { return float32(math.Atan2(float64(y), float64(x))) }

// SinF is the sine of an angle in radians.
//
//c:extern sinf
func SinF(x float32) float32 { return float32(math.Sin(float64(x))) }

// CosF is the cosine of an angle in radians.
//
//c:extern cosf
func CosF(x float32) float32 { return float32(math.Cos(float64(x))) }

// AsinF is the angle of a sine, in radians.
//
//c:extern asinf
func AsinF(x float32) float32 { return float32(math.Asin(float64(x))) }

// TanhF is the hyperbolic tangent.
//
//c:extern tanhf
func TanhF(x float32) float32 { return float32(math.Tanh(float64(x))) }

// ExpF is e to the power of x.
//
//c:extern expf
func ExpF(x float32) float32 { return float32(math.Exp(float64(x))) }

// LogF is the natural logarithm.
//
//c:extern logf
func LogF(x float32) float32 { return float32(math.Log(float64(x))) }

// FabsF is the size of a number.
//
//c:extern fabsf
func FabsF(x float32) float32 { return float32(math.Abs(float64(x))) }

// FloorF is the greatest whole number that is not above x.
//
//c:extern floorf
func FloorF(x float32) float32 { return float32(math.Floor(float64(x))) }

// RoundF is the nearest integer, half away from 0, held to low and high, which
// lie within 2^30. No number gives low.
//
//c:inrange
func RoundF(x float32, low, high int32) int32 {
	if !(x > float32(low)) {
		return low
	}
	if x >= float32(high) {
		return high
	}
	whole := int32(x) // between low and high; toward 0
	rest := x - float32(whole)
	if rest >= 0.5 {
		whole++
	}
	if rest <= -0.5 {
		whole--
	}
	return min(max(whole, low), high)
}
