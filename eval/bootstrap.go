package eval

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"sort"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Methods by which an interval is made.
const (
	MethodBCa        = "bca"        // bias-corrected and accelerated bootstrap
	MethodPercentile = "percentile" // percentile bootstrap
	MethodExact      = "exact"      // Clopper-Pearson, strikes taken as independent
)

// resampler holds bootstrap resamples of some units, as how often each unit is
// drawn, so that every measure of every detector is taken on the same ones.
type resampler struct {
	units   int
	weights [][]float64 // [resample][unit]
}

// newResampler draws with replacement as many units as there are.
func newResampler(units, resamples int, rng *rand.Rand) *resampler {
	r := &resampler{units: units}
	if units < 2 {
		return r
	}
	flat := make([]float64, units*resamples)
	r.weights = make([][]float64, resamples)
	for i := range r.weights {
		w := flat[i*units : (i+1)*units]
		for range units {
			w[rng.IntN(units)]++
		}
		r.weights[i] = w
	}
	return r
}

// interval is the bootstrap interval of a statistic, which is given how often
// each unit counts. Replicates that are NaN (nothing was drawn that counts)
// are left out. With bca it is the bias-corrected and accelerated interval
// (Efron and Tibshirani 1993, An Introduction to the Bootstrap, equations 14.9
// to 14.15), which asks for a statistic that is smooth in its weights; otherwise,
// and where that has no value, the percentile interval. Fewer than two units
// give NaN.
func (r *resampler) interval(stat func([]float64) float64, level float64, bca bool) (low, high float64, method string) {
	reps := make([]float64, 0, len(r.weights))
	for _, w := range r.weights {
		if v := stat(w); !math.IsNaN(v) {
			reps = append(reps, v)
		}
	}
	if len(reps) < 2 {
		return math.NaN(), math.NaN(), ""
	}
	sort.Float64s(reps)
	tail := (1 - level) / 2
	pLow, pHigh, method := tail, 1-tail, MethodPercentile
	if bca {
		z0 := biasCorrection(reps, stat(ones(r.units)))
		a := acceleration(stat, r.units)
		if l, h := bcaTail(tail, z0, a), bcaTail(1-tail, z0, a); l > 0 && h < 1 && l < h {
			pLow, pHigh, method = l, h, MethodBCa
		}
	}
	return quantileOfSorted(reps, pLow), quantileOfSorted(reps, pHigh), method
}

// biasCorrection is z0: the normal quantile of the share of replicates below
// the estimate, ties counted half.
func biasCorrection(sorted []float64, estimate float64) float64 {
	below := sort.SearchFloat64s(sorted, estimate)
	notAbove := sort.Search(len(sorted), func(i int) bool { return sorted[i] > estimate })
	return distuv.UnitNormal.Quantile(float64(below+notAbove) / 2 / float64(len(sorted)))
}

// acceleration is a: a sixth of the skewness of the influence of each unit on
// the statistic (same source, equation 22.26), 0 where no unit has any. The
// influences are numerical derivatives toward a sample that is that unit alone.
func acceleration(stat func([]float64) float64, units int) float64 {
	const step = 1e-5
	w := make([]float64, units)
	at := func(unit int, h float64) float64 {
		for u := range w {
			w[u] = 1 - h
		}
		w[unit] += h * float64(units)
		return stat(w)
	}
	var squares, cubes float64
	for u := range units {
		l := (at(u, step) - at(u, -step)) / (2 * step)
		squares += l * l
		cubes += l * l * l
	}
	if squares == 0 {
		return 0
	}
	return cubes / (6 * math.Pow(squares, 1.5))
}

// bcaTail is the share of replicates at which a BCa limit lies; NaN where z0
// or a are not finite.
func bcaTail(p, z0, a float64) float64 {
	z := z0 + distuv.UnitNormal.Quantile(p)
	return distuv.UnitNormal.CDF(z0 + z/(1-a*z))
}

// quantileOfSorted interpolates linearly between order statistics (type 7).
func quantileOfSorted(sorted []float64, p float64) float64 {
	h := p * float64(len(sorted)-1)
	i := int(h)
	if i >= len(sorted)-1 {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
}

// clopperPearson is the exact interval of a proportion of k in n (Clopper and
// Pearson 1934, Biometrika 26:404-413).
func clopperPearson(k, n int, level float64) (low, high float64) {
	if n == 0 {
		return math.NaN(), math.NaN()
	}
	tail := (1 - level) / 2
	x, m := float64(k), float64(n)
	low, high = 0, 1
	if k > 0 {
		low = mathext.InvRegIncBeta(x, m-x+1, tail)
	}
	if k < n {
		high = mathext.InvRegIncBeta(x+1, m-x, 1-tail)
	}
	return low, high
}

// figure summarises a column whose resampling units are given, with an
// interval. A share that is 0 or 1 throughout has no bootstrap spread: it gets
// the exact interval instead, since one of no width would be a false promise.
func (c column) figure(unit []int, r *resampler, level float64) Figure {
	f := NoFigure()
	f.N = c.count()
	if f.N == 0 {
		return f
	}
	seen := map[int]bool{}
	hits := 0
	for i, v := range c.values {
		if !math.IsNaN(v) {
			seen[unit[i]] = true
		}
		if v == 1 {
			hits++
		}
	}
	f.Units = len(seen)
	stat := c.statistic(unit, r.units)
	f.Value = stat(ones(r.units))
	if c.share && (hits == 0 || hits == f.N) {
		f.Low, f.High = clopperPearson(hits, f.N, level)
		f.Method = MethodExact
		return f
	}
	if c.kind == circularMeanOf { // keep the replicates on the estimate's side of the cut
		stat = aroundCircle(stat, f.Value)
	}
	f.Low, f.High, f.Method = r.interval(stat, level, c.smooth())
	return f
}

func ones(n int) []float64 {
	w := make([]float64, n)
	for i := range w {
		w[i] = 1
	}
	return w
}

// stream returns a generator of its own for a named part of a comparison, so
// that adding a part does not change the numbers of another.
func stream(seed uint64, name string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(name))
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}
