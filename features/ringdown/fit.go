package ringdown

import (
	"context"
	"math"

	"gonum.org/v1/gonum/mat"
)

// damped are the frequencies (Hz) and rates of decay (1/s) of some modes, in
// turn: what all stretches share.
type damped []float64

// measured is one stretch as the fit sees it.
type measured struct {
	seconds []float64
	series  []series
}

// series are the readings of one stretch that share a noise.
type series struct {
	columns [][]float64
	power   float64 // sum of squares about the columns' means
}

func newSeries(columns ...[]float64) series {
	s := series{columns: columns}
	for _, c := range columns {
		mean := 0.0
		for _, v := range c {
			mean += v / float64(len(c))
		}
		for _, v := range c {
			s.power += float64((v - mean) * (v - mean))
		}
	}
	return s
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += float64(v * b[i])
	}
	return sum
}

func addScaled(to, from []float64, by float64) {
	for i, v := range from {
		to[i] += float64(by * v)
	}
}

// Steps of the differences, in Hz and 1/s.
const stepHz, stepDecay = 1e-3, 4e-3

// slopes are a stretch's misfit about a point, to second order.
type slopes struct {
	value    float64
	gradient []float64
	bend     *mat.SymDense
}

// slopes of the stretch that f is on.
func (f *fitting) slopes(d damped) slopes {
	p := len(d)
	step := make([]float64, p)
	for i := range step {
		step[i] = stepHz
		if i%2 == 1 {
			step[i] = stepDecay
		}
	}
	at := func(moves ...int) float64 { // +1 + i moves parameter i up, -1 - i down
		x := append(damped(nil), d...)
		for _, v := range moves {
			if v > 0 {
				x[v-1] += step[v-1]
			} else {
				x[-v-1] -= step[-v-1]
			}
		}
		return f.misfit(x)
	}
	s := slopes{value: at(), gradient: make([]float64, p), bend: mat.NewSymDense(p, nil)}
	up := make([]float64, p)
	for i := range p {
		up[i] = at(i + 1)
		down := at(-i - 1)
		s.gradient[i] = (up[i] - down) / (2 * step[i])
		s.bend.SetSym(i, i, (up[i]-2*s.value+down)/(step[i]*step[i]))
	}
	for i := range p {
		for j := range i {
			both := at(i+1, j+1)
			s.bend.SetSym(i, j, (both-up[i]-up[j]+s.value)/(step[i]*step[j]))
		}
	}
	return s
}

// total is the weighted sum of stretches' slopes.
func total(all []slopes, weight []float64) slopes {
	p := len(all[0].gradient)
	sum := slopes{gradient: make([]float64, p), bend: mat.NewSymDense(p, nil)}
	for k, s := range all {
		w := weight[k]
		sum.value += w * s.value
		addScaled(sum.gradient, s.gradient, w)
		for i := range p {
			for j := range i + 1 {
				sum.bend.SetSym(i, j, sum.bend.At(i, j)+w*s.bend.At(i, j))
			}
		}
	}
	return sum
}

// newton is the step to the least misfit of the second order. ok is false
// where the bend has no least.
func (s slopes) newton(damping float64) (step []float64, ok bool) {
	p := len(s.gradient)
	bend := mat.NewSymDense(p, nil)
	bend.CopySym(s.bend)
	for i := range p {
		bend.SetSym(i, i, bend.At(i, i)+damping*math.Abs(bend.At(i, i)))
	}
	var c mat.Cholesky
	if !c.Factorize(bend) {
		return nil, false
	}
	var x mat.VecDense
	if c.SolveVecTo(&x, mat.NewVecDense(p, append([]float64(nil), s.gradient...))) != nil {
		return nil, false
	}
	step = make([]float64, p)
	for i := range step {
		step[i] = -x.AtVec(i)
	}
	return step, true
}

// fineStep ends the descent, in Hz and 1/s.
const fineStep = 1e-5

// descend goes to the least weighted misfit from a start, by damped Newton
// steps, and returns the slopes there. ok is false where it finds none or ctx is
// done.
func descend(ctx context.Context, all []measured, weight []float64, start damped) (at damped, there []slopes, ok bool) {
	f := &fitting{}
	value := func(d damped) float64 {
		sum := 0.0
		for k, m := range all {
			if weight[k] > 0 {
				f.take(m, len(d)/2)
				sum += weight[k] * f.misfit(d)
			}
		}
		return sum
	}
	at = append(damped(nil), start...)
	damping := 1e-3
	for range 40 {
		there = make([]slopes, len(all))
		for k, m := range all {
			if ctx.Err() != nil {
				return at, nil, false
			}
			f.take(m, len(at)/2)
			there[k] = f.slopes(at)
		}
		sum := total(there, weight)
		moved := false
		for ; damping < 1e6; damping *= 10 {
			step, fine := sum.newton(damping)
			if !fine {
				continue
			}
			largest := 0.0
			for _, v := range step {
				largest = max(largest, math.Abs(v))
			}
			if largest < fineStep {
				return at, there, true
			}
			next := append(damped(nil), at...)
			addScaled(next, step, 1)
			if next.within() && value(next) <= sum.value {
				at, moved, damping = next, true, max(damping/100, 1e-9)
				break
			}
		}
		if !moved {
			_, fine := sum.newton(0)
			return at, there, fine
		}
	}
	return at, there, false
}

// within tells whether frequencies and decays are such as bags have.
func (d damped) within() bool {
	for i := 0; i < len(d); i += 2 {
		if !(d[i] > 0.05 && d[i] < 20 && d[i+1] > -1 && d[i+1] < 20) {
			return false
		}
	}
	return true
}
