package traces

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"strikerose/features/ringdown"
)

// mode is a damped sinusoid whose size and phase a stretch decides.
type mode struct {
	name       string
	hz, decayS float64 // decay infinite where it was not told
}

func modeOf(name string, m ringdown.Mode) mode {
	out := mode{name, m.Hz.Value, math.Inf(1)}
	if m.DecayS != nil {
		out.decayS = m.DecayS.Value
	}
	return out
}

// words names the mode with what was found of it.
func (m mode) words() string {
	if math.IsInf(m.decayS, 0) {
		return fmt.Sprintf("%s %.3f Hz", m.name, m.hz)
	}
	return fmt.Sprintf("%s %.3f Hz, decays in %.1f s", m.name, m.hz, m.decayS)
}

// explain fits an offset and damped sinusoids to values over seconds by least
// squares, and returns what they explain; nil where the values are too few.
func explain(seconds, values []float64, modes ...mode) []float64 {
	n, k := len(seconds), 1+2*len(modes)
	if n <= k {
		return nil
	}
	basis := mat.NewDense(n, k, nil)
	for i, t := range seconds {
		basis.Set(i, 0, 1)
		for j, m := range modes {
			sin, cos := math.Sincos(2 * math.Pi * m.hz * t)
			size := math.Exp(-t / m.decayS)
			basis.Set(i, 1+2*j, size*cos)
			basis.Set(i, 2+2*j, size*sin)
		}
	}
	var weights, fitted mat.VecDense
	if err := weights.SolveVec(basis, mat.NewVecDense(n, append([]float64(nil), values...))); err != nil {
		return nil
	}
	fitted.MulVec(basis, &weights)
	return fitted.RawVector().Data
}

// share is how much of the mean square of a stretch's force about its mean the
// modes explain.
func share(s ringdown.Stretch, modes ...mode) float64 {
	whole, left := 0.0, 0.0
	for _, values := range [][]float64{reals(s.Force), imags(s.Force)} {
		fitted := explain(s.S, values, modes...)
		if fitted == nil {
			return 0
		}
		mean := 0.0
		for _, v := range values {
			mean += v / float64(len(values))
		}
		for i, v := range values {
			whole += (v - mean) * (v - mean)
			left += (v - fitted[i]) * (v - fitted[i])
		}
	}
	if whole == 0 {
		return 0
	}
	return 1 - left/whole
}

func reals(z []complex128) []float64 {
	out := make([]float64, len(z))
	for i, v := range z {
		out[i] = real(v)
	}
	return out
}

func imags(z []complex128) []float64 {
	out := make([]float64, len(z))
	for i, v := range z {
		out[i] = imag(v)
	}
	return out
}

// longS is how long a stretch is that shows a decay.
const longS = 2.0

// typical is, of the stretches of two seconds and more, or of the longest if
// there are none, the one of which the modes explain the middle share.
func typical(stretches []ringdown.Stretch, modes ...mode) (ringdown.Stretch, float64) {
	lasts := func(s ringdown.Stretch) float64 { return s.S[len(s.S)-1] - s.S[0] }
	long := 0.0
	for _, s := range stretches {
		long = max(long, lasts(s))
	}
	long = min(long, longS)
	type judged struct {
		s     ringdown.Stretch
		share float64
	}
	var all []judged
	for _, s := range stretches {
		if lasts(s) >= long {
			all = append(all, judged{s, share(s, modes...)})
		}
	}
	slices.SortStableFunc(all, func(a, b judged) int { return cmp.Compare(a.share, b.share) })
	middle := all[len(all)/2]
	return middle.s, middle.share
}

// Ringdown draws a typical one of the stretches between strikes, force toward
// bearing 0 and 90 and the rate of twisting, each with what the modes found
// explain of it. There must be a stretch.
func Ringdown(rigKey string, stretches []ringdown.Stretch, found ringdown.Found) Picture {
	pendulum := []mode{modeOf("swing", found.Swing), modeOf("rocking", found.Rocking)}
	drawn, explained := typical(stretches, pendulum...)
	type part struct {
		name   string
		values []float64
		modes  []mode
	}
	parts := []part{{"toward 0°, m/s²", imags(drawn.Force), pendulum}, {"toward 90°, m/s²", reals(drawn.Force), pendulum}} // x + i y
	words := pendulum[0].words() + "; " + pendulum[1].words()
	if drawn.Spin != nil && found.Twist != nil {
		twist := modeOf("twist", *found.Twist)
		parts = append(parts, part{"twist, rad/s", drawn.Spin, []mode{twist}})
		words += "; " + twist.words()
	}
	const width = 760
	height := vg.Length(80 + 150*len(parts))
	return Picture{
		Title: fmt.Sprintf("Rig %s after a strike: %s", rigKey, words),
		About: fmt.Sprintf("A typical one of %d stretches between strikes, %.1f s of it, with damped sinusoids of the frequencies that all of them share, which explain %.0f %% of its force: %s.",
			found.Strikes, drawn.S[len(drawn.S)-1]-drawn.S[0], 100*explained, words),
		width: width, height: height,
		paint: func(c draw.Canvas) {
			shares := make([]float64, len(parts))
			for i := range shares {
				shares[i] = 1
			}
			for i, p := range stack(c, width, height, span{drawn.S[0], drawn.S[len(drawn.S)-1]}, shares...) {
				fitted := explain(drawn.S, parts[i].values, parts[i].modes...)
				p.y = spanOf(parts[i].values, fitted)
				p.axes(map[bool]string{true: "seconds after the onset"}[i == len(parts)-1], parts[i].name)
				measured, modes := stroke(thin, 2), stroke(blue, 1.2)
				p.line(measured, drawn.S, parts[i].values)
				if fitted != nil {
					p.line(modes, drawn.S, fitted)
				}
				if i == 0 {
					p.key(entry{"measured", measured}, entry{fmt.Sprintf("explained by the modes (%.0f %% of the force)", 100*explained), modes})
				}
				p.frame()
			}
		},
	}
}
