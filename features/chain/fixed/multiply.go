package fixed

// Round32 is x over 2^shift, half up. shift is 0 to 31.
func Round32(x int32, shift uint32) int32 {
	if shift == 0 {
		return x
	}
	return (x >> (shift & 31)) + (x >> ((shift - 1) & 31) & 1)
}

// Round64 is x over 2^shift, half up. shift is 0 to 63.
func Round64(x int64, shift uint32) int64 {
	if shift == 0 {
		return x
	}
	return (x >> (shift & 63)) + (x >> ((shift - 1) & 63) & 1)
}

// Mul is a b / 2^shift, half up, saturated. shift is 0 to 63.
func Mul(a, b int32, shift uint32) int32 {
	return Sat32(Round64(int64(a)*int64(b), shift))
}

// MulQ15 is the product of two Q15. -1 times -1, which is none, gives the
// greatest.
func MulQ15(a, b int16) int16 {
	return Sat16((int32(a)*int32(b) + 1<<14) >> 15)
}

// MulQ31 is the product of two Q31. -1 times -1, which is none, gives the
// greatest.
func MulQ31(a, b int32) int32 {
	return Sat32((int64(a)*int64(b) + 1<<30) >> 31)
}

// MulSat64 is a b, saturated.
func MulSat64(a, b int64) int64 {
	sa := Size64(a)
	sb := Size64(b)
	high := (sa>>32)*(sb&0xffffffff) + (sb>>32)*(sa&0xffffffff) // where over is false, one of the two is 0
	low := (sa & 0xffffffff) * (sb & 0xffffffff)
	minus := (a < 0) != (b < 0)
	over := (sa>>32 != 0 && sb>>32 != 0) || high>>32 != 0
	size := high<<32 + low
	if over || size < low || size > Max64 {
		if minus {
			return Min64
		}
		return Max64
	}
	if minus {
		return -int64(size)
	}
	return int64(size)
}
