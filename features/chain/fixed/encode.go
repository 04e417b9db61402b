package fixed

import "math"

// Encode writes a value as an integer over 2^q, half up, saturated to int32. No
// number gives 0. q is 0 to 31. Boards are given encoded numbers; only Go encodes.
func Encode(v float64, q int) int32 {
	x := math.Floor(math.Ldexp(v, q) + 0.5)
	switch {
	case math.IsNaN(x):
		return 0
	case x >= Max32:
		return Max32
	case x <= Min32:
		return Min32
	}
	return int32(x)
}
