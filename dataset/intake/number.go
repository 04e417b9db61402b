package intake

import (
	"math"
	"strconv"
)

// powersOfTen are exact in float64, so that a division by one of them rounds
// once.
var powersOfTen = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9,
	1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// parseNumber reads the decimal number at the start of b and tells how many
// decimals it has and how many bytes it takes; 0 bytes where there is none or
// it is not finite.
func parseNumber(b []byte, mark byte) (v float64, decimals, n int) {
	i := 0
	negative := false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		negative = b[i] == '-'
		i++
	}
	var mantissa uint64
	digits := 0
	for ; i < len(b) && b[i]-'0' <= 9; i++ {
		mantissa = mantissa*10 + uint64(b[i]-'0')
		digits++
	}
	if i < len(b) && b[i] == mark {
		i++
		for ; i < len(b) && b[i]-'0' <= 9; i++ {
			mantissa = mantissa*10 + uint64(b[i]-'0')
			digits++
			decimals++
		}
	}
	if digits == 0 {
		return 0, 0, 0
	}
	if digits > 15 || i < len(b) && (b[i] == 'e' || b[i] == 'E') {
		return parseOddNumber(b, mark, decimals)
	}
	v = float64(mantissa) / powersOfTen[decimals]
	if negative {
		v = -v
	}
	return v, decimals, i
}

// parseOddNumber handles exponents and very long numbers.
func parseOddNumber(b []byte, mark byte, decimals int) (float64, int, int) {
	var text [64]byte
	n := 0
	for n < len(b) && n < len(text) {
		c := b[n]
		switch {
		case c == mark:
			c = '.'
		case c-'0' <= 9, c == 'e', c == 'E':
		case c == '-' || c == '+':
			if n > 0 && text[n-1] != 'e' && text[n-1] != 'E' {
				return 0, 0, 0
			}
		default:
			c = 0
		}
		if c == 0 {
			break
		}
		text[n] = c
		n++
	}
	v, err := strconv.ParseFloat(string(text[:n]), 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, 0, 0
	}
	return v, decimals, n
}

// stampLimit is the largest whole part of a stamp that is read: far beyond
// nanoseconds since 1970, and safe to add and subtract in int64.
const stampLimit = int64(4e18)

// parseStamp reads the time stamp at the start of b: its whole part, rounded
// down, and millionths. Further decimals are cut off. Like parseNumber it
// takes 0 bytes where there is none.
func parseStamp(b []byte, mark byte) (whole int64, micro int32, decimals, n int) {
	i := 0
	negative := false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		negative = b[i] == '-'
		i++
	}
	first := i
	for ; i < len(b) && b[i]-'0' <= 9; i++ {
		if whole > stampLimit/10 {
			return 0, 0, 0, 0
		}
		whole = whole*10 + int64(b[i]-'0')
	}
	digits := i - first
	if i < len(b) && b[i] == mark {
		i++
		scale := int32(100000)
		for ; i < len(b) && b[i]-'0' <= 9; i++ {
			micro += int32(b[i]-'0') * scale
			scale /= 10
			decimals++
		}
	}
	if digits+decimals == 0 {
		return 0, 0, 0, 0
	}
	if i < len(b) && (b[i] == 'e' || b[i] == 'E') {
		v, _, n := parseOddNumber(b, mark, 0)
		v = math.Abs(v)
		if n == 0 || v > float64(stampLimit) {
			return 0, 0, 0, 0
		}
		cut := math.Trunc(v)
		whole, micro, decimals, i = int64(cut), int32((v-cut)*1e6), 0, n
	}
	if negative {
		whole = -whole
		if micro > 0 {
			whole, micro = whole-1, 1000000-micro
		}
	}
	return whole, micro, decimals, i
}
