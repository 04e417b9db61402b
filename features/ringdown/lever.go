package ringdown

import (
	"math"
	"math/rand/v2"
	"slices"
)

// lever regresses specific force on angular acceleration. Without a blow the
// second equation of motion of rig.Mechanics gives y” + g q = -e q” with
// e = c + k^2/c, so that a sensor at depth s feels f = (s - e) q”, in every
// mode and however gravity changes as the bag swings. Stretches whose own slope
// is far from the usual one are held.
func lever(stretches []Stretch, rng *rand.Rand) *Value {
	var xy, xx []float64
	for _, s := range stretches {
		if s.Tip == nil {
			continue
		}
		a, b := regress(s)
		if b > 0 {
			xy, xx = append(xy, a), append(xx, b)
		}
	}
	if len(xx) < fewest {
		return nil
	}
	slopes := make([]float64, len(xx))
	for i := range xx {
		slopes[i] = xy[i] / xx[i]
	}
	middle := median(slopes)
	away := make([]float64, len(slopes))
	for i, s := range slopes {
		away[i] = math.Abs(s - middle)
	}
	most := holdAt*median(away)/0.6745 + 1e-9
	for i, s := range slopes {
		if d := math.Abs(s - middle); d > most {
			xy[i], xx[i] = xy[i]*most/d, xx[i]*most/d
		}
	}
	slope := func(of func(i int) int) float64 {
		a, b := 0.0, 0.0
		for i := range xx {
			k := of(i)
			a, b = a+xy[k], b+xx[k]
		}
		return a / b
	}
	resampled := make([]float64, draws)
	for d := range resampled {
		resampled[d] = slope(func(int) int { return rng.IntN(len(xx)) })
	}
	v := interval(slope(func(i int) int { return i }), resampled)
	return &v
}

// regress sums force times angular acceleration and the latter's square over a
// stretch, about their means. The acceleration is the change of the rate over
// two steps; the force is averaged over the same time by Simpson's rule.
func regress(s Stretch) (xy, xx float64) {
	n := len(s.S)
	var x, y []complex128
	var meanX, meanY complex128
	for i := 1; i+1 < n; i++ {
		x = append(x, (s.Tip[i+1]-s.Tip[i-1])/complex(s.S[i+1]-s.S[i-1], 0))
		y = append(y, (s.Force[i-1]+4*s.Force[i]+s.Force[i+1])/6)
		meanX += x[i-1] / complex(float64(n-2), 0)
		meanY += y[i-1] / complex(float64(n-2), 0)
	}
	for i := range x {
		u, v := x[i]-meanX, y[i]-meanY
		xy += real(u)*real(v) + imag(u)*imag(v)
		xx += real(u)*real(u) + imag(u)*imag(u)
	}
	return xy, xx
}

func median(v []float64) float64 {
	s := slices.Sorted(slices.Values(v))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}
