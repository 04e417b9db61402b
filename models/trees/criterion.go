package trees

import (
	"math"

	"strikerose/dataset/bearing"
)

// Criterion is what a split is to make as small as it can.
type Criterion int

const (
	// SquaredError is the sum of squared distances from each side's mean: of
	// numbers, or of bearings as unit vectors in the plane.
	SquaredError Criterion = iota
	// ResultantLength is the sum of 1 - cos of each bearing's distance from its
	// side's mean direction: what the sides' resultants lack in length.
	ResultantLength
	// VonMises is the negative log-likelihood of a von Mises distribution of its
	// own mean and concentration on each side.
	VonMises
)

// side is what a criterion needs of the rows on one side of a split: the sum of
// weights, and the weighted sum of targets.
type side struct{ w, a, b float64 }

func (s *side) add(o side)         { s.w += o.w; s.a += o.a; s.b += o.b }
func (s side) without(o side) side { return side{s.w - o.w, s.a - o.a, s.b - o.b} }

// worth is larger for a side that is more of one kind. What is constant over all
// splits of a node is left out: of two sides of one node, the sum counts.
func (c Criterion) worth(s side, likelihood *likelihood) float64 {
	switch c {
	case ResultantLength:
		return math.Sqrt(s.a*s.a + s.b*s.b)
	case VonMises:
		return s.w * likelihood.of(math.Sqrt(s.a*s.a+s.b*s.b)/s.w)
	default:
		return (s.a*s.a + s.b*s.b) / s.w
	}
}

// likelihood is the mean log-likelihood of bearings under their own von Mises
// distribution, plus ln 2 pi, as a function of their mean resultant length r:
// kappa r - ln I0(kappa), A1(kappa) = r. Its slope is kappa. It is tabulated over
// 1 - r, in cells equal steps apart within each power of 2, as it changes with
// the logarithm; between lie cubics (error below 1e-8).
type likelihood struct{ value, slope [cells + 1]float64 }

// Bounds of the table. Bearings that agree to within longest (0.16 degrees for
// two) are as good as equal: without a bound, two equal ones would outweigh all
// others together.
const (
	powers  = 20
	shift   = 52 - 5 // of a number's bits: 32 cells a power of 2
	cells   = powers << (52 - shift)
	longest = 1 - 1.0/(1<<powers)
)

// likelihood is what worth needs, nil where it needs none.
func (c Criterion) likelihood() *likelihood {
	if c != VonMises {
		return nil
	}
	l := &likelihood{}
	at := func(i int) float64 { return math.Float64frombits(firstCell() + uint64(i)<<shift) }
	for i := range l.value {
		kappa := bearing.A1Inv(1 - at(i))
		l.value[i] = kappa*(1-at(i)) - bearing.LogI0(kappa)
		l.slope[i] = -kappa
	}
	return l
}

// firstCell is the bits of the least 1 - r.
func firstCell() uint64 { return math.Float64bits(1 - longest) }

func (l *likelihood) of(r float64) float64 {
	b := math.Float64bits(1-math.Min(r, longest)) - firstCell()
	i := int(b >> shift)
	if i >= cells {
		return 0 // r is 0
	}
	u := float64(b&(1<<shift-1)) / (1 << shift)
	v := 1 - u
	wide := math.Float64frombits((firstCell()>>52+b>>52)<<52) / (1 << (52 - shift))
	return v*v*((1+2*u)*l.value[i]+u*wide*l.slope[i]) + u*u*((1+2*v)*l.value[i+1]-v*wide*l.slope[i+1])
}
