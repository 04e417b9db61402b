package eval

import (
	"math"
	"sort"
)

// weightedQuantile returns the p-quantile of values as a function of how often
// each unit is counted. Values are sorted once; a weighting is then one walk.
// The quantile interpolates linearly between order statistics at (n-1) p
// (type 7 of Hyndman and Fan 1996, The American Statistician 50:361-365), with
// n the weighted number of values; weights are whole numbers.
func weightedQuantile(values []float64, owner []int, p float64) func([]float64) float64 {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return values[order[a]] < values[order[b]] })
	sorted := make([]float64, len(values))
	unit := make([]int, len(values))
	for k, i := range order {
		sorted[k], unit[k] = values[i], owner[i]
	}
	return func(w []float64) float64 {
		var n float64
		for _, u := range unit {
			n += w[u]
		}
		if n < 1 {
			return math.NaN()
		}
		h := (n - 1) * p
		rank := math.Floor(h)
		var before, low float64
		found := false
		for k, v := range sorted {
			before += w[unit[k]]
			if !found && before > rank {
				low, found = v, true
			}
			if before > rank+1 {
				return low + (h-rank)*(v-low)
			}
		}
		return low
	}
}
