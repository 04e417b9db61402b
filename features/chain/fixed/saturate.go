package fixed

// Limits of the signed types.
const (
	Max16 = 32767
	Min16 = -32768
	Max32 = 2147483647
	Min32 = -2147483648
	Max64 = 9223372036854775807
	Min64 = -9223372036854775808
)

// Sat16 holds a number to the range of int16.
func Sat16(x int32) int16 {
	if x > Max16 {
		return Max16
	}
	if x < Min16 {
		return Min16
	}
	return int16(x)
}

// Sat32 holds a number to the range of int32.
func Sat32(x int64) int32 {
	if x > Max32 {
		return Max32
	}
	if x < Min32 {
		return Min32
	}
	return int32(x)
}

// Abs32 is the size of a number; of the least one the greatest.
func Abs32(x int32) int32 {
	if x >= 0 {
		return x
	}
	if x == Min32 {
		return Max32
	}
	return -x
}

// Abs64 is the size of a number; of the least one the greatest.
func Abs64(x int64) int64 {
	if x >= 0 {
		return x
	}
	if x == Min64 {
		return Max64
	}
	return -x
}

// Size32 is the size of a number, of the least one too.
func Size32(x int32) uint32 {
	if x < 0 {
		return 0 - uint32(x)
	}
	return uint32(x)
}

// Size64 is the size of a number, of the least one too.
func Size64(x int64) uint64 {
	if x < 0 {
		return 0 - uint64(x)
	}
	return uint64(x)
}

// NegSat32 is the number negated; the least one gives the greatest.
func NegSat32(x int32) int32 {
	if x == Min32 {
		return Max32
	}
	return -x
}

// AddSat32 is a + b, saturated.
func AddSat32(a, b int32) int32 {
	if b > 0 && a > Max32-b {
		return Max32
	}
	if b < 0 && a < Min32-b {
		return Min32
	}
	return a + b
}

// SubSat32 is a - b, saturated.
func SubSat32(a, b int32) int32 {
	if b < 0 && a > Max32+b {
		return Max32
	}
	if b > 0 && a < Min32+b {
		return Min32
	}
	return a - b
}

// AddSat64 is a + b, saturated.
func AddSat64(a, b int64) int64 {
	if b > 0 && a > Max64-b {
		return Max64
	}
	if b < 0 && a < Min64-b {
		return Min64
	}
	return a + b
}

// SubSat64 is a - b, saturated.
func SubSat64(a, b int64) int64 {
	if b < 0 && a > Max64+b {
		return Max64
	}
	if b > 0 && a < Min64+b {
		return Min64
	}
	return a - b
}

// ShiftUp32 is x times 2^n, saturated. n is 0 to 31.
func ShiftUp32(x int32, n uint32) int32 {
	if x > Max32>>(n&31) {
		return Max32
	}
	if x < Min32>>(n&31) {
		return Min32
	}
	return int32(uint32(x) << (n & 31))
}
