// Package featurestest makes small artificial signals for the tests of the
// finder, the chain, the features and what builds on them: a resting sensor
// with noise, to which blows, shoves, swing and blips are added by formula.
//
// It knows no physics of a bag beyond a push, a rocking that follows and a turn
// about the vertical; it serves to state cases exactly, not to measure how well
// anything works.
package featurestest

import (
	"math"
	"math/rand/v2"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// Scene is what happens. Times are seconds from the first sample.
type Scene struct {
	RateHz    float64
	NoiseMPS2 float64
	ClipMPS2  float64 // 0: no limit
	Seed      uint64

	Blows  []Blow
	Shoves []Shove
	Swings []Swing
	Blips  []Blip
	RestA  [3]float64 // added to every reading: slant and bias, m/s2
	RestG  [3]float64 // rad/s
}

// Blow is a strike: a push over the contact, then rocking.
type Blow struct {
	AtS        float64
	BearingDeg float64
	PeakMPS2   float64
	ContactMs  float64 // 0: 20
	TwistRadps float64 // turn about the vertical after it, anticlockwise positive
}

// Shove is a long push.
type Shove struct {
	AtS, BearingDeg, PeakMPS2, LengthMs float64
}

// Swing is a steady motion: specific force and rotation rate along a bearing.
type Swing struct {
	Hz, BearingDeg, MPS2, Radps float64
}

// Blip is a run of spoiled samples.
type Blip struct {
	AtS     float64
	Samples int
	Add     [3]float64 // m/s2
}

// Decay times and shares of what follows a blow, of a usual size for a bag.
const (
	rockingHz, rockingS = 2.2, 2.0
	rockingShare        = 0.06 // of the peak
	tipPerMPS2          = 0.03 // rad/s of tip for each m/s2 of peak
	twistS              = 1.0
	upShare             = 0.2 // vertical push over horizontal
)

// The push of a glove rises as u^1.6 and falls as (1 - u)^3.7 over the contact
// u = 0 to 1: steep, with a long weak end.
const (
	pulseRise, pulseFall = 1.6, 3.7
	pulsePeak            = pulseRise / (pulseRise + pulseFall)
)

// Samples returns the scene's accelerometer and rotation readings in the bag's
// frame.
func (s Scene) Samples(seconds float64) (a, g [][3]float64) {
	n := int(math.Round(seconds * s.RateHz))
	rng := rand.New(rand.NewPCG(s.Seed, 0x5ce4e))
	a, g = make([][3]float64, n), make([][3]float64, n)
	for i := range n {
		t := float64(i) / s.RateHz
		z, up, rock, spin := s.motion(t)
		a[i] = [3]float64{imag(z) + s.RestA[0], real(z) + s.RestA[1], dataset.StandardGravity + up + s.RestA[2]}
		g[i] = [3]float64{-real(rock) + s.RestG[0], imag(rock) + s.RestG[1], spin + s.RestG[2]}
		for k := range 3 {
			a[i][k] += s.NoiseMPS2 * rng.NormFloat64()
			g[i][k] += s.NoiseMPS2 / 20 * rng.NormFloat64()
		}
	}
	for _, b := range s.Blips {
		first := int(math.Round(b.AtS * s.RateHz))
		for i := first; i < min(n, first+b.Samples); i++ {
			for k := range 3 {
				a[i][k] += b.Add[k]
			}
		}
	}
	if s.ClipMPS2 > 0 {
		for i := range a {
			for k := range 3 {
				a[i][k] = min(max(a[i][k], -s.ClipMPS2), s.ClipMPS2)
			}
		}
	}
	return a, g
}

// motion is the noiseless reading at time t: horizontal force and rotation as
// y + i x, vertical force, turn.
func (s Scene) motion(t float64) (z complex128, up float64, rock complex128, spin float64) {
	for _, b := range s.Blows {
		dt := t - b.AtS
		if dt < 0 {
			continue
		}
		contact := b.ContactMs / 1000
		if contact == 0 {
			contact = 0.020
		}
		push := -bearing.Unit(b.BearingDeg) * complex(b.PeakMPS2, 0)
		done := min(dt/contact, 1) // share of the contact that is over
		pulse := 0.0
		if dt < contact {
			u := dt / contact
			pulse = math.Pow(u/pulsePeak, pulseRise) * math.Pow((1-u)/(1-pulsePeak), pulseFall)
		}
		ring := math.Exp(-dt/rockingS) * rockingShare
		z += push * complex(pulse-ring*math.Sin(2*math.Pi*rockingHz*dt), 0)
		up += upShare * b.PeakMPS2 * pulse
		turned := (1 - math.Cos(math.Pi*done)) / 2
		rock += push * complex(tipPerMPS2*turned*math.Exp(-dt/rockingS)*math.Cos(2*math.Pi*rockingHz*dt), 0)
		spin += b.TwistRadps * turned * math.Exp(-dt/twistS)
	}
	for _, h := range s.Shoves {
		dt := (t - h.AtS) / (h.LengthMs / 1000)
		if dt > 0 && dt < 1 {
			z -= bearing.Unit(h.BearingDeg) * complex(h.PeakMPS2*math.Sin(math.Pi*dt), 0)
		}
	}
	for _, w := range s.Swings {
		p := 2 * math.Pi * w.Hz * t
		z += bearing.Unit(w.BearingDeg) * complex(w.MPS2*math.Sin(p), 0)
		rock += bearing.Unit(w.BearingDeg) * complex(w.Radps*math.Cos(p), 0)
	}
	return z, up, rock, spin
}

// Signal returns the scene as a recording of the sensor of a rig: turned into
// its frame, in one segment, on a clock of its rate.
func (s Scene) Signal(r *rig.Rig, seconds float64) *dataset.Signal {
	a, g := s.Samples(seconds)
	m := r.SensorToBag()
	sig := &dataset.Signal{}
	for i := range a {
		t := int64(math.Round(float64(i) * 1e9 / s.RateHz))
		sig.TNs = append(sig.TNs, t)
		sig.TRaw = append(sig.TRaw, t/1000)
		sig.Segment = append(sig.Segment, 0)
		for k := range 3 {
			// The matrix is a rotation: its transpose turns back.
			sig.A[k] = append(sig.A[k], float32(m[0][k]*a[i][0]+m[1][k]*a[i][1]+m[2][k]*a[i][2]))
			if r.HasGyro() {
				sig.G[k] = append(sig.G[k], float32(m[0][k]*g[i][0]+m[1][k]*g[i][1]+m[2][k]*g[i][2]))
			}
		}
	}
	return sig
}

// Rig returns a plain rig of 35 kg whose sensor sits at mid-length, has a
// gyroscope, its x axis toward bearing 90, y toward 0, z up.
func Rig(rateHz float64) *rig.Rig {
	return &rig.Rig{
		Name: "bench", Revision: 1, Faces: 6,
		Bands: []rig.Band{{Name: "low", ToM: 0.33}, {Name: "mid", ToM: 0.67}, {Name: "high"}},
		Bag:   rig.Bag{MassKg: 35, LengthM: 1, DiameterM: 0.35},
		Core:  &rig.Core{MassKg: 19, LengthM: 0.7, DiameterM: 0.14, TopDepthM: 0.15},
		Hang:  rig.Hang{ChainM: 0.48, StrapM: 0.08},
		Sensor: rig.Sensor{
			DepthM: 0.4, RateHz: rateHz, AccelRangeG: 16, GyroRangeDPS: 2000,
			AccelLSBPerG: 2048, GyroLSBPerDPS: 16.4,
			Axes: rig.Axes{X: "90", Y: "0", Z: "up"},
		},
	}
}
