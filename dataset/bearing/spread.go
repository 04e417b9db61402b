package bearing

import "math"

// Spread is how a bearing may differ from a stated one: a von Mises
// distribution about it, a share of which is turned to the opposite side. It is
// the same on both sides, clockwise and anticlockwise. The zero value is
// uniform.
type Spread struct {
	Kappa     float64 // concentration, 0 or more, about either direction
	FlipShare float64 // of the opposite direction, 0 to 1
}

// mostConcentrated stands for no spread at all: a standard deviation of some
// 0.00006 degrees.
const mostConcentrated = 1e12

// SpreadOf is the spread of the circular standard deviation sdDeg, in degrees,
// flips included: the two directions' resultants are opposite, so that the
// resultant of both together is |1 - 2 flipShare| times that of each. With half
// of all turned round sdDeg tells nothing of either, and there is none.
func SpreadOf(sdDeg, flipShare float64) Spread {
	sd := Rad(sdDeg)
	r := 1.0
	if both := math.Abs(1 - 2*flipShare); both > 0 {
		r = math.Min(math.Exp(-sd*sd/2)/both, 1)
	}
	return Spread{Kappa: math.Min(A1Inv(r), mostConcentrated), FlipShare: flipShare}
}

// SDDeg is the circular standard deviation of both directions together; far
// from 0 where a share of flips alone spreads them.
func (s Spread) SDDeg() float64 { return SDDeg(A1(s.Kappa) * math.Abs(1-2*s.FlipShare)) }

// Density is the probability per radian of a deviation of devDeg.
func (s Spread) Density(devDeg float64) float64 {
	near, far := math.Exp(VonMisesLogDensity(devDeg, s.Kappa)), math.Exp(VonMisesLogDensity(180-devDeg, s.Kappa))
	return (1-s.FlipShare)*near + s.FlipShare*far
}

// Within is the probability of a deviation of at most halfDeg to either side.
func (s Spread) Within(halfDeg float64) float64 {
	if s.FlipShare == 0 {
		return VonMisesWithin(halfDeg, s.Kappa)
	}
	return (1-s.FlipShare)*VonMisesWithin(halfDeg, s.Kappa) + s.FlipShare*(1-VonMisesWithin(180-halfDeg, s.Kappa))
}

// CDF is the probability of a deviation between -180 degrees and devDeg, which
// must lie in [-180, 180].
func (s Spread) CDF(devDeg float64) float64 {
	return 0.5 + math.Copysign(s.Within(math.Abs(devDeg)), devDeg)/2
}

// HalfDeg is the half-width of the interval about the stated bearing that holds
// a share of the probability, 0 to 1.
func (s Spread) HalfDeg(share float64) float64 {
	low, high := 0.0, 180.0
	for range 52 {
		middle := (low + high) / 2
		if s.Within(middle) < share {
			low = middle
		} else {
			high = middle
		}
	}
	return high
}

// Quantile is the deviation that CDF gives a probability for.
func (s Spread) Quantile(p float64) float64 {
	return math.Copysign(s.HalfDeg(math.Abs(2*p-1)), p-0.5)
}

// Moments are the means of cos(k t) over both directions, for k from 1 to n.
func (s Spread) Moments(n int) []float64 {
	out := VonMisesMoments(s.Kappa, n)
	for k := 0; k < n; k += 2 { // odd multiples turn round with the direction
		out[k] *= 1 - 2*s.FlipShare
	}
	return out
}
