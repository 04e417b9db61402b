package fixed

// Div64 is a / b, half away from 0, saturated. By 0 it gives the limit on a's
// side, and 0 for 0 / 0.
func Div64(a, b int64) int64 {
	minus := (a < 0) != (b < 0)
	size := Size64(a)
	by := Size64(b)
	if by == 0 {
		if a == 0 {
			return 0
		}
		if a < 0 {
			return Min64
		}
		return Max64
	}
	q := size / by
	if rest := size % by; rest >= by-rest {
		q++
	}
	if minus {
		if q > Max64 {
			return Min64
		}
		return -int64(q)
	}
	if q > Max64 {
		return Max64
	}
	return int64(q)
}

// Div is a / b, half away from 0, saturated to int32. By 0 it does as Div64.
func Div(a int64, b int32) int32 { return Sat32(Div64(a, int64(b))) }

// Div32 is a / b, half away from 0, saturated, in 32 bits alone. By 0 it gives
// the limit on a's side, and 0 for 0 / 0.
func Div32(a, b int32) int32 {
	minus := (a < 0) != (b < 0)
	size := Size32(a)
	by := Size32(b)
	if by == 0 {
		if a == 0 {
			return 0
		}
		if a < 0 {
			return Min32
		}
		return Max32
	}
	q := size / by
	if rest := size % by; rest >= by-rest {
		q++
	}
	if minus {
		if q > Max32 {
			return Min32
		}
		return -int32(q)
	}
	if q > Max32 {
		return Max32
	}
	return int32(q)
}
