package intake

// nthSmallest returns the value that sorting would put at place n, from 0, and
// reorders x: everything before place n is then at most that value, and
// everything behind it at least. It is Hoare's selection (1961) with the median
// of three as pivot. NaN must not occur.
func nthSmallest(x []float64, n int) float64 {
	lo, hi := 0, len(x)-1
	for lo < hi {
		mid := lo + (hi-lo)/2
		if x[mid] < x[lo] {
			x[mid], x[lo] = x[lo], x[mid]
		}
		if x[hi] < x[lo] {
			x[hi], x[lo] = x[lo], x[hi]
		}
		if x[hi] < x[mid] {
			x[hi], x[mid] = x[mid], x[hi]
		}
		pivot := x[mid]
		i, j := lo, hi
		for i <= j {
			for x[i] < pivot {
				i++
			}
			for pivot < x[j] {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i++
				j--
			}
		}
		switch {
		case n <= j:
			hi = j
		case n >= i:
			lo = i
		default:
			return x[n]
		}
	}
	return x[n]
}
