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
	strikes  []*pairs // of what is said of each
	distinct int
}

func newValues(ratings [][]float64, s Scale) *values {
	var all []float64
	for _, row := range ratings {
		for _, x := range row {
			if !math.IsNaN(x) {
				all = append(all, x)
			}
		}
	}
	slices.Sort(all)
	all = slices.Compact(all)
	v := &values{scale: s, distinct: len(all)}
	for _, row := range ratings {
		for i, x := range row {
			if len(v.strikes) <= i {
				v.strikes = append(v.strikes, newPairs(s, v.distinct))
			}
			if math.IsNaN(x) {
				continue
			}
			switch s {
			case Nominal, Ordinal:
				k, _ := slices.BinarySearch(all, x)
				x = float64(k)
			case Interval: // near 0, where squares lose no digits
				x -= all[len(all)/2]
			}
			v.strikes[i].add(x)
		}
	}
	return v
}

// alpha counts each strike w times.
func (v *values) alpha(w []float64) Alpha {
	place := v.places(w)
	all := newPairs(v.scale, v.distinct)
	observed, n := 0.0, 0
	for i, said := range v.strikes {
		if said.n < 2 || w[i] == 0 {
			continue
		}
		if place != nil {
			said = said.at(place)
		}
		all.join(said, w[i])
		observed += w[i] * said.sum() / (said.n - 1)
		n += int(said.n)
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
		if said.n >= 2 {
			for k, n := range said.count {
				place[k] += w[i] * n
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
	count             []float64 // of each value, on a nominal or ordinal scale
}

func newPairs(s Scale, distinct int) *pairs {
	p := &pairs{scale: s}
	if s == Nominal || s == Ordinal {
		p.count = make([]float64, distinct)
	}
	return p
}

func (p *pairs) add(x float64) {
	p.n++
	switch p.scale {
	case Nominal, Ordinal:
		p.count[int(x)]++
	case Circular:
		u := bearing.Unit(x)
		p.sum1 += real(u)
		p.sum2 += imag(u)
	default:
		p.sum1 += x
		p.sq += x * x
	}
}

// join adds the values of other pairs, each w times.
func (p *pairs) join(o *pairs, w float64) {
	p.n += w * o.n
	p.sum1 += w * o.sum1
	p.sum2 += w * o.sum2
	p.sq += w * o.sq
	for k, n := range o.count {
		p.count[k] += w * n
	}
}

// at puts the values of an ordinal scale at their places.
func (p *pairs) at(place []float64) *pairs {
	placed := &pairs{scale: p.scale, n: p.n}
	for k, n := range p.count {
		placed.sum1 += n * place[k]
		placed.sq += n * place[k] * place[k]
	}
	return placed
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
