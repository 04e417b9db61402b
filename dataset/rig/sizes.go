package rig

import (
	"fmt"
	"math"
	"strings"
)

// Sizes is what tells one rig from another at first: what a person can answer
// before reading a rig file.
type Sizes struct {
	LengthM, DiameterM, MassKg float64 // of the bag
	ChainM                     float64
	SensorDepthM               float64
	RateHz                     float64
	AccelRangeG                float64
	GyroRangeDPS               float64  // 0: no gyroscope
	Axes                       []string // where x, y and z point: a bearing in degrees, up or down
}

// TemplateSizes are those of Template.
func TemplateSizes() Sizes {
	return Sizes{LengthM: 1, DiameterM: 0.35, MassKg: 35, ChainM: 0.48, SensorDepthM: 0.45, RateHz: 1000, AccelRangeG: 16, GyroRangeDPS: 2000,
		Axes: []string{"90", "0", "up"}}
}

// fullScale is the largest count of a sensor of 16 bits, as nearly all are.
const fullScale = 32768

// Filled is Template with sizes in place, bands of the same shares of the bag,
// and counts as sensors of 16 bits give them where a range differs. What the
// sizes cannot be is an error, as Parse finds it.
func Filled(name string, s Sizes) ([]byte, error) {
	text, was := string(Template(name)), TemplateSizes()
	if len(s.Axes) != 3 {
		return nil, fmt.Errorf("rig %s: %d axes where x, y and z are three", name, len(s.Axes))
	}
	text = strings.Replace(text, `axes = { x = "90", y = "0", z = "up" }`, fmt.Sprintf("axes = { x = %q, y = %q, z = %q }", s.Axes[0], s.Axes[1], s.Axes[2]), 1)
	if s.LengthM != was.LengthM {
		edge := func(share float64) string { return fmt.Sprintf("to_m=%g}", math.Round(100*share*s.LengthM)/100) }
		text = strings.NewReplacer("to_m=0.35}", edge(0.35), "to_m=0.65}", edge(0.65)).Replace(text)
		// The bands may lie beyond the template's length: both change at once.
		text = strings.Replace(text, "length_m = 1.0  ", fmt.Sprintf("length_m = %.3g ", s.LengthM), 1)
		text = strings.Replace(text, "depth_m = 0.45  ", fmt.Sprintf("depth_m = %.3g ", s.SensorDepthM), 1)
	}
	r, err := Parse([]byte(text), name+".toml")
	if err != nil {
		return nil, err
	}
	r.Bag.LengthM, r.Bag.DiameterM, r.Bag.MassKg = s.LengthM, s.DiameterM, s.MassKg
	r.Hang.ChainM = s.ChainM
	r.Sensor.DepthM, r.Sensor.RateHz = s.SensorDepthM, s.RateHz
	if s.AccelRangeG != was.AccelRangeG {
		r.Sensor.AccelRangeG, r.Sensor.AccelLSBPerG = s.AccelRangeG, fullScale/s.AccelRangeG
	}
	switch s.GyroRangeDPS {
	case was.GyroRangeDPS:
	case 0:
		r.Sensor.GyroRangeDPS, r.Sensor.GyroLSBPerDPS = 0, 0
	default:
		r.Sensor.GyroRangeDPS, r.Sensor.GyroLSBPerDPS = s.GyroRangeDPS, fullScale/s.GyroRangeDPS
	}
	if err := r.Validate(); err != nil {
		return nil, err
	}
	return Rewrite([]byte(text), name+".toml", r)
}
