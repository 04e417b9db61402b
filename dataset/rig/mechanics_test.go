package rig_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

// immovable makes a lower pivot that no bag can move.
const immovable = 1e14

// onString is a body on a massless string.
func onString(stringM, centreM, gyration2M2 float64) rig.Mechanics {
	return rig.Mechanics{MassKg: 35, ChainM: stringM, CentreM: centreM, GyrationM: math.Sqrt(gyration2M2), LengthM: 2 * centreM, TwistKgM2: 0.5}
}

func TestModesAgainstReference(t *testing.T) {
	var ref struct {
		Bodies []struct {
			Name   string
			String float64    `json:"string_b"`
			Centre float64    `json:"cm_below_attachment_a"`
			K2     float64    `json:"k_cm_squared"`
			Omega2 [2]float64 `json:"omega2"`
			Hz     [2]float64 `json:"f_hz"`
			Ratio  [2]float64 `json:"phi_over_theta"`
		} `json:"string_and_body"`
		Points struct {
			Omega2 [2]float64 `json:"omega2_L_over_g"`
			Ratio  [2]float64 `json:"amplitude_ratio_theta2_over_theta1"`
			Hz     [2]float64 `json:"f_hz_L1m"`
		} `json:"point_double_pendulum_equal"`
	}
	datasettest.Reference(t, "physics.json", &ref)
	for _, c := range ref.Bodies {
		m := onString(c.String, c.Centre, c.K2)
		swing, rocking := m.Modes()
		for i, mode := range []rig.Mode{swing, rocking} {
			what := c.Name + ", " + mode.Name
			near(t, what+", omega2", mode.Omega()*mode.Omega(), c.Omega2[i])
			near(t, what+", Hz", mode.Hz, c.Hz[i])
			near(t, what+", bag over chain", mode.AngleShape/(mode.PivotShape/c.String), c.Ratio[i])
		}
	}
	// Two equal point masses on two strings of 1 m: the lower string and both
	// masses are a bag whose centre lies half a metre down and whose radius of
	// gyration is as long.
	swing, rocking := onString(1, 0.5, 0.25).Modes()
	for i, mode := range []rig.Mode{swing, rocking} {
		near(t, "points, "+mode.Name+", omega2 L/g", mode.Omega()*mode.Omega()/rig.StandardGravityMPS2, ref.Points.Omega2[i])
		near(t, "points, "+mode.Name+", Hz", mode.Hz, ref.Points.Hz[i])
		near(t, "points, "+mode.Name+", lower over upper", mode.AngleShape/mode.PivotShape, ref.Points.Ratio[i])
	}
}

// An even rod alone is a chain with a bag of next to no mass; a bag alone hangs
// from a pivot that cannot move.
func TestPendulumPeriodsAgainstReference(t *testing.T) {
	type pivoted struct {
		Centre     float64 `json:"pivot_to_cm"`
		K2         float64 `json:"k_cm_squared"`
		Period     float64 `json:"T_small_s"`
		Percussion float64 `json:"centre_of_percussion_below_pivot"`
	}
	var ref struct {
		Rod struct {
			L          float64
			Period     float64 `json:"T_small"`
			Percussion float64 `json:"centre_of_percussion"`
		} `json:"uniform_rod_about_end"`
		Top  pivoted `json:"cylinder_pivot_at_top_centre"`
		Link pivoted `json:"cylinder_on_rigid_link_0.5m_above_top"`
	}
	datasettest.Reference(t, "physics.json", &ref)
	rod := ref.Rod
	chain := rig.Mechanics{MassKg: 1e-12, ChainMassKg: 20, ChainM: rod.L, CentreM: 0.01, GyrationM: 0.01}
	swing, _ := chain.Modes()
	near(t, "chain alone, period", 1/swing.Hz, rod.Period)

	for _, c := range []pivoted{
		{rod.L / 2, rod.L * rod.L / 12, rod.Period, rod.Percussion},
		ref.Top, ref.Link,
	} {
		m := onString(1, c.Centre, c.K2)
		still, ok := m.StillDepth(0)
		if !ok {
			t.Errorf("a bag %+v has no centre of percussion about its pivot", c)
		}
		near(t, "centre of percussion about the pivot", still, c.Percussion)
		m.ChainMassKg, m.ChainM = immovable, 20 // the chain swings more slowly than the bag
		_, alone := m.Modes()
		near(t, "bag alone, period", 1/alone.Hz, c.Period)
	}
}

// A blow on a free even rod, seen from its centre.
func TestKickAgainstReference(t *testing.T) {
	var ref struct {
		Rod struct {
			M, L  float64
			J     float64 `json:"J_Ns"`
			Cases []struct {
				H, Omega float64
				Centre   float64  `json:"v_cm"`
				Below    float64  `json:"v_at_+0.4"`
				Above    float64  `json:"v_at_-0.4"`
				Still    *float64 `json:"instantaneous_centre_x"`
				Energy   float64  `json:"energy_J"`
			}
		} `json:"free_rod_impulse"`
	}
	datasettest.Reference(t, "physics.json", &ref)
	rod := ref.Rod
	c := rod.L/2 + 0.08
	m := rig.Mechanics{MassKg: rod.M, ChainM: 0.5, CentreM: c, GyrationM: rod.L / math.Sqrt(12)}
	for _, k := range rod.Cases {
		after := m.Struck(rod.J, c+k.H)
		near(t, "turn", after.TurnRadps, k.Omega)
		near(t, "centre", after.PivotMPS+c*after.TurnRadps, k.Centre)
		near(t, "below", rod.J*m.Accelerance(c+k.H, c+0.4), k.Below)
		near(t, "above", rod.J*m.Accelerance(c+k.H, c-0.4), k.Above)
		// A blow gives the energy impulse squared times half the accelerance of its place.
		near(t, "energy", rod.J*rod.J/2*m.Accelerance(c+k.H, c+k.H), k.Energy)
		still, ok := m.StillDepth(c + k.H)
		if ok != (k.Still != nil) {
			t.Errorf("a blow at %g: instantaneous centre %v, want %v", k.H, still, k.Still)
		} else if ok {
			near(t, "instantaneous centre", still-c, *k.Still)
		} else if !math.IsNaN(still) {
			t.Errorf("a blow at the centre has its instantaneous centre at %g", still)
		}
	}
}

func TestDeadHeight(t *testing.T) {
	r := parse(t, garage)
	m := r.Mechanics()
	h, on := m.DeadHeight()
	// 0.5 m from the bag's top to the centre of mass: (d-c)(s-c) = -k^2.
	near(t, "dead height", h, 0.5-0.27*0.27/(0.5-0.06))
	if !on {
		t.Error("the dead height is not on the bag")
	}
	at := m.DepthM(h)
	near(t, "height and back", m.HeightM(at), h)
	if above, below := m.Accelerance(at-0.1, m.SensorM), m.Accelerance(at+0.1, m.SensorM); !(above > 0 && below < 0) {
		t.Errorf("a blow of 1 N moves the sensor with %g above and %g below the dead height, want + and -", above, below)
	}
	r.Sensor.DepthM = 0.5
	if h, on := r.Mechanics().DeadHeight(); !math.IsNaN(h) || on {
		t.Errorf("a sensor at the centre of mass has a dead height at %g, %v", h, on)
	}
	r.Sensor.DepthM = 0.45
	if h, on := r.Mechanics().DeadHeight(); on || math.IsNaN(h) {
		t.Errorf("a sensor 5 cm above the centre of mass has a dead height at %g, %v; want it below the bag", h, on)
	}
	r.Sensor.DepthM = 0.55
	if h, on := r.Mechanics().DeadHeight(); on || !(h > r.Bag.LengthM) {
		t.Errorf("a sensor 5 cm below the centre of mass has a dead height at %g, %v; want it above the bag", h, on)
	}
	r.Sensor.DepthM = -r.Hang.StrapM // at the pivot
	pivot, _ := r.Mechanics().StillDepth(0)
	near(t, "dead height from the pivot", pivot, 0.58+0.27*0.27/0.58)
}

// drawRig draws a valid rig from the whole range of what a file may say.
func drawRig(t *rapid.T) *rig.Rig {
	number := func(what string, least, most float64) float64 { return rapid.Float64Range(least, most).Draw(t, what) }
	r := &rig.Rig{
		Name: "any", Revision: 1, Faces: 6, Bands: []rig.Band{{Name: "all"}},
		Bag:  rig.Bag{MassKg: number("mass", 1, 500), LengthM: number("length", 0.1, 5), DiameterM: number("diameter", 0.05, 2)},
		Hang: rig.Hang{ChainM: number("chain", 0.01, 20), StrapM: number("strap", 0, 5), ChainMassKg: number("chain mass", 0, 100)},
		Sensor: rig.Sensor{RateHz: 1000, AccelRangeG: 16,
			Axes: rig.Axes{X: "90", Y: "0", Z: "up"}},
	}
	b := &r.Bag
	r.Sensor.DepthM = number("sensor", -r.Hang.StrapM, b.LengthM)
	b.CoverMassKg = number("cover", 0, 0.4) * math.Min(b.MassKg, 100)
	if rapid.Bool().Draw(t, "core") {
		r.Core = &rig.Core{MassKg: number("core mass", 0.02, 0.59) * b.MassKg, LengthM: number("core length", 0.1, 1) * b.LengthM, DiameterM: number("core diameter", 0.1, 0.99) * b.DiameterM}
		r.Core.TopDepthM = number("core top", 0, 1) * (b.LengthM - r.Core.LengthM)
	}
	if rapid.Bool().Draw(t, "centre given") {
		c := number("centre", 0.01, 0.99) * b.LengthM
		b.CentreOfMassDepthM = &c
	}
	if rapid.Bool().Draw(t, "gyration given") {
		k := number("gyration", 0.01, 0.99) * b.LengthM
		b.RadiusOfGyrationM = &k
	}
	if err := r.Validate(); err != nil {
		t.Fatalf("the drawn rig is not valid: %v", err)
	}
	return r
}

func TestMechanicsOfAnyRig(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawRig(t).Mechanics()
		yy, yq, qq := m.MassKg+m.ChainMassKg/3, m.MassKg*m.CentreM, m.MassKg*(m.CentreM*m.CentreM+m.GyrationM*m.GyrationM)
		// A bag that is small against its depth below the pivot is told by
		// differences of large numbers.
		rounding := 1e-13 * yy * qq / (yy*qq - yq*yq)
		same := func(what string, got, want, scale float64) {
			if !(math.Abs(got-want) <= rounding*scale) {
				t.Fatalf("%s: %g, want %g", what, got, want)
			}
		}
		swing, rocking := m.Modes()
		if !(0 < swing.Hz && swing.Hz < rocking.Hz && rocking.Hz < math.Inf(1)) {
			t.Fatalf("swing at %g Hz, rocking at %g Hz", swing.Hz, rocking.Hz)
		}
		twist := m.Twist()
		if !(twist.Hz > 0 && twist.DecayS > 0 && twist.AngleShape > 0) {
			t.Fatalf("twist %+v", twist)
		}
		inner := func(a, b rig.Mode) float64 {
			return yy*a.PivotShape*b.PivotShape + yq*(a.PivotShape*b.AngleShape+a.AngleShape*b.PivotShape) + qq*a.AngleShape*b.AngleShape
		}
		same("length of the swing", inner(swing, swing), 1, 1)
		same("length of the rocking", inner(rocking, rocking), 1, 1)
		parts := func(a rig.Mode) float64 { return yy*a.PivotShape*a.PivotShape + qq*a.AngleShape*a.AngleShape }
		same("swing across rocking", inner(swing, rocking), 0, math.Sqrt(parts(swing)*parts(rocking)))

		d := rapid.Float64Range(0, m.StrapM+m.LengthM).Draw(t, "blow")
		s := rapid.Float64Range(0, m.StrapM+m.LengthM).Draw(t, "point")
		most := math.Sqrt(m.Accelerance(d, d) * m.Accelerance(s, s))
		same("accelerance the other way round", m.Accelerance(d, s), m.Accelerance(s, d), most)
		// The modes hold the same accelerance: sum of shape at blow times shape at point.
		same("accelerance by modes", swing.At(d)*swing.At(s)+rocking.At(d)*rocking.At(s), m.Accelerance(d, s), parts(rocking)*most)
		if still, ok := m.StillDepth(s); ok {
			same("accelerance at the centre of percussion", m.Accelerance(still, s), 0, math.Sqrt(m.Accelerance(still, still)*m.Accelerance(s, s)))
		}
		// Momentum about the swivel and about the lower pivot: the chain's end
		// gives no force across at first.
		after := m.Struck(1, d)
		scale := yy*math.Abs(after.PivotMPS) + qq*math.Abs(after.TurnRadps) + 1 + d
		same("momentum across", yy*after.PivotMPS+yq*after.TurnRadps, 1, scale)
		same("turning momentum about the pivot", yq*after.PivotMPS+qq*after.TurnRadps, d, scale)
		if h, _ := m.DeadHeight(); math.IsInf(h, 0) {
			t.Fatal("an infinite dead height")
		}
	})
}
