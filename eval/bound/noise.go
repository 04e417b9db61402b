package bound

import (
	"fmt"
	"math"
)

// ModelNoise is noise added to the sensor's own, for flexing, ringing, pulses
// that are no half sines and all else that the model leaves out. It lasts from
// the onset on, in proportion to the kick, impulse over mass in m/s. What a
// model leaves out goes on from sample to sample: the correlation between two
// instants falls to 1/e within the channel's hold (a first-order
// autoregression), so that a faster rate buys little. The zero value is no
// such noise; a hold of 0 makes every sample's independent.
type ModelNoise struct {
	AccelContact float64 // m/s2 per m/s, standard deviation, while the pulse lasts
	AccelEarly   float64 // likewise, from then until 80 ms after the onset
	AccelLate    float64 // likewise, afterwards
	Gyro         float64 // rad/s per m/s
	AccelHoldS   float64
	GyroHoldS    float64
}

// earlyS is when AccelEarly ends.
const earlyS = 0.08

// UsualModelNoise is taken from what a fit of this model, with the true height,
// leaves of straight strikes on simulated recordings of four rigs: across the
// push 2 to 5 m/s2 per m/s during contact, 0.3 to 0.9 until 80 ms and 0.2 to
// 0.4 later, and 0.01 to 0.04 rad/s; along it, where the pulse's shape counts,
// 16 to 54, 1.8 to 2.8, 0.9 to 1.1, and 0.03 to 0.14. It holds on for 3 to 6
// and 5 to 18 ms. Both planes have one noise here, so numbers nearer to the
// smaller are taken. TestModelNoiseOnRecordings in eval measures them; they are
// assumptions about real bags.
func UsualModelNoise() ModelNoise {
	return ModelNoise{AccelContact: 4, AccelEarly: 1.2, AccelLate: 0.6, Gyro: 0.025, AccelHoldS: 0.004, GyroHoldS: 0.015}
}

func (m ModelNoise) check() error {
	for _, x := range []float64{m.AccelContact, m.AccelEarly, m.AccelLate, m.Gyro, m.AccelHoldS, m.GyroHoldS} {
		if !(x >= 0) || math.IsInf(x, 0) {
			return fmt.Errorf("bound: model noise %g: give a number of at least 0", x)
		}
	}
	return nil
}

// modelSD returns the standard deviations of model noise at a time after the
// onset.
func (s Setting) modelSD(t float64) (accelMPS2, gyroRadps float64) {
	if t < 0 {
		return 0, 0
	}
	kick := s.ImpulseNs / s.Rig.Bag.MassKg
	accel := s.Model.AccelLate
	switch {
	case t <= s.ContactS:
		accel = s.Model.AccelContact
	case t <= earlyS:
		accel = s.Model.AccelEarly
	}
	return kick * accel, kick * s.Model.Gyro
}

// whitener turns the noise of one channel, white noise of the sensor and model
// noise that holds on, into white noise of standard deviation 1: each reading
// becomes what a Kalman filter could not foresee of it, over its standard
// deviation (innovations; Kailath 1968). It does so to any column alike, being
// linear. Make one for each column.
type whitener struct {
	whiteSD float64
	keep    float64 // correlation of model noise with that of the sample before
	state   float64 // the model noise's foreseen value, in standard deviations
	doubt   float64 // its variance
}

// newWhitener returns a whitener of samples at a rate.
func newWhitener(whiteSD, holdS, rateHz float64) whitener {
	return whitener{whiteSD: whiteSD, keep: math.Exp(-1 / (holdS * rateHz)), doubt: 1}
}

// next whitens the next reading, in which model noise has a standard deviation.
func (w *whitener) next(reading, modelSD float64) float64 {
	variance := modelSD*modelSD*w.doubt + w.whiteSD*w.whiteSD
	news := reading - modelSD*w.state
	gain := modelSD * w.doubt / variance
	w.state = w.keep * (w.state + gain*news)
	w.doubt = w.keep*w.keep*(1-gain*modelSD)*w.doubt + 1 - w.keep*w.keep
	return news / math.Sqrt(variance)
}
