package chain

import (
	"math"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// clipShare of the accelerometer's range counts as its limit: full scale in
// counts is one step short of the range, and logs in g round the last digit.
const clipShare = 0.999

// axes turns readings from the sensor's frame to the bag's: the calibration
// where the rig has one, the axis map, then the nominal yaw of the mount. It
// notes clipped readings, which show only on the sensor's own axes as read. A
// reading that is no number is taken as the last.
type axes struct {
	accel, turning rig.Turn
	clip           float64 // m/s2
	clipBits       uint32  // of the least float32 that is clip or more
	gyro           bool
	a, g           [3]float64 // last readings, sensor frame
}

func newAxes(r *rig.Rig) axes {
	clip := clipShare * r.Sensor.AccelRangeG * dataset.StandardGravity
	return axes{
		accel:    r.AccelTurn(),
		turning:  r.GyroTurn(),
		clip:     clip,
		clipBits: bitsFrom(clip),
		gyro:     r.HasGyro(),
	}
}

func (x *axes) turn(s dataset.Sample) cell {
	var y cell
	y.t = s.TNs
	y.flags = keep(&x.a, s.A)
	for k := range s.A {
		if math.Abs(x.a[k]) >= x.clip {
			y.flags |= clipped
		}
	}
	y.a = x.accel.Bag(x.a)
	if x.gyro {
		y.flags |= keep(&x.g, s.G)
		y.g = x.turning.Bag(x.g)
	}
	return y
}

// keep copies the readings that are numbers and tells whether all were.
func keep(to *[3]float64, from [3]float64) (f flags) {
	for k, v := range from {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			f = filled
			continue
		}
		to[k] = v
	}
	return f
}
