package physics

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Weights of the rows, as standard deviations: round numbers, what flexing bags
// leave of a stiff one's equations. They hold at usualRateHz and grow with the
// root of the rate, since errors of the model last longer than a sample.
const (
	usualRateHz = 400.0

	beforeMPS2     = 0.15  // f before the strike
	integralShare  = 0.015 // of the kick: the integral of f
	integralMPS    = 0.005 // at least
	rateRadps      = 0.01  // q', at rest
	rateShare      = 0.04  // of the kick, rad/s per m/s, right after the strike while the core rings
	rateDecayS     = 0.050 // how long it rings
	laterMPS2      = 0.3   // f after the strike, at rest
	laterShare     = 0.9   // of the kick, m/s2 per m/s
	clippedShare   = 0.15  // of the kick: what refilling clipped readings may leave out
	notClippedMPS  = 1e-6
	impulsePriorNs = 25.0 // spread of a weak prior on the impulse
)

// Priors on the unknowns, as standard deviations: what a bag can do at all.
const (
	priorPivotM = 0.5
	priorTurn   = 0.5 // rad
	priorBias   = 0.3 // m/s2
)

// equations are the normal equations of one strike: N x = b with the design
// alike for both axes.
type equations struct {
	rows   []row
	normal [unknowns][unknowns]float64
	kick   float64 // size of the velocity change that scales the model's error, m/s
}

// row is one weighted row of the design and the sample that it belongs to.
type row struct {
	x      [unknowns]float64 // over the standard deviation
	weight float64           // one over the standard deviation
	sample int
	kind   kind
}

// kind is what a row reads.
type kind int

const (
	rowForce kind = iota
	rowIntegral
	rowRate
)

// newEquations sets up a strike's rows and their normal matrix.
func newEquations(b *Bag, s *strike) *equations {
	r := make([]reading, s.to-s.from)
	b.readings(s.rateHz, s.pre, s.atSensor, s.atCentre, s.from, s.to, r)
	e := &equations{kick: s.kick(b)}
	e.rows = make([]row, 0, 2*len(r))
	slow := math.Sqrt(s.rateHz / usualRateHz)
	start := r[s.integralStart()-s.from].integral
	start[step] = 0
	for i := s.from; i < s.to; i++ {
		at := &r[i-s.from]
		ms := float64(i-s.pre) * 1000 / s.rateHz
		gyro := s.rate != nil
		switch {
		case ms <= beforeToMs:
			e.add(i, rowForce, at.f, beforeMPS2*slow)
			if gyro {
				e.add(i, rowRate, at.rate, rateRadps*slow)
			}
		case ms >= afterMs:
			if ms <= integralToMs {
				in := at.integral
				for k := range in {
					in[k] -= start[k]
				}
				e.add(i, rowIntegral, in, math.Hypot(integralShare*e.kick, integralMPS)*slow)
			}
			if gyro {
				e.add(i, rowRate, at.rate, (rateRadps+rateShare*e.kick*math.Exp(-ms/1000/rateDecayS))*slow)
			} else {
				e.add(i, rowForce, at.f, (laterMPS2+laterShare*e.kick)*slow)
			}
		}
	}
	prior := [unknowns]float64{push: math.Inf(1), lever: math.Inf(1), bias: priorBias, step: notClippedMPS}
	for n, mode := range b.modes {
		size := math.Min(priorPivotM/math.Abs(mode.PivotShape), priorTurn/math.Abs(mode.AngleShape))
		prior[2*n], prior[2*n+1] = size, size
	}
	if s.clipped {
		prior[step] = clippedShare * e.kick
	}
	for k, sd := range prior {
		e.normal[k][k] += 1 / (sd * sd)
	}
	return e
}

// add enters a row of standard deviation sd.
func (e *equations) add(sample int, of kind, x [unknowns]float64, sd float64) {
	for k := range x {
		x[k] /= sd
	}
	for a := range x {
		for b := range a + 1 {
			e.normal[a][b] += x[a] * x[b]
		}
	}
	e.rows = append(e.rows, row{x: x, weight: 1 / sd, sample: sample, kind: of})
}

// freedom is the number of degrees of freedom that the misfit has.
func (e *equations) freedom() float64 { return 2 * float64(max(len(e.rows)-unknowns, 1)) }

// kick is the size of the velocity change that the strike made: at the sensor
// or, where that is small, as the rocking after it shows.
func (s *strike) kick(b *Bag) float64 {
	var sum complex128
	n := 0
	for i := s.at(afterMs); i < min(s.at(integralToMs), s.to); i++ {
		sum += s.integral[i]
		n++
	}
	if n == 0 {
		return 1
	}
	kick := abs(sum) / float64(n)
	if s.rate != nil {
		// Carried to the centre of mass, no strike leaves it small.
		var after, before complex128
		na, nb := 0, 0
		for i := s.from; i < s.to; i++ {
			switch {
			case i < s.at(beforeToMs):
				before += s.rate[i]
				nb++
			case i >= s.at(afterMs) && i < s.at(integralToMs):
				after += s.rate[i]
				na++
			}
		}
		if na > 0 && nb > 0 {
			turn := after/complex(float64(na), 0) - before/complex(float64(nb), 0)
			centre := sum/complex(float64(n), 0) + turn*complex(b.mechanics.CentreM-b.mechanics.SensorM, 0)
			kick = math.Max(kick, abs(centre))
		}
	} else {
		var square float64
		m := 0
		for i := s.at(afterMs); i < min(s.at(100), s.to); i++ {
			square += real(s.f[i])*real(s.f[i]) + imag(s.f[i])*imag(s.f[i])
			m++
		}
		kick = math.Hypot(kick, math.Sqrt(square/float64(m))/b.modes[1].Omega())
	}
	return math.Max(kick, 1e-3)
}

// solution is what the fit says of push and lever together: their best values,
// the inverse of their covariance (the same for both axes), and the misfit.
type solution struct {
	y      [2]complex128 // A m/s, B m2/s
	w      [2][2]float64
	misfit float64 // chi squared with both free
}

// factored is the normal matrix, ready for any readings.
type factored struct {
	chol mat.Cholesky
	w    [2][2]float64
}

func (e *equations) factor() (*factored, bool) {
	n := mat.NewSymDense(unknowns, nil)
	for a := range unknowns {
		for b := range a + 1 {
			n.SetSym(a, b, e.normal[a][b])
		}
	}
	f := &factored{}
	if !f.chol.Factorize(n) {
		return nil, false
	}
	var inverse mat.SymDense
	if f.chol.InverseTo(&inverse) != nil {
		return nil, false
	}
	aa, ab, bb := inverse.At(push, push), inverse.At(push, lever), inverse.At(lever, lever)
	det := aa*bb - ab*ab
	if !(det > 0) {
		return nil, false
	}
	f.w = [2][2]float64{{bb / det, -ab / det}, {-ab / det, aa / det}}
	return f, true
}

// solve fits readings: f, its integral and q', by sample.
func (e *equations) solve(n *factored, f, integral, rate []complex128) solution {
	var re, im [unknowns]float64
	var square float64
	for k := range e.rows {
		r := &e.rows[k]
		var z complex128
		switch r.kind {
		case rowForce:
			z = f[r.sample]
		case rowIntegral:
			z = integral[r.sample]
		default:
			z = rate[r.sample]
		}
		zr, zi := real(z)*r.weight, imag(z)*r.weight
		square += zr*zr + zi*zi
		for j, x := range r.x {
			re[j] += x * zr
			im[j] += x * zi
		}
	}
	var x, y mat.VecDense
	vr, vi := mat.NewVecDense(unknowns, re[:]), mat.NewVecDense(unknowns, im[:])
	if n.chol.SolveVecTo(&x, vr) != nil || n.chol.SolveVecTo(&y, vi) != nil {
		return solution{w: n.w}
	}
	for j := range unknowns {
		square -= re[j]*x.AtVec(j) + im[j]*y.AtVec(j)
	}
	return solution{
		y:      [2]complex128{complex(x.AtVec(push), y.AtVec(push)), complex(x.AtVec(lever), y.AtVec(lever))},
		w:      n.w,
		misfit: math.Max(square, 0),
	}
}
