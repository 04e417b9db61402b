package physics

import (
	"math"

	"strikerose/dataset/rig"
)

// Bag is what the fit needs of one rig, made ready once.
type Bag struct {
	mechanics rig.Mechanics
	modes     [2]rig.Mode // swing, rocking
	twist     rig.Mode
	twistKgM2 float64 // with a cover assumed where none is stated
	// obliqueShare of the obliqueness is its standard deviation: what the filling's
	// lag behind the skin and the cover's mass leave open.
	obliqueShare float64
}

// coverShare of the mass is a usual cover's: a choice without source, close to
// that of heavy bags on sale, where canvas or leather weighs some 2 kg.
const coverShare = 0.06

// shortestChainM stands in for a bag bolted to its swivel, which still gives.
const shortestChainM = 0.05

// NewBag makes a rig ready. The rig must be valid.
func NewBag(r *rig.Rig) *Bag {
	m := r.Mechanics()
	m.ChainM = math.Max(m.ChainM, shortestChainM)
	b := &Bag{mechanics: m, twistKgM2: m.TwistKgM2, obliqueShare: shareOfCoverKnown}
	b.modes[0], b.modes[1] = m.Modes()
	b.twist = m.Twist()
	if r.Bag.CoverMassKg == 0 {
		covered := *r
		left := r.Bag.MassKg
		if r.Core != nil {
			left -= r.Core.MassKg
		}
		covered.Bag.CoverMassKg = math.Min(coverShare*r.Bag.MassKg, left/2)
		b.obliqueShare = shareOfCoverGuess
		b.twistKgM2 = covered.Inertia().TwistKgM2
	}
	return b
}

// Unknowns of the fit, the columns of its design.
const (
	swingStart   = iota // amplitude of the swing at the onset
	swingSpeed          // its speed over its angular frequency
	rockingStart        // likewise of the rocking
	rockingSpeed
	push  // A = J/m, m/s
	lever // B = d J/m, m2/s
	bias  // of the accelerometer, m/s2
	step  // in the integral, m/s: what clipping cut off
	unknowns
)

// reading is what the sensor would read at a sample for each unknown at 1.
type reading struct {
	f        [unknowns]float64 // specific force, m/s2
	integral [unknowns]float64 // of f from the onset on, m/s
	rate     [unknowns]float64 // q', rad/s
}

// Contact: the pulse's shape t^1.6 (T-t)^3.7 with T = pulseS, a soft glove on a
// bag. Heights and bearings hardly change for T of 18 or 26 ms.
const (
	pulseS  = 0.022
	centreS = 0.008 // its centre of gravity, about
)

// pulseAt is the pulse, of unit integral.
func pulseAt(t float64) float64 {
	if t <= 0 || t >= pulseS {
		return 0
	}
	x := t / pulseS
	return math.Exp(1.6*math.Log(x)+3.7*math.Log(1-x)) / (pulseBeta * pulseS)
}

// pulseBeta is the beta function of (2.6, 4.7), the shape's integral over T = 1.
var pulseBeta = math.Gamma(2.6) * math.Gamma(4.7) / math.Gamma(7.3)

// oscillator is one mode's state under one unknown: e, e' and the integral of
// G e, by which gravity's part of the integral of f is told.
type oscillator struct{ e, v, fall float64 }

// readings integrates the modes over the window's samples (classical
// Runge-Kutta of fourth order, the onset outward). atSensor and atCentre are the
// apparent gravity over the standard one at each sample.
func (b *Bag) readings(rateHz float64, pre int, atSensor, atCentre []float64, from, to int, out []reading) {
	const longestStepS = 1.25e-3
	m := b.mechanics
	inner := int(math.Ceil(1 / rateHz / longestStepS))
	h := 1 / rateHz / float64(inner)
	for n, mode := range b.modes {
		omega := mode.Omega()
		w2, fade := omega*omega, 2/mode.DecayS
		starts := [3]oscillator{{e: 1}, {v: omega}, {}}
		for u, x := range starts {
			force := 0.0
			if u == 2 {
				force = 1
			}
			for _, way := range []int{1, -1} {
				if u == 2 && way < 0 {
					continue // nothing moves before the push
				}
				x := x
				for i := pre; i >= from && i < to; i += way {
					b.put(&out[i-from], n, u, x, atSensor[i], atCentre[i], force*pulseAt(float64(i-pre)/rateHz), m)
					j := i + way
					if j < from || j >= to {
						break
					}
					for k := range inner {
						at := float64(k) / float64(inner)
						next := float64(k+1) / float64(inner)
						c0, c1 := between(atCentre[i], atCentre[j], at), between(atCentre[i], atCentre[j], next)
						s0, s1 := between(atSensor[i], atSensor[j], at), between(atSensor[i], atSensor[j], next)
						t := (float64(i-pre) + float64(way)*at) / rateHz
						d := float64(way) * h
						p0, p1, p2 := 0.0, 0.0, 0.0
						if force != 0 {
							p0, p1, p2 = pulseAt(t), pulseAt(t+d/2), pulseAt(t+d)
						}
						x = x.advance(d, w2, fade, [3]float64{c0, (c0 + c1) / 2, c1}, [3]float64{s0, (s0 + s1) / 2, s1}, [3]float64{p0, p1, p2})
					}
				}
			}
		}
	}
	for i := from; i < to; i++ {
		r := &out[i-from]
		r.f[bias] = 1
		r.integral[bias] = float64(i-pre) / rateHz
		r.integral[step] = 1
	}
}

func between(a, b, part float64) float64 { return a + part*(b-a) }

// advance takes one step of length d: apparent gravity at the centre of mass
// and at the sensor, and the push, each at the step's start, middle and end.
func (x oscillator) advance(d, w2, fade float64, centre, sensor, force [3]float64) oscillator {
	slope := func(y oscillator, k int) oscillator {
		return oscillator{e: y.v, v: force[k] - fade*y.v - w2*centre[k]*y.e, fall: sensor[k] * y.e}
	}
	plus := func(s oscillator, h float64) oscillator {
		return oscillator{x.e + h*s.e, x.v + h*s.v, x.fall + h*s.fall}
	}
	k1 := slope(x, 0)
	k2 := slope(plus(k1, d/2), 1)
	k3 := slope(plus(k2, d/2), 1)
	k4 := slope(plus(k3, d), 2)
	return oscillator{
		x.e + d/6*(k1.e+2*k2.e+2*k3.e+k4.e),
		x.v + d/6*(k1.v+2*k2.v+2*k3.v+k4.v),
		x.fall + d/6*(k1.fall+2*k2.fall+2*k3.fall+k4.fall),
	}
}

// put writes what the sensor reads of mode n under its unknown u (start, speed,
// push) into r.
func (b *Bag) put(r *reading, n, u int, x oscillator, atSensor, atCentre, force float64, m rig.Mechanics) {
	mode := b.modes[n]
	omega := mode.Omega()
	shape := mode.At(m.SensorM)
	a := force - 2/mode.DecayS*x.v - omega*omega*atCentre*x.e
	f := shape*a + rig.StandardGravityMPS2*atSensor*mode.AngleShape*x.e
	v0 := 0.0
	if u == 1 {
		v0 = omega // the integral begins at the onset
	}
	integral := shape*(x.v-v0) + rig.StandardGravityMPS2*mode.AngleShape*x.fall
	rate := mode.AngleShape * x.v
	if u < 2 {
		k := 2*n + u
		r.f[k], r.integral[k], r.rate[k] = f, integral, rate
		return
	}
	// A force J at depth d drives the mode by (P + d Q) J = m (P A + Q B).
	p, q := m.MassKg*mode.PivotShape, m.MassKg*mode.AngleShape
	r.f[push], r.f[lever] = r.f[push]+p*f, r.f[lever]+q*f
	r.integral[push], r.integral[lever] = r.integral[push]+p*integral, r.integral[lever]+q*integral
	r.rate[push], r.rate[lever] = r.rate[push]+p*rate, r.rate[lever]+q*rate
}
