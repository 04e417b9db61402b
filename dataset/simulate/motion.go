package simulate

import (
	"math"
	"math/cmplx"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// Horizontal vectors are complex here, the part toward bearing 0 real and the
// part toward bearing 90 imaginary, as bearing.Unit writes them: a factor
// exp(i b) turns by b clockwise. They are in the room's frame, in which the
// resting bag's marks stand; a bag twisted by psi (anticlockwise positive) sees
// them times exp(i psi).

// body is a bag in motion: its modes, stepped in closed form.
//
// Each mode obeys a” + 2 gamma a' + (w^2 + gamma^2) a = F(t) u, w being the
// frequency it rings at. A half-sine force has the particular solution
// Im(H exp(i W t)), H = 1/(w^2 + gamma^2 - W^2 + 2 i gamma W) (textbook forced
// oscillator); what is left of the motion when it is taken off is free, and a
// free motion steps exactly over any time.
//
// To second order the modes are not free: a bag that swings rises and falls, and
// all that gravity restores grows with the apparent gravity at its centre of
// mass, which centripetal force takes beyond 2 g after a hard blow. Gravity is
// all the stiffness there is, so that modal stiffness scales with it. This
// enters as kicks of half a step before and after each free step (Strang
// splitting, an error of order (w step)^2/24 of the effect, 1e-5 at 1 kHz).
type body struct {
	m      rig.Mechanics
	mode   [3]mode // swing, rocking, twist
	pulses []pulse
	at     float64 // seconds
	step   step    // the last one, mostly good for the next
	plain  bool    // without the second order
	excess float64 // apparent gravity at the centre of mass over g, less 1
}

// mode is one of the motions of a body.
type mode struct {
	shape  rig.Mode
	w2     float64 // w^2 + gamma^2
	gamma  float64
	x, v   complex128 // of the free part
	X, V   complex128 // whole, after settle
	A      complex128
	pushed complex128 // force on it, after settle
}

const (
	swing = iota
	rocking
	twist
)

// pulse is a half-sine force that acts.
type pulse struct {
	from, until float64
	rate        float64       // W
	on          [3]complex128 // force on each mode at the peak
	answer      [3]complex128 // H
}

// step is the exact free motion over a time, for each mode.
type step struct {
	dt             float64
	xx, xv, vx, vv [3]float64
}

func newBody(m rig.Mechanics) *body {
	b := &body{m: m}
	b.mode[swing].shape, b.mode[rocking].shape = m.Modes()
	b.mode[twist].shape = m.Twist()
	for k := range b.mode {
		o := &b.mode[k]
		o.gamma = 1 / o.shape.DecayS
		o.w2 = o.shape.Omega()*o.shape.Omega() + o.gamma*o.gamma
	}
	return b
}

// over returns the free step over dt.
func (b *body) over(dt float64) step {
	s := step{dt: dt}
	for k := range b.mode {
		o := &b.mode[k]
		w := o.shape.Omega()
		sin, cos := math.Sincos(w * dt)
		e := math.Exp(-o.gamma * dt)
		s.xx[k] = e * (cos + o.gamma/w*sin)
		s.xv[k] = e * sin / w
		s.vx[k] = -e * o.w2 / w * sin
		s.vv[k] = e * (cos - o.gamma/w*sin)
	}
	return s
}

// advance moves the body to a later time through every end of a pulse before
// it.
func (b *body) advance(to float64) {
	for {
		until, which := to, -1
		for i, p := range b.pulses {
			if p.until <= until {
				until, which = p.until, i
			}
		}
		b.free(until)
		if which < 0 {
			return
		}
		b.shift(&b.pulses[which], +1)
		b.pulses = append(b.pulses[:which], b.pulses[which+1:]...)
		b.settle()
	}
}

// free moves the body to a time before which no pulse starts or ends.
func (b *body) free(to float64) {
	dt := to - b.at
	if dt <= 0 {
		return
	}
	if math.Abs(dt-b.step.dt) > 1e-12 {
		b.step = b.over(dt)
	}
	b.kick(dt / 2)
	s := &b.step
	for k := range b.mode {
		o := &b.mode[k]
		o.x, o.v = scale(s.xx[k], o.x)+scale(s.xv[k], o.v), scale(s.vx[k], o.x)+scale(s.vv[k], o.v)
	}
	b.at = to
	b.settle()
	b.kick(dt / 2)
}

// kick adds what the excess of apparent gravity does over dt.
func (b *body) kick(dt float64) {
	if b.plain {
		return
	}
	for k := range b.mode[:twist] {
		o := &b.mode[k]
		o.v -= scale(b.excess*o.w2*dt, o.X)
		o.V -= scale(b.excess*o.w2*dt, o.X)
	}
}

// settle computes whole motion and accelerations from the free parts and the
// pulses that act.
func (b *body) settle() {
	for k := range b.mode {
		o := &b.mode[k]
		o.X, o.V, o.pushed = o.x, o.v, 0
	}
	for i := range b.pulses {
		p := &b.pulses[i]
		sin, cos := math.Sincos(p.rate * (b.at - p.from))
		turn := complex(cos, sin)
		for k := range b.mode {
			o := &b.mode[k]
			z := p.answer[k] * turn
			o.X += scale(imag(z), p.on[k])
			o.V += scale(p.rate*real(z), p.on[k])
			o.pushed += scale(sin, p.on[k])
		}
	}
	b.accelerate()
	if !b.plain {
		_, up := b.point(b.m.CentreM)
		// A chain only pulls, and beyond 3 g the second order says nothing.
		b.excess = min(max(up/rig.StandardGravityMPS2, -1), 2)
		b.accelerate()
	}
}

func (b *body) accelerate() {
	for k := range b.mode {
		o := &b.mode[k]
		w2 := o.w2
		if k != twist {
			w2 *= 1 + b.excess
		}
		o.A = o.pushed - scale(2*o.gamma, o.V) - scale(w2, o.X)
	}
}

// shift adds sign times a pulse's particular solution, at the present time, to
// the free parts: minus where it begins, plus where it ends.
func (b *body) shift(p *pulse, sign float64) {
	sin, cos := math.Sincos(p.rate * (b.at - p.from))
	for k := range b.mode {
		z := p.answer[k] * complex(cos, sin)
		b.mode[k].x += scale(sign*imag(z), p.on[k])
		b.mode[k].v += scale(sign*p.rate*real(z), p.on[k])
	}
}

// strike begins a push at the present time. Where the force acts along the
// surface it twists the bag, and where it rises it tilts it: a bag that tilts
// toward the side of the blow lifts that side, by the radius times the angle.
func (b *body) strike(s Strike) {
	p := pulse{from: b.at, until: b.at + s.ContactS, rate: math.Pi / s.ContactS}
	side := bearing.Unit(s.BearingDeg) * cmplx.Conj(b.turned())
	sinRise, cosRise := math.Sincos(bearing.Rad(s.RiseDeg))
	across := scale(-s.PeakN*cosRise, side*bearing.Unit(-s.ObliqueDeg))
	tilting := scale(b.m.DepthM(s.HeightM), across) + scale(b.m.RadiusM*s.PeakN*sinRise, side)
	torque := -b.m.RadiusM * s.PeakN * cosRise * math.Sin(bearing.Rad(s.ObliqueDeg))
	for k := range b.mode {
		o := &b.mode[k]
		if k == twist {
			p.on[k] = complex(o.shape.AngleShape*torque, 0)
		} else {
			p.on[k] = scale(o.shape.PivotShape, across) + scale(o.shape.AngleShape, tilting)
		}
		p.answer[k] = 1 / complex(o.w2-p.rate*p.rate, 2*o.gamma*p.rate)
	}
	b.shift(&p, -1)
	b.pulses = append(b.pulses, p)
	b.settle()
}

// pivot and tilt return value, rate and acceleration of the lower pivot's
// displacement and of the bag's angle.
func (b *body) pivot() (x, v, a complex128) {
	s, r := &b.mode[swing], &b.mode[rocking]
	p, q := s.shape.PivotShape, r.shape.PivotShape
	return scale(p, s.X) + scale(q, r.X), scale(p, s.V) + scale(q, r.V), scale(p, s.A) + scale(q, r.A)
}

func (b *body) tilt() (x, v, a complex128) {
	s, r := &b.mode[swing], &b.mode[rocking]
	p, q := s.shape.AngleShape, r.shape.AngleShape
	return scale(p, s.X) + scale(q, r.X), scale(p, s.V) + scale(q, r.V), scale(p, s.A) + scale(q, r.A)
}

// turned is the factor that turns a vector from the room's frame to the bag's
// marks.
func (b *body) turned() complex128 {
	o := &b.mode[twist]
	psi := o.shape.AngleShape * real(o.X)
	sin, cos := math.Sincos(psi)
	return complex(cos, sin)
}

// point returns the acceleration of a point of the axis, across and, to second
// order in the angles, upward: it hangs at the height
// |y|^2/2l + depth |q|^2/2 above where it rests.
func (b *body) point(depthM float64) (across complex128, up float64) {
	y, yv, ya := b.pivot()
	q, qv, qa := b.tilt()
	across = ya + scale(depthM, qa)
	up = (square(yv)+dot(y, ya))/b.m.ChainM + depthM*(square(qv)+dot(q, qa))
	return across, up
}

// read returns what a faultless sensor on the axis reads in the bag's frame:
// specific force in m/s2 to second order in the angles, and rotation rate in
// rad/s.
func (b *body) read(depthM float64) (a, g [3]float64) {
	across, up := b.point(depthM)
	q, qv, _ := b.tilt()
	turn := b.turned()
	weight := rig.StandardGravityMPS2 + up
	lean := dot(q, across)
	f := (across + scale(weight-lean/2, q)) * turn
	a = [3]float64{imag(f), real(f), weight*(1-square(q)/2) - lean}
	w := qv * turn
	spin := &b.mode[twist]
	g = [3]float64{real(w), -imag(w), spin.shape.AngleShape * real(spin.V)}
	return a, g
}

func scale(f float64, z complex128) complex128 { return complex(f*real(z), f*imag(z)) }
func square(z complex128) float64              { return real(z)*real(z) + imag(z)*imag(z) }
func dot(a, b complex128) float64              { return real(a)*real(b) + imag(a)*imag(b) }
