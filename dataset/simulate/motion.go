package simulate

import (
	"math"
	"math/cmplx"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// bag is a bag that moves.
type bag interface {
	// advance moves it to a later time.
	advance(toS float64)
	// strike begins a push at the present time.
	strike(Strike)
	// read returns what a faultless sensor would read in the bag's frame:
	// specific force in m/s2 and rotation rate in rad/s.
	read() (a, g [3]float64)
}

// modal is a bag that moves by its modes, in the room's frame, in which the
// resting bag's marks stand; a bag twisted by psi (anticlockwise positive) sees
// a vector times exp(i psi).
//
// The modes are those of small angles. Beyond, a bag that swings rises and
// falls: apparent gravity goes beyond 2 g after a hard blow, and all that pulls
// a hanging bag back grows with it. This enters as an extra force, exact to the
// third order in the angles but for the chain's own mass, by kicks of half a
// step before and after each free step (Strang splitting, of second order in
// the step).
type modal struct {
	bank
	m              rig.Mechanics
	swing, rocking rig.Mode
	twist          rig.Mode
	yy, yq, qq     float64 // accelerations of pivot and angle for unit forces on them
	fallY, fallQ   float64 // what the terms of fourth order in the weight give, see rise
	bend           bending
	sensorBend     float64 // its shape at the sensor
}

// The modes of a modal bag in its bank; atBend only where it bends.
const (
	atSwing = iota
	atRocking
	atTwist
	atBend
)

func newModal(m rig.Mechanics, f Flex) *modal {
	b := &modal{m: m, bend: newBending(m, f)}
	b.swing, b.rocking = m.Modes()
	b.twist = m.Twist()
	for _, s := range []rig.Mode{b.swing, b.rocking, b.twist} {
		b.mode = append(b.mode, newMode(s.Hz, s.DecayS))
	}
	if f.Hz > 0 {
		b.mode = append(b.mode, newMode(f.Hz, f.DecayS))
	}
	b.sensorBend = b.bend.at(m.SensorM)
	for _, s := range []rig.Mode{b.swing, b.rocking} {
		b.yy += s.PivotShape * s.PivotShape
		b.yq += s.PivotShape * s.AngleShape
		b.qq += s.AngleShape * s.AngleShape
	}
	const g = rig.StandardGravityMPS2
	b.fallY, b.fallQ = g*(m.MassKg+m.ChainMassKg/2)/(2*m.ChainM*m.ChainM*m.ChainM), m.MassKg*m.CentreM*g/2
	b.beside = b.rise
	return b
}

// rise works out what rising adds. Let y and q be the sines of the chain's and
// bag's angles, y times the chain's length l, h the height of the centre of mass,
// |y|^2/2l + c |q|^2/2 to second order. The Lagrangian to fourth order has
// m h'^2/2 and m k^2 (q.q')^2/2 beside the small motion's energy, and
// -m g (|y|^4/8l^3 + c |q|^4/8). Half of the chain's weight adds to the first of
// these; that the chain's own mass moves upward too is left out. The forces:
//
//	on y: -m y/l (h'' + g |y|^2/2l^2)
//	on q: -m c q (h'' + g |q|^2/2 + k^2/c w),  w = |q'|^2 + q.q''
//
// h” and w depend on the accelerations that they cause; two linear equations
// tell them.
func (b *modal) rise() {
	l, c, m := b.m.ChainM, b.m.CentreM, b.m.MassKg
	y, yv, ya := b.pivot()
	q, qv, qa := b.tilt()
	yy, yq, qq := square(y), dot(y, q), square(q)
	round := b.m.GyrationM * b.m.GyrationM / c
	fallY, fallQ := b.fallY*yy, b.fallQ*qq

	// w = w0 - wh h'' - ww w and y.y'' = s0 - sh h'' - sw w.
	w0 := square(qv) + dot(q, qa) - b.yq*yq*fallY - b.qq*qq*fallQ
	wh := b.yq*yq*m/l + b.qq*qq*m*c
	ww := b.qq * qq * m * c * round
	s0 := square(yv) + dot(y, ya) - b.yy*yy*fallY - b.yq*yq*fallQ
	sh := b.yy*yy*m/l + b.yq*yq*m*c
	sw := b.yq * yq * m * c * round
	// (1 + ww) w + wh h'' = w0; (sw/l - c) w + (1 + sh/l) h'' = s0/l.
	det := (1+ww)*(1+sh/l) - wh*(sw/l-c)
	w := (w0*(1+sh/l) - wh*s0/l) / det
	h := ((1+ww)*s0/l - (sw/l-c)*w0) / det

	onY := scale(-(m*h/l + fallY), y)
	onQ := scale(-(m*c*(h+round*w) + fallQ), q)
	b.mode[atSwing].extra = scale(b.swing.PivotShape, onY) + scale(b.swing.AngleShape, onQ)
	b.mode[atRocking].extra = scale(b.rocking.PivotShape, onY) + scale(b.rocking.AngleShape, onQ)
}

// longestKickS bounds the steps between kicks.
const longestKickS = 0.002

func (b *modal) advance(to float64) {
	for to-b.at > longestKickS {
		b.bank.advance(b.at + longestKickS)
	}
	b.bank.advance(to)
}

// strike begins a push. Where the force acts along the surface it twists the
// bag, and where it rises it tilts it: a bag that tilts toward the side of the
// blow lifts that side, by the radius times the angle.
func (b *modal) strike(s Strike) {
	side := bearing.Unit(s.BearingDeg) * cmplx.Conj(b.turned())
	sinRise, cosRise := math.Sincos(bearing.Rad(s.RiseDeg))
	across := scale(-s.PeakN*cosRise, side*bearing.Unit(-s.ObliqueDeg))
	depth := b.m.DepthM(s.HeightM)
	tilting := scale(depth, across) + scale(b.m.RadiusM*s.PeakN*sinRise, side)
	torque := -b.m.RadiusM * s.PeakN * cosRise * math.Sin(bearing.Rad(s.ObliqueDeg))
	b.push(s.ContactS, [mostModes]complex128{
		atSwing:   scale(b.swing.PivotShape, across) + scale(b.swing.AngleShape, tilting),
		atRocking: scale(b.rocking.PivotShape, across) + scale(b.rocking.AngleShape, tilting),
		atTwist:   complex(b.twist.AngleShape*torque, 0),
		atBend:    scale(b.bend.at(depth), across),
	})
}

// pivot returns value, rate and acceleration of the lower pivot's displacement,
// in metres, and tilt of the bag's angle, in radians.
func (b *modal) pivot() (x, v, a complex128) {
	return b.sum(b.swing.PivotShape, b.rocking.PivotShape)
}

func (b *modal) tilt() (x, v, a complex128) { return b.sum(b.swing.AngleShape, b.rocking.AngleShape) }

func (b *modal) sum(p, q float64) (x, v, a complex128) {
	s, r := &b.mode[atSwing], &b.mode[atRocking]
	return scale(p, s.x) + scale(q, r.x), scale(p, s.v) + scale(q, r.v), scale(p, s.a) + scale(q, r.a)
}

// turned is the factor that turns a vector from the room's frame to the bag's
// marks.
func (b *modal) turned() complex128 {
	sin, cos := math.Sincos(b.twist.AngleShape * real(b.mode[atTwist].x))
	return complex(cos, sin)
}

// point returns the acceleration of a point of the axis, across and, to second
// order in the angles, upward: it hangs at the height
// |y|^2/2l + depth |q|^2/2 above where it rests.
func (b *modal) point(depthM float64) (across complex128, up float64) {
	y, yv, ya := b.pivot()
	q, qv, qa := b.tilt()
	across = ya + scale(depthM, qa)
	up = (square(yv)+dot(y, ya))/b.m.ChainM + depthM*(square(qv)+dot(q, qa))
	return across, up
}

// read takes the rise to second order in the angles and the lean exactly.
func (b *modal) read() (a, g [3]float64) {
	across, up := b.point(b.m.SensorM)
	q, qv, _ := b.tilt()
	turn := b.turned()
	weight := rig.StandardGravityMPS2 + up
	upright := math.Sqrt(max(1-square(q), 0.01)) // cosine of the bag's angle; 0.01 is far beyond this motion's use
	along := dot(q, across)
	f := across + scale(weight-along/(1+upright), q)
	if len(b.mode) > atBend {
		f += scale(b.sensorBend, b.mode[atBend].a)
	}
	f *= turn
	w := (qv + scale(dot(q, qv)/(upright*(1+upright)), q)) * turn
	return [3]float64{imag(f), real(f), weight*upright - along},
		[3]float64{real(w), -imag(w), b.twist.AngleShape * real(b.mode[atTwist].v)}
}
