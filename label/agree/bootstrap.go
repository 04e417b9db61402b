package agree

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// bootstrap resamples strikes: each time it draws with replacement as many as
// there are. Every measure is taken on the same draws.
type bootstrap struct {
	strikes, times int
	seed           uint64
}

// interval is the percentile interval of a measure that is given how often
// each strike counts (Efron and Tibshirani 1993, An Introduction to the
// Bootstrap, chapter 13). Draws without a value are left out; NaN where fewer
// than half have one, and where all are the same: an interval of no width would
// be a false promise.
func (b bootstrap) interval(measure func(w []float64) float64) (low, high float64) {
	rng := rand.New(rand.NewPCG(b.seed, 0x6167726565)) // "agree"
	w := make([]float64, b.strikes)
	var got []float64
	for range b.times {
		clear(w)
		for range b.strikes {
			w[rng.IntN(b.strikes)]++
		}
		if x := measure(w); !math.IsNaN(x) {
			got = append(got, x)
		}
	}
	if len(got) == 0 || 2*len(got) < b.times {
		return math.NaN(), math.NaN()
	}
	slices.Sort(got)
	tail := (1 - Level) / 2
	low, high = stat.Quantile(tail, stat.LinInterp, got, nil), stat.Quantile(1-tail, stat.LinInterp, got, nil)
	if low == high {
		return math.NaN(), math.NaN()
	}
	return low, high
}

func ones(n int) []float64 {
	w := make([]float64, n)
	for i := range w {
		w[i] = 1
	}
	return w
}
