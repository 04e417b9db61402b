package bound

import (
	"fmt"
	"math"
)

// modelRateHz is the rate at which model noise is stated. At another rate it
// is scaled by the root of the rates' ratio, so that rate alone buys nothing.
const modelRateHz = 400

// ModelNoise is noise added to the sensor's own, for flexing, ringing and all
// else that the model leaves out. It is the standard deviation of one sample
// at 400 Hz, in proportion to the kick, impulse over mass in m/s, and lasts
// from the onset on. The zero value is no such noise.
type ModelNoise struct {
	AccelEarly float64 // m/s2 per m/s, until 80 ms after the onset
	AccelLate  float64 // m/s2 per m/s, afterwards
	Gyro       float64 // rad/s per m/s
}

// earlyS is when AccelEarly ends.
const earlyS = 0.08

// UsualModelNoise is what a fit of this model left unexplained on simulated
// recordings of four rigs: 0.8 to 2.2 m/s2 per m/s at 30 to 80 ms, 1.2 to 3.4
// at 80 to 200 ms, and 0.012 to 0.018 rad/s per m/s. Middles of these ranges
// are taken; during contact the first one is taken to hold too. They are
// assumptions about real bags, and white where real errors hang together.
func UsualModelNoise() ModelNoise { return ModelNoise{AccelEarly: 1.5, AccelLate: 2.3, Gyro: 0.015} }

func (m ModelNoise) check() error {
	for _, x := range []float64{m.AccelEarly, m.AccelLate, m.Gyro} {
		if !(x >= 0) || math.IsInf(x, 0) {
			return fmt.Errorf("bound: model noise %g: give a number of at least 0", x)
		}
	}
	return nil
}

// noiseAt returns the standard deviations of a sample of each channel at a
// time after the onset.
func (s Setting) noiseAt(t float64) (accelMPS2, gyroRadps float64) {
	if t < 0 {
		return s.AccelNoiseMPS2, s.GyroNoiseRadps
	}
	kick := s.ImpulseNs / s.Rig.Bag.MassKg * math.Sqrt(s.RateHz/modelRateHz)
	accel := s.Model.AccelEarly
	if t > earlyS {
		accel = s.Model.AccelLate
	}
	return math.Hypot(s.AccelNoiseMPS2, kick*accel), math.Hypot(s.GyroNoiseRadps, kick*s.Model.Gyro)
}
