package calibrate

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Allan is one point of a curve of Allan deviations.
type Allan struct {
	TauS float64 `json:"tau_s"` // averaging time, seconds, above 0
	Dev  float64 `json:"dev"`   // Allan deviation in the readings' unit, at least 0
	Low  float64 `json:"low"`   // lower end of its 90 % interval, if the noise is white, at least 0
	High float64 `json:"high"`  // upper end of its 90 % interval, if the noise is white, at least 0
}

// OverlappingAllan returns the Allan deviation of evenly spaced readings over
// averages of m readings, from all overlapping pairs of averages (Riley 2008,
// NIST Special Publication 1065, section 5.2.5; readings are its fractional
// frequencies). NaN with fewer than 2 m readings.
func OverlappingAllan(x []float64, m int) float64 {
	n := len(x) - 2*m + 1
	if m < 1 || n < 1 {
		return math.NaN()
	}
	difference := 0.0 // sum of the second m less sum of the first m
	for i := range m {
		difference += x[m+i] - x[i]
	}
	sum := float64(difference * difference)
	for j := 1; j < n; j++ {
		difference += x[j-1] - 2*x[j-1+m] + x[j-1+2*m]
		sum += float64(difference * difference)
	}
	return math.Sqrt(sum/(2*float64(n))) / float64(m)
}

// fewestAverages is how many averages a point of a curve must rest on at least.
const fewestAverages = 5

// AllanCurve returns the Allan deviations of evenly spaced readings over
// averaging times in steps of about a quarter octave, up to a fifth of the
// recording. The readings' mean is of no concern.
func AllanCurve(x []float64, rateHz float64) []Allan {
	var out []Allan
	last := 0
	for step := 0; ; step++ {
		m := int(math.Round(math.Exp2(float64(step) / 4)))
		if m*fewestAverages > len(x) {
			return out
		}
		if m == last {
			continue
		}
		last = m
		p := Allan{TauS: float64(m) / rateHz, Dev: OverlappingAllan(x, m)}
		p.Low, p.High = allanInterval(p.Dev, freedom(len(x)+1, m))
		out = append(out, p)
	}
}

// freedom is how many degrees of freedom an overlapping Allan variance of white
// noise has, with n phase points (readings and one) and averages of m (Howe,
// Allan and Barnes 1981, as quoted for white frequency noise, from memory; held
// to chance by a test).
func freedom(n, m int) float64 {
	N, M := float64(n), float64(m)
	return max(1, (3*(N-1)/(2*M)-2*(N-2)/N)*4*M*M/(4*M*M+5))
}

// allanInterval is the 90 % interval of a deviation: that many degrees of
// freedom times the variance is distributed as chi-squared.
func allanInterval(dev, freedom float64) (low, high float64) {
	d := distuv.ChiSquared{K: freedom}
	return dev * math.Sqrt(freedom/d.Quantile(0.95)), dev * math.Sqrt(freedom/d.Quantile(0.05))
}

// Noise is what a curve of Allan deviations says of one axis.
type Noise struct {
	Reading float64 `json:"reading"` // standard deviation of a single reading from its neighbours, at least 0
	// Density is one-sided noise density per root hertz, as data sheets give it, at
	// least 0: over a band of B hertz its share of a reading is density sqrt(B).
	Density          float64 `json:"density"`
	DensityLow       float64 `json:"density_low"`       // lower end of its 90 % interval, at least 0
	DensityHigh      float64 `json:"density_high"`      // upper end of its 90 % interval, at least 0
	Instability      float64 `json:"instability"`       // bias instability: the lowest Allan deviation over 0.664, at least 0
	InstabilityTauS  float64 `json:"instability_tau_s"` // averaging time at which the deviation is lowest, seconds, at least 0
	InstabilityLimit bool    `json:"instability_limit"` // whether the curve is lowest at its end, so that the instability is a limit from above alone
}

// The averaging times between which the density is read: above the sensor's own
// low-pass, below its slow drift.
const (
	densityFromS = 0.02
	densityToS   = 0.5
)

// flickerFloor is the flat Allan deviation of flicker noise over its
// coefficient, sqrt(2 ln 2 / pi) (IEEE Std 952-1997, annex C, from memory).
const flickerFloor = 0.6642824702679600

// ReadNoise reads a curve. ok is false for one too short to be read.
func ReadNoise(curve []Allan) (n Noise, ok bool) {
	if len(curve) == 0 {
		return n, false
	}
	n.Reading = curve[0].Dev
	// White noise falls as density / sqrt(2 tau). The point with the most
	// readings in the range is its lowest averaging time; the median over the
	// range is less at the mercy of a hum.
	var white []Allan
	lowest := 0
	for i, p := range curve {
		if p.TauS >= densityFromS && p.TauS <= densityToS {
			white = append(white, p)
		}
		if p.Dev < curve[lowest].Dev {
			lowest = i
		}
	}
	if len(white) == 0 {
		white = curve[:1]
	}
	by := func(of func(Allan) float64) float64 {
		v := make([]float64, len(white))
		for i, p := range white {
			v[i] = of(p) * math.Sqrt(2*p.TauS)
		}
		return median(v)
	}
	n.Density = by(func(p Allan) float64 { return p.Dev })
	n.DensityLow = by(func(p Allan) float64 { return p.Low })
	n.DensityHigh = by(func(p Allan) float64 { return p.High })
	n.Instability, n.InstabilityTauS = curve[lowest].Dev/flickerFloor, curve[lowest].TauS
	n.InstabilityLimit = curve[lowest].Low < curve[len(curve)-1].High && lowest >= len(curve)-4
	return n, true
}
