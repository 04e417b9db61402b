package simulate

import (
	"math"
	"math/cmplx"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

// A mode under a half-sine force is where a fine Runge-Kutta integration puts
// it, whatever the steps and wherever the pulse lies between them.
func TestBankAgainstIntegration(t *testing.T) {
	const from, seconds, peak = 0.1003, 0.0147, 700.0
	m := newMode(2.1, 1.5)
	acceleration := func(t, x, v float64) float64 {
		f := 0.0
		if t > from && t < from+seconds {
			f = peak * math.Sin(math.Pi*(t-from)/seconds)
		}
		return f - 2*m.gamma*v - m.w2*x
	}
	var x, v float64
	const fine = 1e-6
	steps := map[float64]*bank{}
	for _, dt := range []float64{0.0001, 0.001, 0.00731} {
		steps[dt] = &bank{mode: []mode{m}}
	}
	until := 0.3
	for i := range int(math.Round(until / fine)) {
		t := float64(i) * fine
		k1v := acceleration(t, x, v)
		k2v := acceleration(t+fine/2, x+fine/2*v, v+fine/2*k1v)
		k3v := acceleration(t+fine/2, x+fine/2*(v+fine/2*k1v), v+fine/2*k2v)
		k4v := acceleration(t+fine, x+fine*(v+fine/2*k2v), v+fine*k3v)
		x += fine*v + fine*fine/6*(k1v+k2v+k3v)
		v += fine / 6 * (k1v + 2*k2v + 2*k3v + k4v)
	}
	for dt, b := range steps {
		for at := 0.0; at < from; at += dt {
			b.advance(at)
		}
		b.advance(from)
		b.push(seconds, [mostModes]complex128{complex(0, peak)})
		for at := from; at < until; at += dt {
			b.advance(at)
		}
		b.advance(until)
		got := b.mode[0]
		if math.Abs(imag(got.x)-x) > 1e-8*math.Abs(x) || math.Abs(imag(got.v)-v) > 1e-8*math.Abs(v) || real(got.x) != 0 {
			t.Errorf("steps of %g s: %g, %g, want %g, %g along the second axis only", dt, got.x, got.v, x, v)
		}
		if len(b.pulses) != 0 {
			t.Errorf("steps of %g s: the pulse still acts", dt)
		}
	}
}

// The modes with their rise move as rods in space do, closely for small
// motions and still nearly after a hard blow. What differs in the first case is
// that a mode rings at its frequency whatever its decay, and rods a little
// slower. Both are stepped as a session steps them.
func TestModesAgreeWithRods(t *testing.T) {
	m := datasettest.Rig(t).Mechanics()
	for _, c := range []struct {
		peakN, share float64 // largest difference, of the largest value
	}{{20, 0.01}, {1500, 0.05}, {3000, 0.13}} {
		x := Strike{BearingDeg: 40, HeightM: 0.7, PeakN: c.peakN, ContactS: 0.015, ObliqueDeg: 3, RiseDeg: 10}
		bags := []bag{newModal(m, UsualFlex()), newRods(m, UsualFlex())}
		for _, b := range bags {
			b.strike(x)
		}
		var off, size [2]float64
		for i := 1; i <= 1500; i++ {
			var a, g [2][3]float64
			for k, b := range bags {
				b.advance(float64(i) / 1000)
				a[k], g[k] = b.read()
				a[k][2] -= rig.StandardGravityMPS2
			}
			off[0], size[0] = max(off[0], apart(a[0], a[1])), max(size[0], apart(a[1], [3]float64{}))
			off[1], size[1] = max(off[1], apart(g[0], g[1])), max(size[1], apart(g[1], [3]float64{}))
		}
		for k, what := range []string{"acceleration", "rotation rate"} {
			if off[k] > c.share*size[k] {
				t.Errorf("%g N: %s differs by up to %g, more than %g of %g", c.peakN, what, off[k], c.share, size[k])
			}
		}
	}
}

func apart(a, b [3]float64) float64 {
	d := 0.0
	for k := range a {
		d += (a[k] - b[k]) * (a[k] - b[k])
	}
	return math.Sqrt(d)
}

// Without damping the modal bag keeps its energy to fourth order in a hard
// swing: what its extra force takes it gives back.
func TestModesKeepEnergy(t *testing.T) {
	r := datasettest.Rig(t)
	r.Motion = &rig.Motion{SwingDecayS: 1e9, RockingDecayS: 1e9, TwistDecayS: 1e9}
	m := r.Mechanics()
	b := newModal(m, Flex{})
	b.strike(Strike{BearingDeg: 80, HeightM: 0.6, PeakN: 3000, ContactS: 0.015})
	energy := func() float64 {
		y, yv, _ := b.pivot()
		q, qv, _ := b.tilt()
		l, c, g := m.ChainM, m.CentreM, rig.StandardGravityMPS2
		sum := 0.0
		for _, k := range []int{atSwing, atRocking} {
			sum += (square(b.mode[k].v) + b.mode[k].w2*square(b.mode[k].x)) / 2
		}
		up, round := dot(y, yv)/l+c*dot(q, qv), m.GyrationM*dot(q, qv)
		fall := square(y)*square(y)/(8*l*l*l) + c*square(q)*square(q)/8
		return sum + m.MassKg*(up*up+round*round)/2 + m.MassKg*g*fall
	}
	b.advance(0.02)
	first := energy()
	for i := 21; i < 20000; i++ {
		b.advance(float64(i) / 1000)
		if e := energy(); math.Abs(e-first) > 0.01*first {
			t.Fatalf("energy %g J after %d ms, %g J at first", e, i, first)
		}
	}
}

// A blow leaves no momentum in the bending, its nodes lie where those of an
// even beam do, and its mean square is 1.
func TestBendingShape(t *testing.T) {
	m := datasettest.Rig(t).Mechanics()
	b := newBending(m, UsualFlex())
	const n = 20000
	var sum, turn, squares float64
	for i := range n {
		x := (float64(i) + 0.5) / n
		v := b.at(m.StrapM+x*m.LengthM) * math.Sqrt(m.MassKg)
		sum, turn, squares = sum+v/n, turn+v*x/n, squares+v*v/n
	}
	if math.Abs(sum) > 1e-6 || math.Abs(turn) > 1e-6 || math.Abs(squares-1) > 1e-6 {
		t.Errorf("mean %g, first moment %g, mean square %g, want 0, 0, 1", sum, turn, squares)
	}
	// Nodes of the first bending at 0.2242 and 0.7758 of the length (textbook).
	for _, x := range []float64{0.2242, 0.7758} {
		if v := b.at(m.StrapM+x*m.LengthM) * math.Sqrt(m.MassKg); math.Abs(v) > 1e-3 {
			t.Errorf("shape %g at the node %g", v, x)
		}
	}
	if v := newBending(m, Flex{}).at(0.3); v != 0 {
		t.Errorf("a stiff bag bends by %g", v)
	}
}

// A twist turns what the bag's marks see.
func TestTurned(t *testing.T) {
	b := newModal(datasettest.Rig(t).Mechanics(), Flex{})
	b.mode[atTwist].x = complex(math.Pi/6/b.twist.AngleShape, 0)
	if d := cmplx.Abs(b.turned() - cmplx.Exp(complex(0, math.Pi/6))); d > 1e-12 {
		t.Errorf("a bag twisted by 30 degrees turns vectors by %v", b.turned())
	}
}

// A blow lands on the bag's marks and pushes against them, however far the bag
// is twisted.
func TestTwistedBagIsStruckOnItsMarks(t *testing.T) {
	x := Strike{BearingDeg: 50, HeightM: 0.3, PeakN: 800, ContactS: 0.015, ObliqueDeg: 10}
	m := datasettest.Rig(t).Mechanics()
	straight, twisted := newModal(m, Flex{}), newModal(m, Flex{})
	twisted.mode[atTwist].x = complex(0.7/twisted.twist.AngleShape, 0)
	straight.strike(x)
	seen := twisted.turned()
	twisted.strike(x)
	for _, k := range []int{atSwing, atRocking} {
		if got, want := twisted.pulses[0].on[k]*seen, straight.pulses[0].on[k]; cmplx.Abs(got-want) > 1e-9*cmplx.Abs(want) {
			t.Errorf("mode %d: pushed by %v against the marks, untwisted %v", k, got, want)
		}
	}
}

// A bag that leans and does not speed up reads g, tilted; its rate of turning
// is that of its angle, not of the angle's sine.
func TestLeaningBag(t *testing.T) {
	b := newModal(datasettest.Rig(t).Mechanics(), Flex{})
	const lean, rate = 0.35, 0.8
	sin, cos := math.Sincos(lean)
	// Amplitudes of the two modes that leave the pivot where it is.
	share := b.swing.AngleShape - b.rocking.AngleShape*b.swing.PivotShape/b.rocking.PivotShape
	set := func(angle float64, of func(*mode) *complex128) {
		*of(&b.mode[atSwing]) = complex(angle/share, 0)
		*of(&b.mode[atRocking]) = complex(-angle/share*b.swing.PivotShape/b.rocking.PivotShape, 0)
	}
	set(sin, func(m *mode) *complex128 { return &m.x })
	a, _ := b.read()
	for k, want := range []float64{0, rig.StandardGravityMPS2 * sin, rig.StandardGravityMPS2 * cos} {
		if math.Abs(a[k]-want) > 1e-9 {
			t.Errorf("axis %d: %g m/s2, want %g", k, a[k], want)
		}
	}
	set(rate*cos, func(m *mode) *complex128 { return &m.v })
	if _, g := b.read(); math.Abs(g[0]-rate) > 1e-9 || math.Abs(g[1]) > 1e-9 {
		t.Errorf("the bag turns by %v rad/s, want %g about bearing 90", g, rate)
	}
}
