package onset

import "math"

// aicPick returns the first sample of the second of two stretches into which x
// falls best: the one that makes c ln var(x[:c]) + (n-c) ln var(x[c:]) least.
//
// That is the Akaike information criterion for two stretches of white noise of
// different variance, applied to the samples themselves (N. Maeda, Zisin 38,
// 1985, in Japanese; common practice in seismology since). floor is the least
// variance counted, so that a still stretch does not give minus infinity.
func aicPick(x []float64, floor float64) int {
	const edge = 2 // samples that a variance needs
	n := len(x)
	if n < 2*edge {
		return 0
	}
	var sum, square float64
	for _, v := range x {
		sum += v
		square += float64(v * v)
	}
	var before, before2 float64
	best, at := math.Inf(1), 0
	for c := 1; c <= n-edge; c++ {
		v := x[c-1]
		before += v
		before2 += float64(v * v)
		if c < edge {
			continue
		}
		left, right := float64(c), float64(n-c)
		a := left*math.Log(variance(before, before2, left, floor)) +
			right*math.Log(variance(sum-before, square-before2, right, floor))
		if a < best {
			best, at = a, c
		}
	}
	return at
}

// variance of n numbers from their sum and sum of squares.
func variance(sum, square, n, floor float64) float64 {
	return max(square/n-(sum/n)*(sum/n), floor)
}
