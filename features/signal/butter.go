package signal

import (
	"fmt"
	"math"
	"math/cmplx"
)

// Section is a second-order section with leading denominator coefficient 1:
// y[n] = B0 x[n] + B1 x[n-1] + B2 x[n-2] - A1 y[n-1] - A2 y[n-2].
type Section struct{ B0, B1, B2, A1, A2 float64 }

// maxOrder is far beyond any filter that makes sense here.
const maxOrder = 20

// LowPass returns the sections of a Butterworth low-pass whose gain is 1 at 0
// Hz and 1/sqrt(2) at cutHz: the analogue prototype, prewarped and taken over
// by the bilinear transform (Oppenheim & Schafer, Discrete-Time Signal
// Processing). Each section has gain 1 at 0 Hz, so that
// no sample inside a cascade grows much beyond the input. cutHz must lie
// between 0 and half of rateHz.
func LowPass(order int, cutHz, rateHz float64) ([]Section, error) {
	if err := checkFilter(order, rateHz, cutHz); err != nil {
		return nil, err
	}
	k := math.Tan(math.Pi * cutHz / rateHz)
	var out []Section
	for _, p := range prototype(order) {
		s := pole(bilinear(complex(k, 0)*p), imag(p) != 0)
		s.B0, s.B1, s.B2 = 1, 2, 1
		if imag(p) == 0 {
			s.B1, s.B2 = 1, 0
		}
		out = append(out, s.scaled(1))
	}
	return out, nil
}

// HighPass returns the sections of a Butterworth high-pass whose gain is 1 at
// half of rateHz, in each section, and 1/sqrt(2) at cutHz. See LowPass.
func HighPass(order int, cutHz, rateHz float64) ([]Section, error) {
	if err := checkFilter(order, rateHz, cutHz); err != nil {
		return nil, err
	}
	k := math.Tan(math.Pi * cutHz / rateHz)
	var out []Section
	for _, p := range prototype(order) {
		s := pole(bilinear(complex(k, 0)/p), imag(p) != 0)
		s.B0, s.B1, s.B2 = 1, -2, 1
		if imag(p) == 0 {
			s.B1, s.B2 = -1, 0
		}
		out = append(out, s.scaled(-1))
	}
	return out, nil
}

// BandPass returns the sections of a Butterworth band-pass, one section for
// each order of its prototype, whose gain is 1/sqrt(2) at lowHz and highHz and
// 1, in each section, between them. See LowPass.
func BandPass(order int, lowHz, highHz, rateHz float64) ([]Section, error) {
	if err := checkFilter(order, rateHz, lowHz, highHz); err != nil {
		return nil, err
	}
	if lowHz >= highHz {
		return nil, fmt.Errorf("band-pass: from %g Hz to %g Hz: the first has to be the lower", lowHz, highHz)
	}
	k1, k2 := math.Tan(math.Pi*lowHz/rateHz), math.Tan(math.Pi*highHz/rateHz)
	centre := cmplx.Exp(complex(0, 2*math.Atan(math.Sqrt(k1*k2))))
	var out []Section
	add := func(s Section) {
		s.B0, s.B1, s.B2 = 1, 0, -1
		out = append(out, s.scaled(centre))
	}
	for _, p := range prototype(order) {
		half := p * complex((k2-k1)/2, 0)
		root := cmplx.Sqrt(half*half - complex(k1*k2, 0))
		a, b := bilinear(half+root), bilinear(half-root)
		if imag(p) == 0 { // one section of two poles, real or conjugate
			add(Section{A1: -real(a + b), A2: real(a * b)})
			continue
		}
		add(pole(a, true))
		add(pole(b, true))
	}
	return out, nil
}

func checkFilter(order int, rateHz float64, cutsHz ...float64) error {
	if order < 1 || order > maxOrder {
		return fmt.Errorf("filter of order %d: the order has to lie between 1 and %d", order, maxOrder)
	}
	for _, f := range cutsHz {
		if !(f > 0 && f < rateHz/2) {
			return fmt.Errorf("filter corner at %g Hz: at %g samples a second it has to lie between 0 and %g Hz", f, rateHz, rateHz/2)
		}
	}
	return nil
}

// prototype returns the poles of the analogue low-pass of corner 1 rad/s in
// the upper half plane, one of each conjugate pair, and the real one if the
// order is odd. The best damped comes first.
func prototype(order int) []complex128 {
	var poles []complex128
	if order%2 == 1 {
		poles = append(poles, -1)
	}
	for i := order/2 - 1; i >= 0; i-- {
		angle := math.Pi * float64(2*i+1+order) / float64(2*order)
		poles = append(poles, cmplx.Exp(complex(0, angle)))
	}
	return poles
}

// bilinear maps s, in units of twice the sample rate, to z.
func bilinear(s complex128) complex128 { return (1 + s) / (1 - s) }

// pole returns a section with a pole at p and, for a pair, at its conjugate.
func pole(p complex128, pair bool) Section {
	if !pair {
		return Section{A1: -real(p)}
	}
	return Section{A1: -2 * real(p), A2: real(p)*real(p) + imag(p)*imag(p)}
}

// scaled returns the section with gain 1 at z.
func (s Section) scaled(z complex128) Section {
	g := 1 / cmplx.Abs(s.at(z))
	s.B0, s.B1, s.B2 = s.B0*g, s.B1*g, s.B2*g
	return s
}

// at returns the section's transfer function at z.
func (s Section) at(z complex128) complex128 {
	w := 1 / z
	num := complex(s.B0, 0) + w*(complex(s.B1, 0)+w*complex(s.B2, 0))
	den := 1 + w*(complex(s.A1, 0)+w*complex(s.A2, 0))
	return num / den
}

// Response returns the complex gain of some sections in a row at a frequency.
func Response(sections []Section, hz, rateHz float64) complex128 {
	h := complex(1, 0)
	for _, s := range sections {
		h *= s.at(cmplx.Exp(complex(0, 2*math.Pi*hz/rateHz)))
	}
	return h
}
