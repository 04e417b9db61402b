package simulate

import "math"

// Horizontal vectors are complex here, the part toward bearing 0 real and the
// part toward bearing 90 imaginary, as bearing.Unit writes them: a factor
// exp(i b) turns by b clockwise.

// bank is a set of modes, stepped in closed form.
//
// Each mode obeys a” + 2 gamma a' + (w^2 + gamma^2) a = F(t), w being the
// frequency it rings at. A half-sine force has the particular solution
// Im(H exp(i W t)), H = 1/(w^2 + gamma^2 - W^2 + 2 i gamma W) (textbook forced
// oscillator); what is left of the motion when it is taken off is free, and a
// free motion steps exactly over any time.
type bank struct {
	mode   []mode
	pulses []pulse
	at     float64 // seconds
	stepS  float64 // of the last step, mostly the next one's too

	// beside adds to each mode what it feels beside the pulses, as extra, from the
	// motion and the accelerations without it; nil: nothing. See modal.
	beside func()
}

// mode is one of the motions of a bank.
type mode struct {
	w, gamma, w2 float64    // w2 = w^2 + gamma^2
	freeX, freeV complex128 // what is left without the pulses' particular solutions
	x, v, a      complex128 // the whole, after settle
	force, extra complex128 // after settle: of the pulses, and what is beside them
	step         step       // its free motion over the bank's stepS
}

// newMode returns a mode that rings at hz and falls to 1/e in decayS.
func newMode(hz, decayS float64) mode {
	w, gamma := 2*math.Pi*hz, 1/decayS
	return mode{w: w, gamma: gamma, w2: w*w + gamma*gamma}
}

// mostModes of a bank: swing, rocking, twist, bending.
const mostModes = 4

// pulse is a half-sine force that acts.
type pulse struct {
	from, until float64
	rate        float64               // W
	on          [mostModes]complex128 // force on each mode at the peak
	answer      [mostModes]complex128 // H
}

// step is the exact free motion of a mode over a time.
type step struct{ xx, xv, vx, vv float64 }

// over is the free motion over dt.
func (m *mode) over(dt float64) step {
	sin, cos := math.Sincos(m.w * dt)
	e := math.Exp(-m.gamma * dt)
	return step{e * (cos + m.gamma/m.w*sin), e * sin / m.w, -e * m.w2 / m.w * sin, e * (cos - m.gamma/m.w*sin)}
}

// advance moves the bank to a later time, through every end of a pulse before
// it.
func (b *bank) advance(to float64) {
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

// sameStepS is how close two steps are to count as equally long: the rounding
// of times in a session of days.
const sameStepS = 1e-10

// free moves the bank to a time before which no pulse starts or ends.
func (b *bank) free(to float64) {
	dt := to - b.at
	if dt <= 0 {
		return
	}
	if math.Abs(dt-b.stepS) > sameStepS {
		b.stepS = dt
		for k := range b.mode {
			b.mode[k].step = b.mode[k].over(dt)
		}
	}
	b.kick(dt / 2)
	for k := range b.mode {
		o := &b.mode[k]
		s := &o.step
		o.freeX, o.freeV = scale(s.xx, o.freeX)+scale(s.xv, o.freeV), scale(s.vx, o.freeX)+scale(s.vv, o.freeV)
	}
	b.at = to
	b.settle()
	if b.beside == nil {
		return
	}
	// The extra force depends on the speed that it changes: first by what it
	// would be without, then once more.
	for k := range b.mode {
		o := &b.mode[k]
		o.v += scale(dt/2, o.extra)
		o.a -= o.extra
	}
	b.feel()
	b.kick(dt / 2)
}

// kick adds to the free parts what the extra force does over dt.
func (b *bank) kick(dt float64) {
	if b.beside == nil {
		return
	}
	for k := range b.mode {
		b.mode[k].freeV += scale(dt, b.mode[k].extra)
	}
}

// feel works out the extra force and adds it to the accelerations.
func (b *bank) feel() {
	if b.beside == nil {
		return
	}
	b.beside()
	for k := range b.mode {
		b.mode[k].a += b.mode[k].extra
	}
}

// settle computes the whole motion from the free parts and the pulses that act.
func (b *bank) settle() {
	for k := range b.mode {
		o := &b.mode[k]
		o.x, o.v, o.force = o.freeX, o.freeV, 0
	}
	for i := range b.pulses {
		p := &b.pulses[i]
		sin, cos := math.Sincos(p.rate * (b.at - p.from))
		turn := complex(cos, sin)
		for k := range b.mode {
			o := &b.mode[k]
			z := p.answer[k] * turn
			o.x += scale(imag(z), p.on[k])
			o.v += scale(p.rate*real(z), p.on[k])
			o.force += scale(sin, p.on[k])
		}
	}
	for k := range b.mode {
		o := &b.mode[k]
		o.a = o.force - scale(2*o.gamma, o.v) - scale(o.w2, o.x)
	}
	b.feel()
}

// push begins a half-sine force at the present time: on gives its peak on each
// mode.
func (b *bank) push(seconds float64, on [mostModes]complex128) {
	p := pulse{from: b.at, until: b.at + seconds, rate: math.Pi / seconds, on: on}
	for k := range b.mode {
		o := &b.mode[k]
		p.answer[k] = 1 / complex(o.w2-p.rate*p.rate, 2*o.gamma*p.rate)
	}
	b.shift(&p, -1)
	b.pulses = append(b.pulses, p)
	b.settle()
}

// shift adds sign times a pulse's particular solution, at the present time, to
// the free parts: minus where it begins, plus where it ends.
func (b *bank) shift(p *pulse, sign float64) {
	sin, cos := math.Sincos(p.rate * (b.at - p.from))
	for k := range b.mode {
		z := p.answer[k] * complex(cos, sin)
		b.mode[k].freeX += scale(sign*imag(z), p.on[k])
		b.mode[k].freeV += scale(sign*p.rate*real(z), p.on[k])
	}
}

func scale(f float64, z complex128) complex128 { return complex(f*real(z), f*imag(z)) }
func square(z complex128) float64              { return real(z)*real(z) + imag(z)*imag(z) }
func dot(a, b complex128) float64              { return real(a)*real(b) + imag(a)*imag(b) }
