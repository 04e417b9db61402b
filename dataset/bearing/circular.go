package bearing

import (
	"math"
	"slices"
)

// Mean returns the circular mean in [0, 360) degrees and the mean resultant
// length r in [0, 1] of some angles in degrees (Mardia & Jupp 2000, Directional
// Statistics). Without angles both are NaN; with r at rounding error the mean
// has no meaning.
func Mean(deg []float64) (meanDeg, r float64) { return WeightedMean(deg, nil) }

// WeightedMean is Mean with a weight for each angle; nil weights are all 1.
// Weights must not be negative. If they sum to 0 both results are NaN. It
// panics when the lengths differ.
func WeightedMean(deg, w []float64) (meanDeg, r float64) {
	if w != nil && len(w) != len(deg) {
		panic("bearing: as many weights as angles are needed")
	}
	var sum complex128
	total := 0.0
	for i, d := range deg {
		wi := 1.0
		if w != nil {
			wi = w[i]
		}
		sum += complex(wi, 0) * Unit(d)
		total += wi
	}
	if !(total > 0) {
		return math.NaN(), math.NaN()
	}
	r = math.Min(math.Hypot(real(sum), imag(sum))/total, 1)
	if math.IsNaN(r) {
		return math.NaN(), r
	}
	return Of(sum), r
}

// SDDeg returns the circular standard deviation sqrt(-2 ln r) in degrees that
// belongs to a mean resultant length r (Mardia & Jupp 2000):
// 0 for r = 1, infinite for r = 0.
func SDDeg(r float64) float64 { return Deg(math.Sqrt(math.Max(0, -2*math.Log(r)))) }

// Median returns the circular median in [0, 360) degrees: the angle among
// those given whose mean distance to all others is least (Fisher 1993,
// Statistical Analysis of Circular Data). Where several different ones are
// equally good it returns their circular mean. It withstands flips, which the
// mean does not. NaN without angles. The time grows with the square of the
// number of angles.
func Median(deg []float64) float64 {
	const tieDeg = 1e-9
	best := math.Inf(1)
	var tied []float64
	for _, m := range deg {
		d := 0.0
		for _, x := range deg {
			d += math.Abs(Diff(x, m))
		}
		d /= float64(len(deg))
		switch {
		case d < best-tieDeg:
			best, tied = d, append(tied[:0], m)
		case d <= best+tieDeg && !slices.ContainsFunc(tied, func(t float64) bool { return math.Abs(Diff(t, m)) <= tieDeg }):
			tied = append(tied, m)
		}
	}
	mean, _ := Mean(tied)
	return mean
}

// MeanHalfWidthDeg returns the half-width in degrees of an interval around
// the circular mean that holds the true mean with the probability that
// belongs to the standard normal quantile z (1.959964 for 95 %, 1.644854 for
// 90 %). It assumes a symmetric distribution but no particular one, and many
// angles (25 or more): asin(z sqrt(delta/n)), delta the circular dispersion
// (Fisher 1993). Where the angles are too few or too scattered for an interval
// it returns 180.
func MeanHalfWidthDeg(deg []float64, z float64) float64 {
	n := float64(len(deg))
	mean, r := Mean(deg)
	second := 0.0
	for _, d := range deg {
		second += math.Cos(2 * Rad(Diff(d, mean)))
	}
	delta := (1 - second/n) / (2 * r * r)
	s := z * math.Sqrt(math.Max(delta, 0)/n)
	if !(s < 1) {
		return 180
	}
	return Deg(math.Asin(s))
}

// RayleighP returns the probability that n angles without any preferred
// direction would have a mean resultant length of at least r. The form stays
// positive for tight samples (Zar 2010, Biostatistical Analysis).
func RayleighP(n int, r float64) float64 {
	nf := float64(n)
	big := nf * r
	// The difference of root and 1 + 2n, free of cancellation.
	a := 1 + 2*nf
	root := math.Sqrt(1 + 4*nf + 4*(nf*nf-big*big))
	return math.Exp(-4 * big * big / (root + a))
}
