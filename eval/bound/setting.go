package bound

import (
	"errors"
	"fmt"
	"math"

	"strikerose/dataset/rig"
)

// What stands in for a field of a Setting that is 0. Choices without source,
// near what boards read and boxers do; a rig file gives better ones.
const (
	usualAccelNoiseMPS2 = 0.05
	usualGyroNoiseRadps = 0.002
	usualBeforeS        = 0.1
	usualAfterS         = 0.2
	usualImpulseNs      = 28.0
	usualContactS       = 0.018
	mostSamples         = 200_000
)

// Setting is what a bound is computed for. Fields that are 0 take usual
// values: see [Setting.Filled].
type Setting struct {
	Rig  *rig.Rig // valid
	Gyro bool     // use a gyroscope, whether or not the rig has one

	RateHz         float64 // 0: the rig's
	AccelNoiseMPS2 float64 // sd of one sample at RateHz; 0: the rig's, else a usual one, for its rate's bandwidth
	GyroNoiseRadps float64 // likewise, about each horizontal axis

	BeforeS float64 // window before the onset
	AfterS  float64 // window after the onset

	ImpulseNs float64 // horizontal momentum of the strike
	ContactS  float64 // length of the pulse

	Model ModelNoise // noise that stands for what the model leaves out; zero: none
	Prior *RigPrior  // doubt about the rig's constants; nil: they are known
	Known Known      // what need not be estimated; zero: nothing is known
}

// Known names what is known beforehand and need not be estimated.
type Known struct {
	Impulse bool
	Contact bool // length of the pulse
	Onset   bool
	Swing   bool // the earlier swing
	Bias    bool // of every channel
}

// Filled returns the setting with usual values for what is 0, so that they can
// be shown, or an error that says what is wrong. Noise from the rig file holds
// at the rig's own rate; white noise of the same density at another rate grows
// with the root of the rate, so that a faster reading alone buys little.
func (s Setting) Filled() (Setting, error) {
	if s.Rig == nil {
		return s, errors.New("bound: no rig: give one")
	}
	if err := s.Rig.Validate(); err != nil {
		return s, fmt.Errorf("bound: %w", err)
	}
	fill := func(to *float64, usual float64) {
		if *to == 0 {
			*to = usual
		}
	}
	fill(&s.RateHz, s.Rig.Sensor.RateHz)
	accel, gyro := s.Rig.Sensor.AccelNoiseMPS2, 0.0
	if c := s.Rig.Calibration; c != nil {
		gyro = c.GyroNoiseRadps
	}
	fill(&accel, usualAccelNoiseMPS2)
	fill(&gyro, usualGyroNoiseRadps)
	wider := math.Sqrt(s.RateHz / s.Rig.Sensor.RateHz)
	fill(&s.AccelNoiseMPS2, accel*wider)
	fill(&s.GyroNoiseRadps, gyro*wider)
	fill(&s.BeforeS, usualBeforeS)
	fill(&s.AfterS, usualAfterS)
	fill(&s.ImpulseNs, usualImpulseNs)
	fill(&s.ContactS, usualContactS)
	return s, s.check()
}

// check judges a filled setting.
func (s Setting) check() error {
	for _, x := range []struct {
		name  string
		value float64
	}{
		{"rate_hz", s.RateHz}, {"accelerometer noise_mps2", s.AccelNoiseMPS2}, {"gyroscope noise_radps", s.GyroNoiseRadps},
		{"time before the onset_s", s.BeforeS}, {"time after the onset_s", s.AfterS},
		{"impulse_ns", s.ImpulseNs}, {"contact_s", s.ContactS},
	} {
		if !(x.value > 0) || math.IsInf(x.value, 0) {
			return fmt.Errorf("bound: %s is %g: give a number above 0", x.name, x.value)
		}
	}
	if n := (s.BeforeS + s.AfterS) * s.RateHz; n > mostSamples {
		return fmt.Errorf("bound: the window of %g s at %g Hz holds %.0f samples: at most %d are computed; shorten it", s.BeforeS+s.AfterS, s.RateHz, n, mostSamples)
	}
	if err := s.Model.check(); err != nil {
		return err
	}
	if s.Prior != nil {
		return s.Prior.check(s.Rig.Mechanics())
	}
	return nil
}
