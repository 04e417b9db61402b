package bearing

import "math"

// A1 returns I1(kappa)/I0(kappa), the mean resultant length of a von Mises
// distribution of concentration kappa >= 0.
func A1(kappa float64) float64 {
	switch {
	case !(kappa > 0):
		return kappa * 0 // 0, and NaN for NaN
	case kappa > 500: // asymptotic series, relative error below 1e-17
		x := 1 / kappa
		return 1 - x*(1./2+x*(1./8+x*(1./8+x*(25./128+x*(13./32+x*1073./1024)))))
	}
	// The continued fraction of Gauss, from far out inward. Its terms 2k/kappa
	// pass 1 at k = kappa/2; thirty more leave nothing of the start value.
	t := 0.0
	for k := int(kappa) + 30; k >= 1; k-- {
		t = 1 / (2*float64(k)/kappa + t)
	}
	return t
}

// A1Inv returns the concentration kappa whose mean resultant length is r,
// exactly (Newton's method on A1), not by the usual piecewise formula, which
// is up to 1 % low. It is 0 for r <= 0 and infinite for r >= 1.
func A1Inv(r float64) float64 {
	switch {
	case math.IsNaN(r):
		return r
	case r <= 0:
		return 0
	case r >= 1:
		return math.Inf(1)
	}
	// Start of Banerjee et al. (2005), Journal of Machine Learning Research 6.
	// A1 is concave, so each further step is from below.
	kappa := r * (2 - r*r) / (1 - r*r)
	for range 50 {
		a := A1(kappa)
		slope := 1 - a/kappa - a*a
		if !(slope > 0) { // cancelled out: kappa is as good as doubles allow
			break
		}
		next := kappa - (a-r)/slope
		if !(next > 0) {
			next = kappa / 2
		}
		if math.Abs(next-kappa) <= 1e-14*kappa {
			return next
		}
		kappa = next
	}
	return kappa
}

// LogI0 returns ln I0(kappa), the modified Bessel function of order 0.
func LogI0(kappa float64) float64 { return math.Abs(kappa) + logI0Scaled(math.Abs(kappa)) }

// logI0Scaled returns ln(I0(kappa) exp(-kappa)) for kappa >= 0.
func logI0Scaled(kappa float64) float64 {
	sum, term := 1.0, 1.0
	if kappa < 30 {
		for k := 1.0; term > 1e-17*sum; k++ {
			term *= kappa * kappa / (4 * k * k)
			sum += term
		}
		return math.Log(sum) - kappa
	}
	if math.IsInf(kappa, 1) {
		return math.Inf(-1)
	}
	for k := 1.0; term > 1e-17 && k < 60; k++ {
		term *= (2*k - 1) * (2*k - 1) / (8 * k * kappa)
		sum += term
	}
	return math.Log(sum) - math.Log(2*math.Pi*kappa)/2
}

// VonMisesLogDensity returns the natural logarithm of the von Mises density,
// per radian, at a deviation of devDeg degrees from its mean, for a finite
// concentration kappa >= 0.
func VonMisesLogDensity(devDeg, kappa float64) float64 {
	s := math.Sin(Rad(devDeg) / 2)
	return -2*kappa*s*s - math.Log(2*math.Pi) - logI0Scaled(kappa)
}

// VonMisesMoments returns I1/I0 to In/I0 of kappa >= 0: the mean of cos(k t)
// under a von Mises distribution about 0, for k from 1 to n.
func VonMisesMoments(kappa float64, n int) []float64 {
	// Ratios I(k)/I(k-1) by the continued fraction of Gauss, from far out inward.
	out := make([]float64, n)
	ratio := 0.0
	for k := n + momentsReach(kappa); k >= 1; k-- {
		ratio = kappa / (2*float64(k) + kappa*ratio)
		if k <= n {
			out[k-1] = ratio
		}
	}
	for k := 1; k < n; k++ {
		out[k] *= out[k-1]
	}
	return out
}

// momentsReach is the order beyond which the moments of kappa are below
// rounding: they fall like exp(-n^2 / (2 kappa)), slower only for small n.
func momentsReach(kappa float64) int { return 30 + int(9*math.Sqrt(kappa)) }

// nearlyNormal is the concentration, a standard deviation of 0.06 degrees, from
// which a von Mises distribution counts as normal: its shares differ by some
// 1/(8 kappa).
const nearlyNormal = 1e6

// VonMisesWithin returns the share of a von Mises distribution of concentration
// kappa >= 0 that lies within halfDeg of its mean: the Fourier series of the
// density (Mardia & Jupp 2000, 3.5.17), summed from its far end with the ratios
// of Bessel functions beside it, as Hill 1977 (ACM Transactions on Mathematical
// Software 3:279-284) does.
func VonMisesWithin(halfDeg, kappa float64) float64 {
	h := Rad(halfDeg)
	switch {
	case math.IsNaN(h) || math.IsNaN(kappa):
		return math.NaN()
	case h <= 0:
		return 0
	case h >= math.Pi:
		return 1
	case kappa > nearlyNormal:
		return math.Erf(2 * math.Sin(h/2) * math.Sqrt(kappa/2))
	}
	ratio, sum := 0.0, 0.0
	for k := momentsReach(kappa); k >= 1; k-- {
		ratio = kappa / (2*float64(k) + kappa*ratio)
		sum = ratio * (math.Sin(float64(k)*h)/float64(k) + sum)
	}
	return math.Min(math.Max((h+2*sum)/math.Pi, 0), 1)
}
