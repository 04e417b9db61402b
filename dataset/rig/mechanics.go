package rig

import "math"

// StandardGravityMPS2 is the standard acceleration of free fall (third General
// Conference on Weights and Measures, 1901).
const StandardGravityMPS2 = 9.80665

// What a rig file that measured none of it is taken to do. Choices without
// source, for a bag on a chain with a swivel; strikerose rig tune measures them.
const (
	usualSwingDecayS   = 30.0
	usualRockingDecayS = 2.0
	usualTwistHz       = 1.0
	usualTwistDecayS   = 1.0
)

// Mechanics is a rig as bodies that swing and turn: a stiff bag below a chain,
// the same in every vertical plane, and a torsion spring about the vertical.
// Depths are metres below the lower pivot, which lies StrapM above the bag's
// top edge.
type Mechanics struct {
	MassKg      float64
	ChainM      float64
	ChainMassKg float64 // spread evenly along the chain
	StrapM      float64
	LengthM     float64 // of the bag
	RadiusM     float64 // of the bag
	CentreM     float64 // depth of the centre of mass
	GyrationM   float64 // radius of gyration about the centre of mass, across the axis
	TwistKgM2   float64 // moment of inertia about the bag's axis
	SensorM     float64 // depth of the sensor
	Motion      Motion  // what was measured of its free motion
}

// Mechanics returns the rig as bodies that swing. The rig must be valid.
func (r *Rig) Mechanics() Mechanics {
	in := r.Inertia()
	m := Mechanics{
		MassKg: r.Bag.MassKg, ChainM: r.Hang.ChainM, ChainMassKg: r.Hang.ChainMassKg, StrapM: r.Hang.StrapM,
		LengthM: r.Bag.LengthM, RadiusM: r.Bag.DiameterM / 2,
		CentreM: in.CentreOfMassDepthM + r.Hang.StrapM, GyrationM: in.RadiusOfGyrationM, TwistKgM2: in.TwistKgM2,
		SensorM: r.Sensor.DepthM + r.Hang.StrapM,
	}
	if r.Motion != nil {
		m.Motion = *r.Motion
	}
	return m
}

// HeightM turns a depth below the lower pivot into a height above the bag's
// bottom edge, and DepthM back.
func (m Mechanics) HeightM(depthM float64) float64 { return m.StrapM + m.LengthM - depthM }

// DepthM turns a height above the bag's bottom edge into a depth below the
// lower pivot.
func (m Mechanics) DepthM(heightM float64) float64 { return m.StrapM + m.LengthM - heightM }

// A bag's small motion in one vertical plane is told by two coordinates: y, the
// lower pivot's displacement in metres, and q, the bag's angle in radians, its
// bottom toward growing y. A point at depth s moves by y + s q. With m the mass,
// mc the chain's, l its length, c the centre of mass, k the radius of gyration
// and F a force at depth d, Lagrange's equations for small angles are
// (textbook mechanics; an even chain adds a third of its mass at its end and
// carries its own weight halfway)
//
//	(m + mc/3) y'' + m c q''        + g (m + mc/2) y / l = F
//	m c y'' + m (c^2 + k^2) q''     + m g c q            = d F

// inertia is the matrix before the accelerations: its three different elements.
func (m Mechanics) inertia() (yy, yq, qq float64) {
	return m.MassKg + m.ChainMassKg/3, m.MassKg * m.CentreM,
		m.MassKg * (m.CentreM*m.CentreM + m.GyrationM*m.GyrationM)
}

// inertiaDet is the determinant of the inertia, without the cancellation of a
// small radius of gyration against the centre's depth.
func (m Mechanics) inertiaDet() float64 {
	_, _, qq := m.inertia()
	return m.MassKg*m.MassKg*m.GyrationM*m.GyrationM + m.ChainMassKg/3*qq
}

// stiffness is the matrix before the coordinates, which is diagonal.
func (m Mechanics) stiffness() (yy, qq float64) {
	return StandardGravityMPS2 * (m.MassKg + m.ChainMassKg/2) / m.ChainM, StandardGravityMPS2 * m.MassKg * m.CentreM
}

// Kick returns the velocity of the lower pivot, in m/s, and the bag's rate of
// turning, in rad/s, right after a blow of 1 N s at a depth: during contact the
// bag is as good as free.
func (m Mechanics) Kick(blowM float64) (pivotMPS, turnRadps float64) {
	yy, yq, qq := m.inertia()
	det := m.inertiaDet()
	return (qq - yq*blowM) / det, (yy*blowM - yq) / det
}

// Accelerance is the acceleration of a point per force on another while the
// bag is free, in 1/kg: 1/m + (d-c)(s-c)/(m k^2) for a chain without mass. It
// is the same both ways round.
func (m Mechanics) Accelerance(blowM, pointM float64) float64 {
	pivot, turn := m.Kick(blowM)
	return pivot + pointM*turn
}

// StillDepth returns the depth of a blow that does not move a point at first:
// the centre of percussion about that point, 2/3 of its length down for an even
// thin rod about its end. From there on blows kick the point the other way.
// As accelerance is the same both ways round, StillDepth of a blow's depth is
// in turn the blow's instantaneous centre: the point about which the bag begins
// to turn. A point at the centre of mass has none, and a blow there only shifts
// the bag (a chain with mass moves that depth up a little): then ok is false
// and the depth NaN. The depth may lie far outside the bag.
func (m Mechanics) StillDepth(pointM float64) (blowM float64, ok bool) {
	yy, yq, qq := m.inertia()
	if slope := yy*pointM - yq; math.Abs(slope) > 1e-12*yy {
		return (yq*pointM - qq) / slope, true
	}
	return math.NaN(), false
}

// DeadHeight returns the height above the bag's bottom edge at which a blow
// does not move the sensor at first. onBag tells whether it lies on the bag.
// It is NaN, and not on the bag, where the sensor has no StillDepth.
func (m Mechanics) DeadHeight() (heightM float64, onBag bool) {
	d, ok := m.StillDepth(m.SensorM)
	if !ok {
		return math.NaN(), false
	}
	h := m.HeightM(d)
	return h, h >= 0 && h <= m.LengthM
}

// Mode is one free motion of a bag: a swing in a plane, or a twist.
type Mode struct {
	Name     string
	Hz       float64
	DecayS   float64 // the amplitude falls to 1/e in it
	Measured bool    // the frequency was given in the rig file
	// Displacement of the lower pivot and angle of the bag, so that the kinetic
	// energy at unit speed is half a joule (units 1/sqrt(kg), rad/(m sqrt(kg))).
	// For a twist only the angle, in rad/sqrt(kg m2).
	PivotShape, AngleShape float64
}

// Omega is the angular frequency in rad/s.
func (m Mode) Omega() float64 { return 2 * math.Pi * m.Hz }

// At is the shape's displacement of a point at a depth.
func (m Mode) At(depthM float64) float64 { return m.PivotShape + m.AngleShape*depthM }

// Modes returns the two free motions in a vertical plane, slow first: the swing
// of chain and bag together, and the rocking of the bag against its chain.
// A frequency that was measured takes the place of the computed one; the shapes
// stay. Shapes are orthonormal in the inertia. In a valid rig all of it is
// finite and 0 < swing.Hz < rocking.Hz.
func (m Mechanics) Modes() (swing, rocking Mode) {
	yy, yq, qq := m.inertia()
	ky, kq := m.stiffness()
	// det(K - w2 M) = a w2^2 - b w2 + c = 0, with b^2 - 4 a c and the smaller
	// root in forms without cancellation.
	a, b, c := m.inertiaDet(), yy*kq+qq*ky, ky*kq
	root := math.Hypot(yy*kq-qq*ky, 2*yq*math.Sqrt(c))
	slow, fast := 2*c/(b+root), (b+root)/(2*a)
	return m.mode("swing", slow, m.Motion.SwingHz, m.Motion.SwingDecayS, usualSwingDecayS),
		m.mode("rocking", fast, m.Motion.RockingHz, m.Motion.RockingDecayS, usualRockingDecayS)
}

// mode completes a mode of squared angular frequency w2.
func (m Mechanics) mode(name string, w2, measuredHz, decayS, usualDecayS float64) Mode {
	yy, yq, qq := m.inertia()
	ky, kq := m.stiffness()
	// Across the rows of (K - w2 M): each gives the shape, and the one whose
	// diagonal element is larger against its inertia gives it with less rounding.
	y, q := w2*yq, ky-w2*yy
	if y2, q2 := kq-w2*qq, w2*yq; math.Abs(y2)/qq > math.Abs(q)/yy {
		y, q = y2, q2
	}
	if y < 0 {
		y, q = -y, -q
	}
	norm := math.Sqrt(yy*y*y + 2*yq*y*q + qq*q*q)
	out := Mode{Name: name, Hz: math.Sqrt(w2) / (2 * math.Pi), DecayS: usualDecayS, PivotShape: y / norm, AngleShape: q / norm}
	out.measured(measuredHz, decayS)
	return out
}

// measured puts measured values, where not 0, in the place of computed ones.
func (m *Mode) measured(hz, decayS float64) {
	if hz > 0 {
		m.Hz, m.Measured = hz, true
	}
	if decayS > 0 {
		m.DecayS = decayS
	}
}

// Twist returns the free turning about the vertical. Nothing in a rig file
// says how stiff a chain is in torsion: where it was not measured, a usual
// frequency stands in.
func (m Mechanics) Twist() Mode {
	out := Mode{Name: "twist", Hz: usualTwistHz, DecayS: usualTwistDecayS, AngleShape: 1 / math.Sqrt(m.TwistKgM2)}
	out.measured(m.Motion.TwistHz, m.Motion.TwistDecayS)
	return out
}
