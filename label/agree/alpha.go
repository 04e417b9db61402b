package agree

import (
	"math"
	"slices"

	"strikerose/dataset/bearing"
)

// Scale says how different two values are.
type Scale int

// Scales, with the squared difference of two values c and k.
const (
	Nominal  Scale = iota // 0 where they are the same, else 1
	Ordinal               // how many values lie from c to k, half of c's and of k's own left out, squared
	Interval              // (c - k)^2
	Circular              // of degrees: sin^2((c - k) / 2)
)

// Alpha is Krippendorff's coefficient of agreement.
type Alpha struct {
	Value    float64 // 1 for agreement throughout, 0 as by chance; NaN where there is nothing to tell, because all values are the same or no strike has two
	Observed float64 // mean squared difference within strikes
	Expected float64 // and between any two values
	Values   int     // of strikes with two values or more
}

// NewAlpha measures the agreement of labellers from what each says of each
// strike, by labeller and strike, NaN where one does not say: one less the
// observed over the expected difference (Krippendorff 2011, Computing
// Krippendorff's Alpha-Reliability; the circular difference from memory of the
// same author's Content Analysis).
func NewAlpha(ratings [][]float64, s Scale) Alpha {
	v := newValues(ratings, s)
	return v.alpha(ones(len(v.strikes)))
}

// leastExpected difference is what rounding leaves where all bearings are the
// same; the other scales give 0 then.
const leastExpected = 1e-14

// values are ratings made ready for alpha: strike by strike, and as positions
// among the distinct values where the scale is nominal or ordinal.
type values struct {
	scale    Scale
	strikes  [][]float64 // what is said of each
	distinct int
}

func newValues(ratings [][]float64, s Scale) *values {
	v := &values{scale: s}
	var all []float64
	for _, row := range ratings {
		for i, x := range row {
			if len(v.strikes) <= i {
				v.strikes = append(v.strikes, nil)
			}
			if !math.IsNaN(x) {
				v.strikes[i] = append(v.strikes[i], x)
				all = append(all, x)
			}
		}
	}
	slices.Sort(all)
	all = slices.Compact(all)
	v.distinct = len(all)
	for _, said := range v.strikes {
		for i, x := range said {
			switch s {
			case Nominal, Ordinal:
				k, _ := slices.BinarySearch(all, x)
				said[i] = float64(k)
			case Interval: // near 0, where squares lose no digits
				said[i] = x - all[len(all)/2]
			}
		}
	}
	return v
}

// alpha counts each strike w times.
func (v *values) alpha(w []float64) Alpha {
	place := v.places(w)
	all := newPairs(v.scale, v.distinct)
	within := newPairs(v.scale, v.distinct)
	observed, n := 0.0, 0
	for i, said := range v.strikes {
		if len(said) < 2 || w[i] == 0 {
			continue
		}
		within.reset()
		for _, x := range said {
			if place != nil {
				x = place[int(x)]
			}
			within.add(x, 1)
			all.add(x, w[i])
		}
		observed += w[i] * within.sum() / float64(len(said)-1)
		n += len(said)
	}
	a := Alpha{Value: math.NaN(), Observed: observed / all.n, Expected: all.sum() / (all.n * (all.n - 1)), Values: n}
	if a.Expected > leastExpected {
		a.Value = 1 - a.Observed/a.Expected
	}
	return a
}

// places puts each distinct value of an ordinal scale at its middle rank, the
// distance of which is the ordinal difference; nil for other scales.
func (v *values) places(w []float64) []float64 {
	if v.scale != Ordinal {
		return nil
	}
	place := make([]float64, v.distinct)
	for i, said := range v.strikes {
		if len(said) >= 2 {
			for _, x := range said {
				place[int(x)] += w[i]
			}
		}
	}
	below := 0.0
	for k, n := range place {
		place[k] = below + n/2
		below += n
	}
	return place
}

// pairs adds up the squared differences of all ordered pairs of values,
// without going through them.
type pairs struct {
	scale             Scale
	n, sum1, sum2, sq float64
	count             []float64 // of each value, on a nominal scale
}

func newPairs(s Scale, distinct int) *pairs {
	p := &pairs{scale: s}
	if s == Nominal {
		p.count = make([]float64, distinct)
	}
	return p
}

func (p *pairs) reset() {
	clear(p.count)
	*p = pairs{scale: p.scale, count: p.count}
}

func (p *pairs) add(x, w float64) {
	p.n += w
	switch p.scale {
	case Nominal:
		p.count[int(x)] += w
	case Circular:
		u := bearing.Unit(x)
		p.sum1 += w * real(u)
		p.sum2 += w * imag(u)
	default:
		p.sum1 += w * x
		p.sq += w * x * x
	}
}

func (p *pairs) sum() float64 {
	switch p.scale {
	case Nominal:
		same := 0.0
		for _, n := range p.count {
			same += n * n
		}
		return p.n*p.n - same
	case Circular:
		return math.Max(0, (p.n*p.n-p.sum1*p.sum1-p.sum2*p.sum2)/2)
	}
	return math.Max(0, 2*(p.n*p.sq-p.sum1*p.sum1))
}
