package physics

import (
	"math"
	"slices"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// strike is a window made ready for the fit: the channels as complex vectors
// y + i x in the bag's frame at the pulse's centre, and the apparent gravity.
type strike struct {
	rateHz   float64
	pre      int // sample of the onset
	from, to int // samples that may be used
	f        []complex128
	rate     []complex128 // q', nil without a gyroscope
	spin     []float64    // about the vertical, anticlockwise seen from above, rad/s; nil likewise
	integral []complex128 // of f from the onset on
	atSensor []float64    // apparent gravity over the standard one
	atCentre []float64
	clipped  bool
}

// Stretches of the window, milliseconds after the onset, and what they are for.
const (
	beforeGyroMs  = -30.0  // readings before the strike begin, with a gyroscope
	beforeAccelMs = -150.0 // and without one
	beforeToMs    = -1.5   // they end: onsets jitter
	afterMs       = 26.0   // contact is over
	integralToMs  = 50.0   // the integral is read up to here: then bias and gravity take over
	gyroToMs      = 65.0   // rotation rates are read up to here
	accelToMs     = 200.0  // the accelerometer alone is read up to here
	contactFromMs = -3.0   // the integral begins: onsets are found late by up to so much

	// Smoothing of the vertical channel, which a blow's spike must not enter.
	medianMs, meanMs       = 5.0, 7.0
	leastGravity, mostGrav = 0.1, 2.5 // apparent, over the standard one
)

// WaitMs is how long after the onset the fit reads.
func WaitMs(gyro bool) float64 {
	if gyro {
		return gyroToMs
	}
	return accelToMs
}

// LeastMs is the shortest stretch after the onset that the fit can do with: the
// contact and some readings after it.
const LeastMs = 40.0

// at returns the sample nearest to a time after the onset.
func (s *strike) at(ms float64) int { return s.pre + int(math.Round(ms*s.rateHz/1000)) }

// newStrike makes a window ready, its onset so much earlier than it says; false
// where too little of it is left: no reading after the contact, or before the
// onset.
func newStrike(b *Bag, w *dataset.Window, earlierMs float64) (*strike, bool) {
	s := &strike{rateHz: w.RateHz, pre: w.Pre - int(math.Round(earlierMs*w.RateHz/1000)), clipped: w.Strike.Clipped}
	gyro := w.HasGyro()
	before := beforeAccelMs
	if gyro {
		before = beforeGyroMs
	}
	// One sample further than the stretches' ends, for the integral's first.
	s.from = max(0, s.at(math.Min(before, contactFromMs)))
	s.to = min(len(w.A[0]), w.Pre+int(math.Ceil(WaitMs(gyro)*s.rateHz/1000-1e-9)))
	first, last := recorded(w, s.from, s.to)
	s.from, s.to = first, last
	if s.to-s.at(afterMs) < 2 || s.pre-s.from < 2 {
		return nil, false
	}
	n := s.to
	s.f = make([]complex128, n)
	for i := s.from; i < n; i++ {
		s.f[i] = complex(w.A[1][i], w.A[0][i])
		if !finite(s.f[i]) || !finite(complex(w.A[2][i], 0)) {
			return nil, false
		}
	}
	if gyro {
		s.rate, s.spin = make([]complex128, n), make([]float64, n)
		for i := s.from; i < n; i++ {
			s.rate[i] = complex(w.G[0][i], -w.G[1][i])
			s.spin[i] = w.G[2][i]
			if !finite(s.rate[i]) || !finite(complex(s.spin[i], 0)) {
				return nil, false
			}
		}
	} else if next, ok := s.nextBlow(); ok {
		s.to = next
		if s.to-s.at(afterMs) < 2 {
			return nil, false
		}
	}
	s.gravity(b, w.A[2])
	if gyro {
		s.turnBack()
	}
	s.integral = make([]complex128, n)
	s.integrate(s.f, s.integral)
	return s, true
}

// largest bounds readings: no sensor reads a thousandth of it.
const largest = 1e6

func finite(z complex128) bool {
	return math.Abs(real(z)) < largest && math.Abs(imag(z)) < largest
}

// recorded narrows a range to the samples that were read: where a segment begins or
// ends inside a window, its first or last reading is repeated.
func recorded(w *dataset.Window, from, to int) (first, last int) {
	same := func(i, j int) bool {
		for k := range 3 {
			if w.A[k][i] != w.A[k][j] || w.HasGyro() && w.G[k][i] != w.G[k][j] {
				return false
			}
		}
		return true
	}
	for from+1 < to && from+1 < w.Pre && same(from, from+1) {
		from++
	}
	for to-2 > w.Pre && same(to-1, to-2) {
		to--
	}
	return from, to
}

// nextBlow finds where a further blow begins in the window: a jump of the
// reading that free swing does not make.
func (s *strike) nextBlow() (sample int, ok bool) {
	const earliestMs, overMs, leastMPS2, share = 100.0, 6.0, 15.0, 0.3
	peak := 0.0
	for i := s.pre; i < min(s.at(afterMs), s.to); i++ {
		peak = math.Max(peak, abs(s.f[i]))
	}
	limit := math.Max(leastMPS2, share*peak)
	over := max(1, int(math.Round(overMs*s.rateHz/1000)))
	for i := s.at(earliestMs); i < s.to; i++ {
		if abs(s.f[i]-s.f[i-over]) > limit {
			return i - over, true
		}
	}
	return 0, false
}

func abs(z complex128) float64 { return math.Hypot(real(z), imag(z)) }

// gravity works out the apparent gravity at sensor and centre of mass.
func (s *strike) gravity(b *Bag, up []float64) {
	half := func(ms float64) int { return max(1, int(math.Round(ms*s.rateHz/2000))) }
	n := s.to
	smooth := running(running(up, s.from, n, half(medianMs), median), s.from, n, half(meanMs), mean)
	s.atSensor, s.atCentre = smooth, make([]float64, n)
	lift := (b.mechanics.CentreM - b.mechanics.SensorM) / rig.StandardGravityMPS2
	var turning []float64
	if s.rate != nil {
		turning = make([]float64, n)
		for i := s.from; i < n; i++ {
			turning[i] = real(s.rate[i])*real(s.rate[i]) + imag(s.rate[i])*imag(s.rate[i])
		}
		turning = running(turning, s.from, n, half(meanMs), mean)
	}
	held := func(g float64) float64 { return math.Min(math.Max(g, leastGravity), mostGrav) }
	for i := s.from; i < n; i++ {
		g := smooth[i] / rig.StandardGravityMPS2
		s.atSensor[i], s.atCentre[i] = held(g), held(g)
		if turning != nil {
			s.atCentre[i] = held(g + lift*turning[i])
		}
	}
}

// running applies a function to the readings within half on either side.
func running(x []float64, from, to, half int, of func([]float64) float64) []float64 {
	out := make([]float64, to)
	scratch := make([]float64, 0, 2*half+1)
	for i := from; i < to; i++ {
		scratch = append(scratch[:0], x[max(from, i-half):min(to, i+half+1)]...)
		out[i] = of(scratch)
	}
	return out
}

func median(x []float64) float64 {
	slices.Sort(x)
	n := len(x)
	return (x[(n-1)/2] + x[n/2]) / 2
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// turnBack turns the vectors by what the bag has turned since the pulse's
// centre, so that they stand in one frame.
func (s *strike) turnBack() {
	centre := min(s.at(centreS*1000), s.to-1)
	turn := make([]float64, s.to) // anticlockwise, radians
	for i := centre + 1; i < s.to; i++ {
		turn[i] = turn[i-1] + (s.spin[i-1]+s.spin[i])/2/s.rateHz
	}
	for i := centre - 1; i >= s.from; i-- {
		turn[i] = turn[i+1] - (s.spin[i+1]+s.spin[i])/2/s.rateHz
	}
	for i := s.from; i < s.to; i++ {
		sin, cos := math.Sincos(-turn[i])
		u := complex(cos, sin)
		s.f[i] *= u
		s.rate[i] *= u
	}
}

// integrate fills out with the integral of f (trapezoids) from contactFromMs on,
// as the design counts it: from the onset on for a motion that began before.
func (s *strike) integrate(f, out []complex128) {
	start := max(s.from, s.at(contactFromMs))
	out[start] = 0
	for i := start + 1; i < s.to; i++ {
		out[i] = out[i-1] + (f[i-1]+f[i])*complex(0.5/s.rateHz, 0)
	}
}

// integralStart is the sample at which the integral begins.
func (s *strike) integralStart() int { return max(s.from, s.at(contactFromMs)) }

// spinChange is the change of spin over the contact: the line through 20 to 50
// ms, carried back to the pulse's centre, less the mean before.
func (s *strike) spinChange() float64 {
	var n, st, sx, stt, stx, before, nb float64
	for i := s.from; i < s.to; i++ {
		t := float64(i-s.pre) / s.rateHz
		switch ms := t * 1000; {
		case ms <= beforeToMs:
			before += s.spin[i]
			nb++
		case ms >= 20 && ms <= integralToMs:
			t -= centreS
			n, st, sx, stt, stx = n+1, st+t, sx+s.spin[i], stt+t*t, stx+t*s.spin[i]
		}
	}
	if n < 1 || nb < 1 {
		return 0
	}
	after := sx / n
	if det := n*stt - st*st; n >= 4 && det > 0 {
		after = (stt*sx - st*stx) / det
	}
	return after - before/nb
}
