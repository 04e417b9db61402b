package rig

import (
	"math"

	"strikerose/dataset/bearing"
)

// Pendulum is a bag on its chain at any angle: two stiff rods, one below the
// other, in space. The chain is even and thin and never goes slack; the bag is
// round, so that it has one radius of gyration across its axis and one moment
// of inertia about it. A spring turns it back to its untwisted direction. Small
// motions are those of Mechanics, except that a frequency that was measured
// does not change sizes or weights. The bag must not stand on its head.
//
// Damping is linear in the velocity of the lower pivot and the rate of the
// bag's direction, by one symmetric matrix in every direction across. Its
// elements may be set to 0.
type Pendulum struct {
	Mechanics
	PivotDamping  float64 // N s/m
	CrossDamping  float64 // N s
	AngleDamping  float64 // N m s
	TwistSpringNm float64 // per radian
	TwistDamping  float64 // N m s
}

// Pendulum returns the bag on its chain with the decays of Modes and Twist,
// which damp the small motions mode by mode (M U diag(2/decay) U' M, with
// inertia M and shapes U), and the frequency of Twist.
func (m Mechanics) Pendulum() Pendulum {
	p := Pendulum{Mechanics: m}
	yy, yq, qq := m.inertia()
	swing, rocking := m.Modes()
	for _, mode := range []Mode{swing, rocking} {
		y, q := yy*mode.PivotShape+yq*mode.AngleShape, yq*mode.PivotShape+qq*mode.AngleShape
		p.PivotDamping += 2 / mode.DecayS * y * y
		p.CrossDamping += 2 / mode.DecayS * y * q
		p.AngleDamping += 2 / mode.DecayS * q * q
	}
	twist := m.Twist()
	w, d := twist.Omega(), 1/twist.DecayS
	p.TwistSpringNm = m.TwistKgM2 * (w*w + d*d) // so that it rings at w, damped
	p.TwistDamping = m.TwistKgM2 * 2 * d
	return p
}

// Pose is where chain and bag are and how they move, in the room's frame. Make
// one with Hanging and change it: both directions are one long.
type Pose struct {
	Chain     Vec     // direction of the chain, from the swivel down to the lower pivot
	ChainRate Vec     // its change, 1/s, across it
	Bag       Vec     // direction of the bag's axis, from the lower pivot to the bottom
	Turn      Vec     // the bag's angular velocity in rad/s
	TwistRad  float64 // turn about the axis, anticlockwise seen from above; not wrapped
}

// Hanging is the pose at rest.
func Hanging() Pose { return Pose{Chain: Vec{Z: -1}, Bag: Vec{Z: -1}} }

// ToRoom turns a vector from the bag's frame into the room's. The bag's frame is
// the room's, turned by the twist about the vertical and then, the shortest
// way, so that the vertical comes to lie along the bag.
func (s Pose) ToRoom(v Vec) Vec {
	sin, cos := math.Sincos(s.TwistRad)
	return lean(Vec{cos*v.X - sin*v.Y, sin*v.X + cos*v.Y, v.Z}, s.Bag)
}

// ToBag turns a vector from the room's frame into the bag's.
func (s Pose) ToBag(v Vec) Vec {
	v = lean(v, Vec{-s.Bag.X, -s.Bag.Y, s.Bag.Z}) // the same turn, back
	sin, cos := math.Sincos(s.TwistRad)
	return Vec{cos*v.X + sin*v.Y, cos*v.Y - sin*v.X, v.Z}
}

// lean turns a vector as the shortest turn from hanging straight down to the
// direction bag does: a half turn about the vertical, then one about the middle
// between up and the bag's upward axis.
func lean(v, bag Vec) Vec {
	middle := Vec{-bag.X, -bag.Y, 1 - bag.Z}
	half := Vec{-v.X, -v.Y, v.Z}
	return middle.Times(middle.Dot(half) / (1 - bag.Z)).Minus(half)
}

// Push is a force on the bag, in the bag's frame.
type Push struct {
	ForceN Vec
	AtM    Vec // where, from the lower pivot
}

// Surface returns the point of the bag's surface at a depth below the lower
// pivot and a bearing, in the bag's frame, from the lower pivot.
func (m Mechanics) Surface(depthM, bearingDeg float64) Vec {
	u := bearing.Unit(bearingDeg)
	return Vec{m.RadiusM * imag(u), m.RadiusM * real(u), -depthM}
}

// Axis returns the point of the bag's axis at a depth below the lower pivot, in
// the bag's frame, from the lower pivot.
func Axis(depthM float64) Vec { return Vec{Z: -depthM} }

// motion is the derivative of a pose.
type motion struct {
	chain, chainRate, bag, turn Vec
	twist                       float64
}

// motion returns how a pose changes, from Lagrange's equations for a direction
// p of the chain and u of the bag on the sphere, and a turn about u:
//
//	A p'' + B u'' = G   across p,   A = (m + mc/3) l^2,   B = m l c
//	B p'' + C u'' = H   across u,   C = m (c^2 + k^2)
//
// G and H hold weight, push, damping and spring, and H the bag's spin. Along p,
// its second derivative is -|p'|^2 p, and so for u. What is left, across, is
// solved for in closed form: that of p, taken from the first line, leaves in
// the second (C - B^2/A) times that of u and a part along one direction.
func (p Pendulum) motion(s Pose, push Push) motion {
	yy, yq, _ := p.inertia()
	inertia, coupling := yy*p.ChainM*p.ChainM, yq*p.ChainM // A, B
	chain, bag := s.Chain, s.Bag
	bagRate := s.Turn.Cross(bag)
	spin := s.Turn.Dot(bag)

	// Forces: on the chain's end, and as a torque about the lower pivot.
	pivotRate := s.ChainRate.Times(p.ChainM)
	end := pivotRate.Times(-p.PivotDamping).plusTimes(bagRate, -p.CrossDamping)
	end.Z -= StandardGravityMPS2 * (p.MassKg + p.ChainMassKg/2)
	across := pivotRate.Times(-p.CrossDamping).plusTimes(bagRate, -p.AngleDamping)
	across.Z -= StandardGravityMPS2 * yq
	torque := bag.Cross(across)
	if push.ForceN != (Vec{}) {
		force := s.ToRoom(push.ForceN)
		end = end.Plus(force)
		torque = torque.Plus(s.ToRoom(push.AtM).Cross(force))
	}
	// The rate of twist is the turn along this vector, twice the middle between
	// up and the bag's upward axis, made so that its part along the latter is 1;
	// so spring and damper act along it.
	along := Vec{-bag.X, -bag.Y, 1 - bag.Z}.Times(1 / (1 - bag.Z))
	twistRate := s.Turn.Dot(along)
	torque = torque.plusTimes(along, -p.TwistSpringNm*s.TwistRad-p.TwistDamping*twistRate)

	side := chain.beside(bag)
	chain2, bag2 := s.ChainRate.Dot(s.ChainRate), bagRate.Dot(bagRate)
	g := end.Times(p.ChainM).plusTimes(bag, coupling*bag2).beside(chain)
	h := torque.plusTimes(bagRate, -p.TwistKgM2*spin).Cross(bag).plusTimes(side, coupling*chain2)

	known := h.plusTimes(g.beside(bag), -coupling/inertia)
	share := coupling * coupling / inertia
	left := p.inertiaDet() / yy // C - B^2/A
	bagGrowth := known.plusTimes(side, -share*side.Dot(known)/(left+share*side.Dot(side))).Times(1 / left)
	chainGrowth := g.plusTimes(bagGrowth.beside(chain), -coupling).Times(1 / inertia)

	spinGrowth := torque.Dot(bag) / p.TwistKgM2
	return motion{
		chain:     s.ChainRate,
		chainRate: chainGrowth.plusTimes(chain, -chain2),
		bag:       bagRate,
		turn:      bag.Cross(bagGrowth).plusTimes(bag, spinGrowth).plusTimes(bagRate, spin),
		twist:     twistRate,
	}
}

// after is the pose moved on along a motion for a time.
func (s Pose) after(m motion, dtS float64) Pose {
	return Pose{
		Chain:     s.Chain.plusTimes(m.chain, dtS),
		ChainRate: s.ChainRate.plusTimes(m.chainRate, dtS),
		Bag:       s.Bag.plusTimes(m.bag, dtS),
		Turn:      s.Turn.plusTimes(m.turn, dtS),
		TwistRad:  s.TwistRad + dtS*m.twist,
	}
}

// Step returns the pose a time later, by one step of the classical Runge-Kutta
// method of fourth order, after which directions are made one long again. A
// push is given for the beginning, the middle and the end of the step; Push{}
// is none. Steps of 1 ms keep the energy of a bag without damping to 1e-6 of it
// over half a minute, with chain and bag let go at 60 degrees to either side.
func (p Pendulum) Step(s Pose, dtS float64, first, middle, last Push) Pose {
	k1 := p.motion(s, first)
	k2 := p.motion(s.after(k1, dtS/2), middle)
	k3 := p.motion(s.after(k2, dtS/2), middle)
	k4 := p.motion(s.after(k3, dtS), last)
	out := s.after(k1, dtS/6).after(k2, dtS/3).after(k3, dtS/3).after(k4, dtS/6)
	out.Chain, out.Bag = out.Chain.unit(), out.Bag.unit()
	out.ChainRate = out.ChainRate.beside(out.Chain)
	return out
}

// Reading returns what a sensor at a point (bag's frame, from the lower pivot)
// reads in a pose: specific force in m/s2 and angular velocity in rad/s, both
// in the bag's frame. Specific force is the point's acceleration less that of
// free fall: a hanging bag reads +g along z.
func (p Pendulum) Reading(s Pose, push Push, atM Vec) (forceMPS2, turnRadps Vec) {
	m := p.motion(s, push)
	at := s.ToRoom(atM)
	f := m.chainRate.Times(p.ChainM).Plus(m.turn.Cross(at)).Plus(s.Turn.Cross(s.Turn.Cross(at)))
	f.Z += StandardGravityMPS2
	return s.ToBag(f), s.ToBag(s.Turn)
}

// EnergyJ returns the energy of a pose, of motion, height and twist: 0 at rest.
// Without damping and push it does not change.
func (p Pendulum) EnergyJ(s Pose) float64 {
	yy, yq, qq := p.inertia()
	pivotRate, bagRate, spin := s.ChainRate.Times(p.ChainM), s.Turn.Cross(s.Bag), s.Turn.Dot(s.Bag)
	moving := yy*pivotRate.Dot(pivotRate) + 2*yq*pivotRate.Dot(bagRate) + qq*bagRate.Dot(bagRate) + p.TwistKgM2*spin*spin
	height := StandardGravityMPS2 * ((p.MassKg+p.ChainMassKg/2)*p.ChainM*(1+s.Chain.Z) + yq*(1+s.Bag.Z))
	return moving/2 + height + p.TwistSpringNm*s.TwistRad*s.TwistRad/2
}
