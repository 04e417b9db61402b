package bound

import (
	"math"
	"math/cmplx"

	"strikerose/dataset/rig"
)

// oscillator is one mode of a bag, pushed by a half-sine pulse of unit area
// that begins at time 0: a” + 2 damping a' + omega^2 a = F. It rings at the
// mode's frequency, whatever its decay, as in [rig.Free]. Its answer is closed:
// with pole = -damping + i ring, omega^2 = ring^2 + damping^2,
//
//	z(t) = integral of F(u) exp(pole (t - u)) over u,   a = Im z / ring.
type oscillator struct {
	damping float64 // 1/s
	omega2  float64 // (rad/s)^2
	ring    float64 // rad/s
	pole    complex128
}

func newOscillator(m rig.Mode) oscillator {
	ring, damping := m.Omega(), 1/m.DecayS
	return oscillator{damping: damping, omega2: ring*ring + damping*damping, ring: ring, pole: complex(-damping, ring)}
}

// state is an oscillator's displacement and its first derivatives in time.
type state struct{ a, a1, a2, a3 float64 }

// follow completes a state from z and from the force with its derivative.
func (o oscillator) follow(z complex128, force, force1 float64) state {
	s := state{a: imag(z) / o.ring, a1: imag(o.pole*z) / o.ring}
	s.a2 = force - 2*o.damping*s.a1 - o.omega2*s.a
	s.a3 = force1 - 2*o.damping*s.a2 - o.omega2*s.a1
	return s
}

// pulsed returns the answer to the pulse at a time, and its derivative by the
// pulse's length (whose a3 is not given).
func (o oscillator) pulsed(t, contactS float64) (answer, byContact state) {
	if t <= 0 {
		return state{}, state{}
	}
	w := math.Pi / contactS // of the half sine: F = w/2 sin(w t)
	byW := -w / contactS    // dw by contactS
	x := min(t, contactS)
	sin, cos := math.Sincos(w * x)
	p, iw := o.pole, complex(w, 0)
	fade := cmplx.Exp(-p * complex(x, 0))
	// integral of sin(w u) exp(-p u) from 0 to x = n/d; n1 is dn by w. The
	// force at the pulse's end is 0, so moving the end adds nothing.
	n := iw - fade*(iw*complex(cos, 0)+p*complex(sin, 0))
	n1 := 1 - fade*(complex(cos-w*x*sin, 0)+p*complex(x*cos, 0))
	d := p*p + iw*iw
	z := iw / 2 * n / d
	z1 := n/(2*d) + iw/2*(n1/d-2*iw*n/(d*d))
	since := cmplx.Exp(p * complex(t, 0))
	var force, force1, forceByW float64
	if t < contactS {
		force, force1 = w/2*sin, w*w/2*cos
		forceByW = sin/2 + w*t/2*cos
	}
	return o.follow(since*z, force, force1), o.follow(since*z1*complex(byW, 0), forceByW*byW, 0)
}

// free returns two free motions that make up any other.
func (o oscillator) free(t float64) [2]state {
	z := cmplx.Exp(o.pole * complex(t, 0))
	return [2]state{o.follow(z, 0, 0), o.follow(1i*z, 0, 0)}
}
