package simulate

import (
	"fmt"
	"math"
	"math/rand/v2"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// Sensor is what a real sensor does to the readings, in this order: mount and
// slant, scale and bias, low-pass, noise, blips, limits, whole counts. The zero
// value is a faultless sensor without limits, but for what the rig's [calibration]
// corrects, which it gets wrong.
type Sensor struct {
	YawErrorDeg     float64 // of the mount against the rig's yaw_deg, clockwise
	SlantDeg        float64 // of the core, by which the sensor's upper side leans
	SlantBearingDeg float64 // toward this bearing

	AccelScale, GyroScale          [3]float64 // share by which an axis reads too much
	AccelBiasMPS2, GyroBiasRadps   [3]float64 // sensor axes
	AccelNoiseMPS2, GyroNoiseRadps float64    // white, standard deviation of one reading
	LowPassHz                      float64    // corner, below half the rate; 0: none
	LowPassOrder                   int        // 1, or 2 (Butterworth)
	BlipsPerMin                    float64    // spikes of 1 to 3 samples
	Clip                           bool       // at the rig's ranges
	Counts                         bool       // whole counts, where the rig says how many make a unit
	NoGyro                         bool       // though the rig has one
}

// Usual noise of present-day sensors and their errors when fresh from the reel;
// choices within the data sheets of common parts, without one source.
const (
	usualAccelNoise = 0.06  // m/s2
	usualGyroNoise  = 0.003 // rad/s
)

// UsualSensor has usual noise (or the rig's), small biases, clips and counts.
func UsualSensor(r *rig.Rig) Sensor {
	s := Sensor{
		AccelNoiseMPS2: usualAccelNoise, GyroNoiseRadps: usualGyroNoise,
		AccelBiasMPS2: [3]float64{0.1, -0.08, 0.12}, GyroBiasRadps: [3]float64{0.01, -0.008, 0.005},
		BlipsPerMin: 1, Clip: true, Counts: true,
	}
	if r.Sensor.AccelNoiseMPS2 > 0 {
		s.AccelNoiseMPS2 = r.Sensor.AccelNoiseMPS2
	}
	return s
}

func (s Sensor) check(r *rig.Rig) error {
	values := []float64{s.YawErrorDeg, s.SlantDeg, s.SlantBearingDeg, s.AccelNoiseMPS2, s.GyroNoiseRadps, s.BlipsPerMin}
	for k := range 3 {
		values = append(values, s.AccelScale[k], s.GyroScale[k], s.AccelBiasMPS2[k], s.GyroBiasRadps[k])
	}
	switch {
	case !finite(values...):
		return fmt.Errorf("simulate: sensor: %+v: give numbers only", s)
	case !(s.AccelNoiseMPS2 >= 0 && s.GyroNoiseRadps >= 0 && s.BlipsPerMin >= 0):
		return fmt.Errorf("simulate: sensor: noise %g m/s², %g rad/s, %g blips a minute: none may be below 0", s.AccelNoiseMPS2, s.GyroNoiseRadps, s.BlipsPerMin)
	case s.LowPassHz != 0 && !(s.LowPassHz > 0 && s.LowPassHz < r.Sensor.RateHz/2):
		return fmt.Errorf("simulate: sensor: low-pass at %g Hz: give a corner above 0 and below half the rate of %g Hz, or none", s.LowPassHz, r.Sensor.RateHz)
	case s.LowPassHz != 0 && s.LowPassOrder != 1 && s.LowPassOrder != 2:
		return fmt.Errorf("simulate: sensor: low-pass of order %d: give 1 or 2", s.LowPassOrder)
	}
	return nil
}

// converter is a sensor at work.
type converter struct {
	s    Sensor
	gyro bool
	low  [6]lowPass

	accelMount, gyroMount rig.Turn

	accel    limits
	rate     limits
	noise    *rand.Rand
	blips    *rand.Rand
	blipEach float64 // chance that one begins with a sample
	blipLeft int
	blip     [3]float64
}

// limits of a quantity and its step; 0 where there is none.
type limits struct{ least, most, step float64 }

func newConverter(o Options) *converter {
	r := o.Rig
	c := &converter{
		s: o.Sensor, gyro: r.HasGyro() && !o.Sensor.NoGyro,
		noise: rand.New(rand.NewPCG(o.Seed, streamNoise)), blips: rand.New(rand.NewPCG(o.Seed, streamBlips)),
		blipEach: o.Sensor.BlipsPerMin / 60 / r.Sensor.RateHz,
	}
	c.accel = newLimits(o.Sensor, r.Sensor.AccelRangeG, r.Sensor.AccelLSBPerG, dataset.StandardGravity)
	c.rate = newLimits(o.Sensor, r.Sensor.GyroRangeDPS, r.Sensor.GyroLSBPerDPS, bearing.Rad(1))
	mount := *r
	mount.Sensor.YawDeg += o.Sensor.YawErrorDeg
	slant := lean(o.Sensor.SlantDeg, o.Sensor.SlantBearingDeg)
	c.accelMount = onto(mount.AccelTurn(), slant)
	c.gyroMount = onto(mount.GyroTurn(), slant)
	for k := range c.low {
		c.low[k] = newLowPass(o.Sensor.LowPassHz, r.Sensor.RateHz, o.Sensor.LowPassOrder)
	}
	return c
}

// onto puts a sensor onto a core that leans.
func onto(t rig.Turn, slant [3][3]float64) rig.Turn {
	var back [3][3]float64
	for k := range 3 {
		for i := range 3 {
			for j := range 3 {
				back[k][i] += t.Back[k][j] * slant[i][j]
			}
		}
	}
	t.Back = back
	return t
}

// lean is the rotation that takes up to a direction deg away from it, toward a
// bearing.
func lean(deg, toward float64) [3][3]float64 {
	s, c := math.Sincos(bearing.Rad(deg))
	u := bearing.Unit(toward)
	x, y := imag(u), real(u)
	return [3][3]float64{
		{1 - x*x*(1-c), -x * y * (1 - c), s * x},
		{-x * y * (1 - c), 1 - y*y*(1-c), s * y},
		{-s * x, -s * y, c},
	}
}

// fullScale is the largest count of the 16-bit converters of nearly all of
// these sensors. Their data sheets round the counts per unit, so that range
// times counts may come out a little above it.
const fullScale = 32768

func newLimits(s Sensor, span, perUnit, unit float64) limits {
	l := limits{math.Inf(-1), math.Inf(1), 0}
	if s.Clip {
		l.least, l.most = -span*unit, span*unit
	}
	if s.Counts && perUnit > 0 {
		l.step = unit / perUnit
		if s.Clip {
			n := math.Round(span * perUnit)
			if math.Abs(n-fullScale) < fullScale/100 {
				n = fullScale
			}
			l.least, l.most = -n*l.step, (n-1)*l.step
		}
	}
	return l
}

func (l limits) apply(v float64) float64 {
	v = min(max(v, l.least), l.most)
	if l.step > 0 {
		v = math.RoundToEven(v/l.step) * l.step
	}
	return v
}

// convert turns true readings in the bag's frame into what the sensor gives.
func (c *converter) convert(a, g [3]float64) (outA, outG [3]float64) {
	s := &c.s
	c.nextBlip()
	a = c.accelMount.Reading(a)
	for k, v := range a {
		v = c.low[k].next(v*(1+s.AccelScale[k])+s.AccelBiasMPS2[k]) + c.blip[k]
		if s.AccelNoiseMPS2 > 0 {
			v += s.AccelNoiseMPS2 * c.noise.NormFloat64()
		}
		outA[k] = c.accel.apply(v)
	}
	if !c.gyro {
		return outA, outG
	}
	g = c.gyroMount.Reading(g)
	for k, v := range g {
		v = c.low[3+k].next(v*(1+s.GyroScale[k]) + s.GyroBiasRadps[k])
		if s.GyroNoiseRadps > 0 {
			v += s.GyroNoiseRadps * c.noise.NormFloat64()
		}
		outG[k] = c.rate.apply(v)
	}
	return outA, outG
}

// blipMPS2 is how far a blip may go on an axis.
const blipMPS2 = 60

// nextBlip begins, keeps or ends a spike.
func (c *converter) nextBlip() {
	if c.blipEach == 0 {
		return
	}
	if c.blipLeft > 0 {
		c.blipLeft--
	} else if c.blips.Float64() < c.blipEach {
		c.blipLeft = c.blips.IntN(3)
		for k := range c.blip {
			c.blip[k] = blipMPS2 * (2*c.blips.Float64() - 1)
		}
	} else {
		c.blip = [3]float64{}
	}
}

// lowPass is a digital low-pass filter made by the bilinear transform with its
// corner kept (textbook), that starts at rest on its first value.
type lowPass struct {
	b0, b1, b2, a1, a2 float64
	x1, x2, y1, y2     float64
	begun, none        bool
}

func newLowPass(cornerHz, rateHz float64, order int) lowPass {
	if cornerHz == 0 {
		return lowPass{none: true}
	}
	w := math.Tan(math.Pi * cornerHz / rateHz)
	if order == 1 {
		return lowPass{b0: w / (1 + w), b1: w / (1 + w), a1: (w - 1) / (w + 1)}
	}
	d := 1 + math.Sqrt2*w + w*w
	return lowPass{b0: w * w / d, b1: 2 * w * w / d, b2: w * w / d, a1: 2 * (w*w - 1) / d, a2: (1 - math.Sqrt2*w + w*w) / d}
}

func (f *lowPass) next(x float64) float64 {
	if f.none {
		return x
	}
	if !f.begun {
		f.begun = true
		f.x1, f.x2, f.y1, f.y2 = x, x, x, x
	}
	y := f.b0*x + f.b1*f.x1 + f.b2*f.x2 - f.a1*f.y1 - f.a2*f.y2
	f.x2, f.x1, f.y2, f.y1 = f.x1, x, f.y1, y
	return y
}
