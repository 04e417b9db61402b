package bound

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"strikerose/dataset/rig"
)

// window holds what a strike of unit impulse and every nuisance do to the
// readings of one setting, with the noise made white and of standard deviation
// 1: accelerometer samples first, then the gyroscope's, then one row for each prior. It serves every
// height, as a height only says how strongly each mode is pushed.
type window struct {
	setting   Setting
	mechanics rig.Mechanics
	plane     plane
	priors    int // rows of the priors, one for each uncertain constant
	constants []moved
	common    [][]float64 // earlier swing and biases, which both planes have
}

// pushed is what one mode adds to the readings, per push: its answer to the
// pulse and its derivatives by the pulse's length and onset.
type pushed struct{ answer, byContact, byOnset []float64 }

// plane is the bag's motion in one vertical plane: its modes, slow first, and
// what they add to the readings.
type plane struct {
	shapes [2]rig.Mode
	pushed [2]pushed
}

// strike is the column of a strike of unit impulse at a depth.
func (p plane) strike(depthM float64) []float64 {
	return p.mix(func(m pushed) []float64 { return m.answer }, func(m rig.Mode) float64 { return m.At(depthM) })
}

// mix adds up a column of each mode, with a weight each.
func (p plane) mix(column func(pushed) []float64, weight func(rig.Mode) float64) []float64 {
	out := make([]float64, len(column(p.pushed[0])))
	for k := range p.shapes {
		floats.AddScaled(out, weight(p.shapes[k]), column(p.pushed[k]))
	}
	return out
}

// moved is the plane with a constant of the rig moved a step up and down.
type moved struct{ up, down plane }

// moveStep is the step, in standard deviations of the prior, of the central
// differences by the rig's constants.
const moveStep = 1e-3

// newWindow computes the window of a filled setting with a sensor at a depth
// below the lower pivot.
func newWindow(s Setting, m rig.Mechanics) *window {
	w := &window{setting: s, mechanics: m}
	uncertain := s.Prior.constants()
	w.priors = len(uncertain)
	w.plane = w.push(m)
	for _, c := range uncertain {
		up, down := m, m
		c.move(&up, moveStep*c.sd)
		c.move(&down, -moveStep*c.sd)
		w.constants = append(w.constants, moved{up: w.push(up), down: w.push(down)})
	}
	w.addCommon()
	return w
}

// samples is the number of samples of one channel, and before how many of them
// come before the one at the onset. Counting from the onset, a longer window
// holds all samples of a shorter one.
func (w *window) samples() (all, before int) {
	s := w.setting
	whole := func(seconds float64) int { return int(math.Floor(seconds*s.RateHz + 1e-9)) }
	before = whole(s.BeforeS)
	return before + 1 + whole(s.AfterS), before
}

// rows is the number of rows of a column.
func (w *window) rows() int {
	n, _ := w.samples()
	if w.setting.Gyro {
		n *= 2
	}
	return n + w.priors
}

// fill makes a column of what of(t) says the channels read, whitened.
func (w *window) fill(of func(t float64) (accelMPS2, gyroRadps float64)) []float64 {
	s := w.setting
	n, before := w.samples()
	out := make([]float64, w.rows())
	whiteAccel := newWhitener(s.AccelNoiseMPS2, s.Model.AccelHoldS, s.RateHz)
	whiteGyro := newWhitener(s.GyroNoiseRadps, s.Model.GyroHoldS, s.RateHz)
	for i := range n {
		t := float64(i-before) / s.RateHz
		accel, gyro := of(t)
		accelSD, gyroSD := s.modelSD(t)
		out[i] = whiteAccel.next(accel, accelSD)
		if s.Gyro {
			out[n+i] = whiteGyro.next(gyro, gyroSD)
		}
	}
	return out
}

// read turns a mode's state into what it adds to the readings, per unit of the
// mode: the specific force across the bag and the rate of turning.
func read(m rig.Mechanics, mode rig.Mode, a, a1, a2 float64) (accelMPS2, gyroRadps float64) {
	return mode.At(m.SensorM)*a2 + rig.StandardGravityMPS2*mode.AngleShape*a, mode.AngleShape * a1
}

// push computes the answers of both modes to the pulse.
func (w *window) push(m rig.Mechanics) plane {
	var p plane
	p.shapes[0], p.shapes[1] = m.Modes()
	for k, mode := range p.shapes {
		o := newOscillator(mode)
		p.pushed[k].answer = w.fill(func(t float64) (float64, float64) {
			s, _ := o.pulsed(t, w.setting.ContactS)
			return read(m, mode, s.a, s.a1, s.a2)
		})
		p.pushed[k].byContact = w.fill(func(t float64) (float64, float64) {
			_, s := o.pulsed(t, w.setting.ContactS)
			return read(m, mode, s.a, s.a1, s.a2)
		})
		p.pushed[k].byOnset = w.fill(func(t float64) (float64, float64) {
			s, _ := o.pulsed(t, w.setting.ContactS)
			return read(m, mode, -s.a1, -s.a2, -s.a3)
		})
	}
	return p
}

// addCommon adds the columns of the earlier swing and of the biases.
func (w *window) addCommon() {
	if !w.setting.Known.Swing {
		for _, mode := range w.plane.shapes {
			o := newOscillator(mode)
			for k := range 2 {
				w.common = append(w.common, w.fill(func(t float64) (float64, float64) {
					s := o.free(t)[k]
					return read(w.mechanics, mode, s.a, s.a1, s.a2)
				}))
			}
		}
	}
	if !w.setting.Known.Bias {
		w.common = append(w.common, w.fill(func(float64) (float64, float64) { return 1, 0 }))
		if w.setting.Gyro {
			w.common = append(w.common, w.fill(func(float64) (float64, float64) { return 0, 1 }))
		}
	}
}
