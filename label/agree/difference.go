package agree

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"strikerose/dataset/bearing"
)

// Limits are the limits of agreement of two who measure the same (Bland and
// Altman 1986, Lancet 327:307-310): about 95 % of differences lie between Low
// and High. All is in the unit of the measurements, and NaN where fewer than
// two differences are known.
type Limits struct {
	N    int
	Bias float64 // mean of a - b
	SD   float64 // of a - b
	Low  float64 // Bias - 1.96 SD
	High float64 // Bias + 1.96 SD

	// Half-widths of the 95 % intervals, from Student's t with N - 1 degrees of
	// freedom: of the bias, with standard error SD/sqrt(N), and of either limit,
	// with SD sqrt(1/N + 1.96^2/(2 (N-1))).
	BiasHalf, LimitHalf float64
}

// limitSDs is how many standard deviations the limits of agreement lie from
// the bias.
const limitSDs = 1.96

// NewLimits takes the differences a - b where both are known (not NaN).
func NewLimits(a, b []float64) Limits {
	var d []float64
	for i := range a {
		if x := a[i] - b[i]; !math.IsNaN(x) {
			d = append(d, x)
		}
	}
	l := Limits{N: len(d), Bias: math.NaN(), SD: math.NaN(), Low: math.NaN(), High: math.NaN(), BiasHalf: math.NaN(), LimitHalf: math.NaN()}
	if len(d) < 2 {
		return l
	}
	l.Bias, l.SD = stat.MeanStdDev(d, nil)
	l.Low, l.High = l.Bias-limitSDs*l.SD, l.Bias+limitSDs*l.SD
	n := float64(len(d))
	t := distuv.StudentsT{Sigma: 1, Nu: n - 1}.Quantile(0.975)
	l.BiasHalf = t * l.SD / math.Sqrt(n)
	l.LimitHalf = t * l.SD * math.Sqrt(1/n+limitSDs*limitSDs/(2*(n-1)))
	return l
}

// turns are the differences a - b of bearings in (-180, 180] degrees, NaN
// where one is not known.
func turns(a, b []float64) []float64 {
	out := make([]float64, len(a))
	for i := range a {
		out[i] = bearing.Diff(a[i], b[i])
	}
	return out
}

// meanTurn is the circular mean in (-180, 180] degrees of differences, each
// counted w times, and the circular standard deviation. NaNs do not count.
func meanTurn(turnDeg, w []float64) (meanDeg, sdDeg float64) {
	var deg, weight []float64
	for i, t := range turnDeg {
		if !math.IsNaN(t) {
			deg, weight = append(deg, t), append(weight, w[i])
		}
	}
	mean, r := bearing.WeightedMean(deg, weight)
	return bearing.Wrap180(mean), bearing.SDDeg(r)
}
