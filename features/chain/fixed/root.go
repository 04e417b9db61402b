package fixed

// Bits32 is the length of a number in bits; 0 has none.
func Bits32(x uint32) uint32 {
	n := uint32(0)
	if x>>16 != 0 {
		n = 16
		x >>= 16
	}
	if x>>8 != 0 {
		n += 8
		x >>= 8
	}
	for x != 0 {
		n++
		x >>= 1
	}
	return n
}

// Bits64 is the length of a number in bits; 0 has none.
func Bits64(x uint64) uint32 {
	if x>>32 != 0 {
		return 32 + Bits32(uint32(x>>32))
	}
	return Bits32(uint32(x))
}

// Sqrt32 is the square root, rounded down: one binary digit a round, as on
// paper.
func Sqrt32(x uint32) uint32 {
	root := uint32(0)
	for bit := uint32(1) << 30; bit != 0; bit >>= 2 {
		if x >= root+bit {
			x -= root + bit
			root = root>>1 + bit
		} else {
			root >>= 1
		}
	}
	return root
}

// Sqrt64 is the square root, rounded down.
func Sqrt64(x uint64) uint32 {
	root := uint64(0)
	for bit := uint64(1) << 62; bit != 0; bit >>= 2 {
		if x >= root+bit {
			x -= root + bit
			root = root>>1 + bit
		} else {
			root >>= 1
		}
	}
	return uint32(root)
}

// Hypot is the length of a vector, to the nearest integer.
func Hypot(x, y int32) uint32 {
	sx := uint64(Size32(x))
	sy := uint64(Size32(y))
	square := sx*sx + sy*sy // at most 2^63
	root := Sqrt64(square)
	if square-uint64(root)*uint64(root) > uint64(root) {
		root++ // nearer the next: (r + 1/2)^2 = r^2 + r + 1/4
	}
	return root
}
