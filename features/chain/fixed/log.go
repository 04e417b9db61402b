package fixed

// logs are the logarithms to base 2 of 1 + i/32, Q24.
var logs = [34]int32{
	0, 744810, 1467383, 2169009, 2850868, 3514044, 4159533, 4788255, 5401057, 5998727, 6581994, 7151536,
	7707984, 8251926, 8783912, 9304457, 9814042, 10313120, 10802114, 11281425, 11751428, 12212479,
	12664911, 13109041, 13545168, 13973576, 14394532, 14808293, 15215099, 15615181, 16008758, 16396036,
	16777216, 17152486,
}

// Log2 is the logarithm to base 2 in Q24, to 0.000007: through three points of
// a table. Of 0 it is 0.
func Log2(x uint64) int32 {
	bits := Bits64(x)
	if bits == 0 {
		return 0
	}
	mantissa := uint32(x<<((64-bits)&63)>>32) & 0x7fffffff // Q31, less 1
	i := mantissa >> 26
	part := int32(mantissa & 0x3ffffff) // between the points, Q26
	first := logs[i+1] - logs[i]
	bend := logs[i+2] - logs[i+1] - first
	// y0 + u (first + (u - 1)/2 bend)
	slope := first + Mul(part-1<<26, bend, 27)
	return int32(bits-1)*(1<<24) + logs[i] + Mul(part, slope, 26)
}

// Factors of a power of 2: 2^u = 1 + u (a + u (b + u (c + u (d + u e)))), Q30,
// within 3.1e-7 on 0 to 1 and exact at its ends.
const (
	power1 = 744262866
	power2 = 257883723
	power3 = 59927255
	power4 = 9631670
	power5 = 2036310
)

const log2eQ30 = 1549082005 // logarithm of e to base 2

// Exp2 is 2^x in Q31 for x of Q24, at most 0; above 0 it is as at 0. It is
// within 4e-7 of the value, and 1 unit.
func Exp2(x int32) uint32 {
	if x >= 0 {
		return 1 << 31
	}
	down := uint32(-(x >> 24)) // whole steps down, and up by the rest
	if down > 32 {
		return 0
	}
	u := (x & 0xffffff) * 64 // Q30
	p := power4 + Mul(u, power5, 30)
	p = power3 + Mul(u, p, 30)
	p = power2 + Mul(u, p, 30)
	p = power1 + Mul(u, p, 30)
	full := uint64(1<<30+Mul(u, p, 30)) << 1 // Q31, 1 to 2
	return uint32(Round64(int64(full), down))
}

// Exp is e^x in Q31 for x of Q24, at most 0; above 0 it is as at 0. It is
// within 5e-7 of the value, and 1 unit.
func Exp(x int32) uint32 {
	if x >= 0 {
		return 1 << 31
	}
	return Exp2(Mul(x, log2eQ30, 30))
}
