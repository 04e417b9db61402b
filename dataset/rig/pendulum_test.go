package rig_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

const g = rig.StandardGravityMPS2

// leaning is the direction of a rod that leans out by an angle toward a bearing.
func leaning(deg, towardDeg float64) rig.Vec {
	sin, cos := math.Sincos(bearing.Rad(deg))
	u := bearing.Unit(towardDeg)
	return rig.Vec{X: sin * imag(u), Y: sin * real(u), Z: -cos}
}

// lossless is a pendulum without damping and spring.
func lossless(m rig.Mechanics) rig.Pendulum { return rig.Pendulum{Mechanics: m} }

// bag is the garage's bag with a chain of some weight.
func bag(t testing.TB) rig.Mechanics {
	m := parse(t, garage).Mechanics()
	m.ChainMassKg = 1.5
	return m
}

// wild is a pose with everything in motion.
func wild() rig.Pose {
	return rig.Pose{
		Chain: leaning(60, 20), ChainRate: rig.Vec{X: 0.6, Y: -0.2}.Cross(leaning(60, 20)),
		Bag: leaning(60, 100), Turn: rig.Vec{X: 0.5, Y: -1, Z: 2}, TwistRad: 0.8,
	}
}

// run steps a free pendulum for a time.
func run(p rig.Pendulum, s rig.Pose, dtS float64, steps int) rig.Pose {
	for range steps {
		s = p.Step(s, dtS, rig.Push{}, rig.Push{}, rig.Push{})
	}
	return s
}

// apart is the largest difference between two poses.
func apart(a, b rig.Pose) float64 {
	most := math.Abs(a.TwistRad - b.TwistRad)
	for _, d := range []rig.Vec{a.Chain.Minus(b.Chain), a.ChainRate.Minus(b.ChainRate), a.Bag.Minus(b.Bag), a.Turn.Minus(b.Turn)} {
		most = math.Max(most, d.Norm())
	}
	return most
}

func TestHangingStaysAndReadsOneG(t *testing.T) {
	p := bag(t).Pendulum()
	s := run(p, rig.Hanging(), 1e-3, 1000)
	if s != rig.Hanging() {
		t.Errorf("a bag at rest moves to %+v", s)
	}
	force, turn := p.Reading(s, rig.Push{}, rig.Axis(p.SensorM))
	if force != (rig.Vec{Z: g}) || turn != (rig.Vec{}) {
		t.Errorf("a bag at rest reads %+v and %+v", force, turn)
	}
	if e := p.EnergyJ(s); e != 0 {
		t.Errorf("a bag at rest has %g J", e)
	}
}

// The claim at Step: 60 degrees, 1 ms, half a minute.
func TestEnergyIsKept(t *testing.T) {
	p := bag(t).Pendulum()
	p.PivotDamping, p.CrossDamping, p.AngleDamping, p.TwistDamping = 0, 0, 0, 0
	for name, s := range map[string]rig.Pose{
		"wild":        wild(),
		"in a plane":  {Chain: leaning(60, 0), Bag: leaning(60, 0)},
		"jackknifed":  {Chain: leaning(60, 0), Bag: leaning(60, 180)},
		"only turned": {Chain: leaning(0, 0), Bag: leaning(0, 0), TwistRad: 3},
	} {
		before, worst := p.EnergyJ(s), 0.0
		for range 30000 {
			s = run(p, s, 1e-3, 1)
			worst = math.Max(worst, math.Abs(p.EnergyJ(s)-before)/before)
		}
		t.Logf("%s: %.0f J, off by %.1e of it at most", name, before, worst)
		if worst > 1e-6 {
			t.Errorf("%s: energy is off by %g of %g J", name, worst, before)
		}
	}
}

func TestDampingTakesEnergy(t *testing.T) {
	p := bag(t).Pendulum()
	s := wild()
	before := p.EnergyJ(s)
	for i := range 20000 {
		s = run(p, s, 1e-3, 1)
		now := p.EnergyJ(s)
		if now > before*(1+1e-9) {
			t.Fatalf("after %d ms energy rises from %g to %g J", i+1, before, now)
		}
		before = now
	}
}

func TestFourthOrder(t *testing.T) {
	p := bag(t).Pendulum()
	const steps = 1000
	exact := run(p, wild(), 1e-3/16, steps*16)
	coarse, fine := apart(run(p, wild(), 1e-3/2, steps*2), exact), apart(run(p, wild(), 1e-3/4, steps*4), exact)
	if order := math.Log2(coarse / fine); order < 3.85 || order > 4.15 {
		t.Errorf("halving the step takes the error from %.2g to %.2g, order %.2f, want 4", coarse, fine, order)
	}
}

// Small motions are the sum of modes, with their decays, and read the same.
func TestSmallAnglesAreTheModes(t *testing.T) {
	m := bag(t)
	m.Motion.SwingDecayS, m.Motion.RockingDecayS = 8, 1.5
	p := m.Pendulum()
	// A computed frequency is that without damping; ring as the damped mode does.
	swing, rocking := m.Modes()
	ring := func(mode rig.Mode) float64 {
		return math.Sqrt(mode.Omega()*mode.Omega()-1/(mode.DecayS*mode.DecayS)) / (2 * math.Pi)
	}
	m.Motion.SwingHz, m.Motion.RockingHz = ring(swing), ring(rocking)

	off := func(size float64) float64 {
		from := rig.Plane{PivotM: 0.05 * size, AngleRad: -0.3 * size, PivotMPS: 0.4 * size, TurnRadps: size}
		f := m.Free(from)
		// Toward bearing 90: displacements along x, turning about -y.
		chain, tilt := bearing.Deg(math.Asin(from.PivotM/m.ChainM)), bearing.Deg(from.AngleRad)
		s := rig.Pose{Chain: leaning(chain, 90), ChainRate: rig.Vec{X: from.PivotMPS / m.ChainM}, Bag: leaning(tilt, 90), Turn: rig.Vec{Y: -from.TurnRadps}}
		worst := 0.0
		for i := range 3000 {
			s = run(p, s, 1e-3, 1)
			want := f.At(float64(i+1) / 1000)
			force, turn := p.Reading(s, rig.Push{}, rig.Axis(m.SensorM))
			wantForce, wantTurn := f.Reading(float64(i+1)/1000, m.SensorM)
			for _, d := range []float64{
				s.Chain.X*m.ChainM - want.PivotM, s.Bag.X - want.AngleRad,
				s.ChainRate.X*m.ChainM - want.PivotMPS, -s.Turn.Y - want.TurnRadps, -turn.Y - wantTurn,
				(force.X - wantForce) / g,
			} {
				worst = math.Max(worst, math.Abs(d))
			}
		}
		return worst / size
	}
	large, small := off(1e-2), off(1e-3)
	if small > 1e-5 || small > large/50 {
		t.Errorf("off the modes by %.2g of the size at 0.01 and %.2g at 0.001; want it to fall with the square", large, small)
	}
}

func TestTwistRings(t *testing.T) {
	m := bag(t)
	m.Motion.TwistHz, m.Motion.TwistDecayS = 0.9, 1.7
	s := run(m.Pendulum(), rig.Pose{Chain: leaning(0, 0), Bag: leaning(0, 0), TwistRad: 0.4, Turn: rig.Vec{Z: -0.4 / 1.7}}, 1e-3, 2000)
	near(t, "twist after 2 s", s.TwistRad, 0.4*math.Exp(-2/1.7)*math.Cos(2*math.Pi*0.9*2))
}

// alone is a bag about a pivot that does not move.
func alone(centreM, gyration2M2 float64) rig.Pendulum {
	m := onString(1, centreM, gyration2M2)
	m.ChainMassKg = immovable
	return lossless(m)
}

// quarter is the time until a pendulum let go at x > 0 comes through the
// vertical.
func quarter(p rig.Pendulum, s rig.Pose, x func(rig.Pose) float64) float64 {
	const dt = 1e-3
	for n := 0; ; n++ {
		next := run(p, s, dt, 1)
		if x(next) < 0 {
			lo, hi := 0.0, dt
			for range 50 {
				mid := (lo + hi) / 2
				if x(run(p, s, mid, 1)) > 0 {
					lo = mid
				} else {
					hi = mid
				}
			}
			return float64(n)*dt + lo
		}
		s = next
	}
}

// Periods of large swings against the elliptic integral, of a bag alone and of
// a chain with its bag's centre at its end.
func TestFiniteAmplitudeAgainstReference(t *testing.T) {
	var ref struct {
		Rod struct {
			L      float64
			Period float64 `json:"T_small"`
		} `json:"uniform_rod_about_end"`
		Finite []struct {
			Deg   float64 `json:"theta0_deg"`
			Ratio float64 `json:"T_over_T0_exact"`
		} `json:"finite_amplitude"`
	}
	datasettest.Reference(t, "physics.json", &ref)
	rod := alone(ref.Rod.L/2, ref.Rod.L*ref.Rod.L/12)
	m := bag(t)
	m.CentreM, m.ChainMassKg = 0, 0
	bob, bobPeriod := lossless(m), 2*math.Pi*math.Sqrt(m.ChainM/g)
	for _, c := range ref.Finite {
		q := quarter(rod, rig.Pose{Chain: leaning(0, 0), Bag: leaning(c.Deg, 90)}, func(s rig.Pose) float64 { return s.Bag.X })
		near(t, "period of the bag alone", 4*q/ref.Rod.Period, c.Ratio)
		q = quarter(bob, rig.Pose{Chain: leaning(c.Deg, 0), Bag: leaning(0, 0)}, func(s rig.Pose) float64 { return s.Chain.Y })
		near(t, "period of the chain with a bob", 4*q/bobPeriod, c.Ratio)
	}
}

// What a sensor reads on a rigid pendulum that was let go: nothing across at
// the centre of oscillation, nor on the bob of a string.
func TestReadingsAgainstReference(t *testing.T) {
	var ref struct {
		Rows []struct {
			R       float64
			Q       float64 `json:"q_centre_of_percussion"`
			Deg     float64 `json:"theta_deg"`
			Release float64 `json:"release_deg"`
			Across  float64 `json:"f_tangential_m_s2"`
			Along   float64 `json:"f_towards_pivot_m_s2"`
		} `json:"pendulum_specific_force"`
	}
	datasettest.Reference(t, "physics.json", &ref)
	for _, c := range ref.Rows {
		const centre = 0.6
		p := alone(centre, centre*(c.Q-centre)) // q = c + k^2/c
		s := rig.Pose{Chain: leaning(0, 0), Bag: leaning(c.Release, 0)}
		if c.Deg < c.Release {
			at := leaning(c.Deg, 0).Y
			q := quarter(p, s, func(s rig.Pose) float64 { return s.Bag.Y - at })
			n := math.Floor(q / 1e-3)
			s = run(p, run(p, s, 1e-3, int(n)), q-n*1e-3, 1)
		}
		force, _ := p.Reading(s, rig.Push{}, rig.Axis(c.R))
		near(t, "across", force.Y, c.Across)
		near(t, "along", force.Z, c.Along)
		near(t, "out of the plane", force.X, 0)
	}
	m := bag(t)
	m.CentreM, m.ChainMassKg = 0, 0
	p := lossless(m)
	s := rig.Pose{Chain: leaning(50, 0), Bag: leaning(0, 0)}
	for range 100 {
		s = run(p, s, 1e-2, 1)
		force, _ := p.Reading(s, rig.Push{}, rig.Axis(0))
		if across := s.ToRoom(force).Cross(s.Chain).Norm(); across > 1e-9 {
			t.Fatalf("a bob on a string reads %g across it", across)
		}
	}
}

// The textbook's equations of a double pendulum in its two angles, stepped by
// themselves.
func TestPlaneAgainstDoublePendulum(t *testing.T) {
	m := bag(t)
	yy, yq, qq := m.MassKg+m.ChainMassKg/3, m.MassKg*m.CentreM, m.MassKg*(m.CentreM*m.CentreM+m.GyrationM*m.GyrationM)
	l := m.ChainM
	slope := func(x [4]float64) [4]float64 {
		sin, cos := math.Sincos(x[0] - x[1])
		a11, a12, a22 := yy*l*l, yq*l*cos, qq
		b1 := -yq*l*sin*x[3]*x[3] - g*(m.MassKg+m.ChainMassKg/2)*l*math.Sin(x[0])
		b2 := yq*l*sin*x[2]*x[2] - g*yq*math.Sin(x[1])
		det := a11*a22 - a12*a12
		return [4]float64{x[2], x[3], (b1*a22 - b2*a12) / det, (a11*b2 - a12*b1) / det}
	}
	moved := func(x, k [4]float64, h float64) [4]float64 {
		for i := range x {
			x[i] += h * k[i]
		}
		return x
	}
	x := [4]float64{1.1, -0.4, 0.5, 2}
	// Toward bearing 0: leaning along y, turning about x.
	pose := func(x [4]float64) rig.Pose {
		chain := leaning(bearing.Deg(x[0]), 0)
		return rig.Pose{Chain: chain, ChainRate: rig.Vec{X: x[2]}.Cross(chain), Bag: leaning(bearing.Deg(x[1]), 0), Turn: rig.Vec{X: x[3]}}
	}
	p, s := lossless(m), pose(x)
	const h = 5e-4
	for range 4000 {
		k1 := slope(x)
		k2 := slope(moved(x, k1, h/2))
		k3 := slope(moved(x, k2, h/2))
		k4 := slope(moved(x, k3, h))
		x = moved(moved(moved(moved(x, k1, h/6), k2, h/3), k3, h/3), k4, h/6)
		s = run(p, s, h, 1)
	}
	want := pose(x)
	if d := apart(s, want); d > 1e-7 {
		t.Errorf("after 2 s the pendulum is %g away from the textbook's:\n%+v\n%+v", d, s, want)
	}
	if s.Chain.X != 0 || s.Bag.X != 0 || s.ChainRate.X != 0 || s.Turn.Y != 0 || s.Turn.Z != 0 || s.TwistRad != 0 {
		t.Errorf("the motion leaves its plane: %+v", s)
	}
}

// A bob goes round in a circle at sqrt(g/(l cos angle)).
func TestConicalPendulum(t *testing.T) {
	m := bag(t)
	m.CentreM, m.ChainMassKg = 0, 0
	p := lossless(m)
	w := math.Sqrt(g / (m.ChainM * math.Cos(bearing.Rad(40))))
	at := leaning(40, 0)
	s := run(p, rig.Pose{Chain: at, ChainRate: rig.Vec{Z: w}.Cross(at), Bag: leaning(0, 0)}, 1e-3, 1234)
	if d := s.Chain.Minus(leaning(40, -bearing.Deg(w*1.234))).Norm(); d > 1e-9 {
		t.Errorf("the bob is %g away from its circle", d)
	}
}

// A spinning bag about a fixed pivot goes round the vertical without nodding
// where W I s + C W^2 cos(angle) = m g c, with W its rate of going round, s its
// spin and I, C its moments of inertia about and across its axis.
func TestSteadyPrecession(t *testing.T) {
	const w, angle = -1.3, 35.0
	p := alone(0.6, 0.12)
	across := p.MassKg * (0.36 + 0.12)
	spin := (p.MassKg*g*0.6/w - across*w*math.Cos(bearing.Rad(angle))) / p.TwistKgM2
	at := leaning(angle, 0)
	// The turn is that of going round, and along the axis it is the spin.
	round := rig.Vec{Z: w}
	turn := round.Plus(at.Times(spin - round.Dot(at)))
	s := run(p, rig.Pose{Chain: leaning(0, 0), Bag: at, Turn: turn}, 1e-4, 20000)
	if d := s.Bag.Minus(leaning(angle, -bearing.Deg(w*2))).Norm(); d > 1e-8 {
		t.Errorf("the bag is %g away from going round at %g rad/s", d, w)
	}
}

// Without a spring nothing turns the whole about the vertical.
func TestTurningMomentumIsKept(t *testing.T) {
	p := lossless(bag(t))
	momentum := func(s rig.Pose) float64 {
		pivot, rate := s.Chain.Times(p.ChainM), s.ChainRate.Times(p.ChainM)
		bagRate := s.Turn.Cross(s.Bag)
		centre, centreRate := pivot.Plus(s.Bag.Times(p.CentreM)), rate.Plus(bagRate.Times(p.CentreM))
		own := s.Bag.Cross(bagRate).Times(p.MassKg * p.GyrationM * p.GyrationM).Plus(s.Bag.Times(p.TwistKgM2 * s.Turn.Dot(s.Bag)))
		return pivot.Cross(rate).Times(p.ChainMassKg / 3).Plus(centre.Cross(centreRate).Times(p.MassKg)).Plus(own).Z
	}
	s := wild()
	before := momentum(s)
	near(t, "turning momentum", momentum(run(p, s, 1e-3, 5000)), before)
}

// Turning all directions about the vertical turns the motion, and what a sensor
// reads, with it.
func TestTurningTurnsTheMotion(t *testing.T) {
	p := bag(t).Pendulum()
	const turn = 77.0
	u := bearing.Unit(turn)
	turned := func(v rig.Vec) rig.Vec { // clockwise seen from above
		return rig.Vec{X: v.X*real(u) + v.Y*imag(u), Y: v.Y*real(u) - v.X*imag(u), Z: v.Z}
	}
	turnedPose := func(s rig.Pose) rig.Pose {
		return rig.Pose{Chain: turned(s.Chain), ChainRate: turned(s.ChainRate), Bag: turned(s.Bag), Turn: turned(s.Turn), TwistRad: s.TwistRad}
	}
	push := rig.Push{ForceN: rig.Vec{X: -300, Y: 500, Z: 100}, AtM: p.Surface(0.5, 30)}
	other := rig.Push{ForceN: turned(push.ForceN), AtM: turned(push.AtM)}
	a, b := wild(), turnedPose(wild())
	for range 20 {
		a, b = p.Step(a, 1e-3, push, push, push), p.Step(b, 1e-3, other, other, other)
	}
	a, b = run(p, a, 1e-3, 500), run(p, b, 1e-3, 500)
	if d := apart(turnedPose(a), b); d > 1e-9 {
		t.Errorf("the turned motion ends %g away", d)
	}
	force, rate := p.Reading(a, push, rig.Axis(0.3))
	otherForce, otherRate := p.Reading(b, other, rig.Axis(0.3))
	if d := turned(force).Minus(otherForce).Norm() + turned(rate).Minus(otherRate).Norm(); d > 1e-8 {
		t.Errorf("the turned reading is %g away", d)
	}
}

// The frame of a pose is a rotation, ToBag undoes ToRoom, and the twist that is
// stepped is the one in the frame: the turn of the axes seen by differences is
// the angular velocity, and a point's path gives the specific force.
func TestReadingIsThatOfThePath(t *testing.T) {
	p := bag(t).Pendulum()
	at := rig.Vec{X: 0.1, Y: -0.05, Z: -0.7}
	const h = 1e-4
	before := run(p, wild(), 1e-3, 400)
	now := run(p, before, h, 1)
	after := run(p, now, h, 1)
	point := func(s rig.Pose) rig.Vec { return s.Chain.Times(p.ChainM).Plus(s.ToRoom(at)) }
	force, turn := p.Reading(now, rig.Push{}, at)

	acceleration := point(after).Plus(point(before)).Minus(point(now).Times(2)).Times(1 / (h * h))
	want := now.ToBag(acceleration.Plus(rig.Vec{Z: g}))
	if d := force.Minus(want).Norm(); d > 1e-4 {
		t.Errorf("the sensor reads %+v, its path gives %+v", force, want)
	}
	for i, axis := range []rig.Vec{{X: 1}, {Y: 1}, {Z: 1}} {
		rate := after.ToRoom(axis).Minus(before.ToRoom(axis)).Times(1 / (2 * h))
		want := now.ToRoom(turn.Cross(axis))
		if d := rate.Minus(want).Norm(); d > 1e-5 {
			t.Errorf("axis %d moves by %+v, the rate read gives %+v", i, rate, want)
		}
		if d := now.ToBag(now.ToRoom(axis)).Minus(axis).Norm(); d > 1e-14 {
			t.Errorf("axis %d there and back is %g away", i, d)
		}
	}
	if d := now.ToRoom(rig.Vec{Z: -1}).Minus(now.Bag).Norm(); d > 1e-14 {
		t.Errorf("down the bag's frame is %g away from the bag", d)
	}
}

// A push gives the energy of its way, wherever it acts.
func TestPushDoesItsWork(t *testing.T) {
	p := bag(t).Pendulum()
	p.PivotDamping, p.CrossDamping, p.AngleDamping, p.TwistDamping = 0, 0, 0, 0
	push := rig.Push{ForceN: rig.Vec{X: -150, Y: 220, Z: 90}, AtM: p.Surface(0.4, 250)}
	power := func(s rig.Pose) float64 {
		velocity := s.ChainRate.Times(p.ChainM).Plus(s.Turn.Cross(s.ToRoom(push.AtM)))
		return velocity.Dot(s.ToRoom(push.ForceN))
	}
	s := wild()
	before, work := p.EnergyJ(s), 0.0
	const h = 1e-4
	for range 1000 {
		work += h / 2 * power(s)
		s = p.Step(s, h, push, push, push)
		work += h / 2 * power(s)
	}
	if got := p.EnergyJ(s) - before; math.Abs(got-work) > 1e-5*math.Abs(work) {
		t.Errorf("the energy grows by %g J, the push did %g J", got, work)
	}
}

// A very short push is a kick; off the middle it turns the bag as well.
func TestShortPushIsAKick(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawRig(t).Mechanics()
		p := m.Pendulum()
		depth := m.DepthM(rapid.Float64Range(0, m.LengthM).Draw(t, "height"))
		const impulse, dt = 1e-6, 1e-9
		// At bearing 0, toward the axis and toward bearing 90.
		push := rig.Push{ForceN: rig.Vec{X: 0.3 * impulse / dt, Y: -impulse / dt}, AtM: m.Surface(depth, 0)}
		s := p.Step(rig.Hanging(), dt, push, push, push)
		want := m.Struck(impulse, depth)
		tol := 1e-5 * (math.Abs(want.PivotMPS) + math.Abs(want.TurnRadps)*(m.CentreM+m.GyrationM))
		if math.Abs(-s.ChainRate.Y*m.ChainM-want.PivotMPS) > tol || math.Abs(-s.Turn.X-want.TurnRadps) > tol/m.GyrationM {
			t.Fatalf("kicked: pivot %g m/s, turn %g rad/s, want %+v", -s.ChainRate.Y*m.ChainM, -s.Turn.X, want)
		}
		if twist := -0.3 * impulse * m.RadiusM / m.TwistKgM2; math.Abs(s.Turn.Z-twist) > 1e-5*math.Abs(twist) {
			t.Fatalf("kicked beside the axis: %g rad/s, want %g", s.Turn.Z, twist)
		}
	})
}

func TestSurface(t *testing.T) {
	m := bag(t)
	for deg, want := range map[float64]rig.Vec{0: {Y: m.RadiusM}, 90: {X: m.RadiusM}, 180: {Y: -m.RadiusM}, 270: {X: -m.RadiusM}} {
		want.Z = -0.3
		if d := m.Surface(0.3, deg).Minus(want).Norm(); d > 1e-15 {
			t.Errorf("the surface at bearing %g lies %g away from %+v", deg, d, want)
		}
	}
}

func TestStepAllocatesNothing(t *testing.T) {
	p, s := bag(t).Pendulum(), wild()
	f := p.Free(rig.Plane{AngleRad: 0.1})
	if n := testing.AllocsPerRun(100, func() {
		s = run(p, s, 1e-3, 1)
		p.Reading(s, rig.Push{}, rig.Axis(0.1))
		f.Reading(0.1, 0.1)
	}); n != 0 {
		t.Errorf("a step and its readings allocate %g times", n)
	}
}

func BenchmarkStep(b *testing.B) {
	p, s := bag(b).Pendulum(), wild()
	push := rig.Push{ForceN: rig.Vec{Y: -1}, AtM: p.Surface(0.5, 0)}
	for b.Loop() {
		s = p.Step(s, 1e-4, push, push, push)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "steps/s")
}

func BenchmarkPendulumReading(b *testing.B) {
	p, s := bag(b).Pendulum(), wild()
	for b.Loop() {
		p.Reading(s, rig.Push{}, rig.Axis(0.14))
	}
}

func BenchmarkFreeReading(b *testing.B) {
	m := bag(b)
	f := m.Free(m.Struck(20, 0.4))
	for b.Loop() {
		f.Reading(0.7, 0.14)
	}
}
