package intake

import (
	"fmt"
	"math"
	"strings"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// quantity is what a unit is of.
type quantity int

const (
	ofTime quantity = iota
	ofAccel
	ofGyro
)

// unitOf returns the project's name of a unit as logs and users spell it.
func unitOf(k quantity, s string) (string, bool) {
	s = strings.ToLower(strings.TrimSpace(s))
	switch k {
	case ofTime:
		switch s {
		case "us", "usec", "µs", "μs", "micros", "microseconds":
			return "us", true
		case "ms", "msec", "millis", "milliseconds":
			return "ms", true
		case "s", "sec", "secs", "seconds":
			return "s", true
		}
	case ofAccel:
		switch s {
		case "g", "mg":
			return s, true
		case "m/s2", "m/s^2", "m/s²", "mps2", "ms2", "m/s/s":
			return "m/s2", true
		}
	case ofGyro:
		switch s {
		case "dps", "deg/s", "degs", "degps", "°/s":
			return "dps", true
		case "rad/s", "rads", "radps":
			return "rad/s", true
		}
	}
	switch s {
	case "counts", "count", "lsb", "raw":
		return "counts", k != ofTime
	}
	return "", false
}

// knownUnits lists a quantity's units for messages.
func knownUnits(k quantity) string {
	return [...]string{"us, ms or s", "counts, g, mg or m/s2", "counts, dps or rad/s"}[k]
}

// unitsPerSecond returns how many of a time unit make a second.
func unitsPerSecond(unit string) float64 {
	switch unit {
	case "us":
		return 1e6
	case "ms":
		return 1e3
	}
	return 1
}

// accelScale returns the metres per second squared in one unit; 0 where the
// rig does not say how many counts make a g.
func accelScale(unit string, rg *rig.Rig) float64 {
	switch unit {
	case "g":
		return dataset.StandardGravity
	case "mg":
		return dataset.StandardGravity / 1000
	case "m/s2":
		return 1
	}
	if rg.Sensor.AccelLSBPerG > 0 {
		return dataset.StandardGravity / rg.Sensor.AccelLSBPerG
	}
	return 0
}

// gyroScale returns the radians per second in one unit; 0 where the rig does
// not say how many counts make a degree per second.
func gyroScale(unit string, rg *rig.Rig) float64 {
	switch unit {
	case "dps":
		return bearing.Rad(1)
	case "rad/s":
		return 1
	}
	if rg.Sensor.GyroLSBPerDPS > 0 {
		return bearing.Rad(1) / rg.Sensor.GyroLSBPerDPS
	}
	return 0
}

// The still reading must lie between these, in g. Cheap sensors are off by up
// to a tenth or two through bias and scale; wrong units and wrong counts a g
// are off by factors of two and more.
const (
	leastStillG = 0.8
	mostStillG  = 1.25
)

// chosen is a unit and how it was come by.
type chosen struct {
	unit string
	from string // "--accel-unit", "the header", "the rig file", or "" where guessed
}

// choose takes the first unit that is stated: by an option, by the log's own
// names, by the rig file.
func choose(k quantity, option, named, hint string) (chosen, error) {
	flag := [...]string{"--time-unit", "--accel-unit", "--gyro-unit"}[k]
	if option != "" {
		u, ok := unitOf(k, option)
		if !ok {
			return chosen{}, fmt.Errorf("%s %q is not known: use %s", flag, option, knownUnits(k))
		}
		return chosen{u, flag}, nil
	}
	if named != "" {
		return chosen{named, "the log's own names"}, nil
	}
	if hint != "" {
		u, ok := unitOf(k, hint)
		if !ok {
			return chosen{}, fmt.Errorf("[log] unit %q of the rig file is not known: use %s", hint, knownUnits(k))
		}
		return chosen{u, "the rig file"}, nil
	}
	return chosen{}, nil
}

// chooseAccel settles the accelerometer's unit. The still reading, in the
// log's own unit, decides where nothing states one, starting with the
// dialect's habit, and checks what is stated.
func chooseAccel(c chosen, habit string, still float64, rg *rig.Rig) (unit, guess string, err error) {
	inG := func(u string) float64 { return still * accelScale(u, rg) / dataset.StandardGravity }
	fits := func(u string) bool { g := inG(u); return g >= leastStillG && g <= mostStillG }
	if c.unit == "counts" && rg.Sensor.AccelLSBPerG == 0 {
		return "", "", fmt.Errorf("accelerations are in counts (so %s says), but rig %s gives no accel_lsb_per_g: add it to [sensor]", c.from, rg.Key())
	}
	if c.unit != "" {
		if fits(c.unit) {
			return c.unit, "", nil
		}
		reads := fmt.Sprintf("%.4g %s", still, c.unit)
		if c.unit != "g" {
			reads += fmt.Sprintf(" = %.4g g", inG(c.unit))
		}
		return "", "", fmt.Errorf("at rest the accelerometer reads %s, which is not near 1 g: %s", reads, c.remedy(still, rg))
	}
	for _, u := range []string{habit, "counts", "g", "mg", "m/s2"} {
		if fits(u) {
			return u, fmt.Sprintf("accelerations are in %s: at rest the log reads %.4g, which makes %.3f g", u, still, inG(u)), nil
		}
	}
	return "", "", fmt.Errorf("at rest the accelerometer reads %.4g, which is near 1 g in none of the units: %s", still, c.remedy(still, rg))
}

// remedy says how a still reading that is not near 1 g can be mended.
func (c chosen) remedy(still float64, rg *rig.Rig) string {
	for _, u := range []string{"g", "mg", "m/s2", "counts"} {
		if g := still * accelScale(u, rg) / dataset.StandardGravity; u != c.unit && g >= leastStillG && g <= mostStillG {
			return fmt.Sprintf("it would be in %s: say --accel-unit %s", u, u)
		}
	}
	if c.unit == "counts" || c.unit == "" {
		return fmt.Sprintf("state --accel-unit, or correct accel_lsb_per_g of the rig (it is %g; %.0f would fit)", rg.Sensor.AccelLSBPerG, still)
	}
	return "state the right --accel-unit"
}

// upright checks that the still reading points up in the bag's frame.
func upright(still [3]float64, rg *rig.Rig) error {
	const mostDeg = 20
	m := rg.SensorToBag()
	up := m[2][0]*still[0] + m[2][1]*still[1] + m[2][2]*still[2]
	size := math.Sqrt(still[0]*still[0] + still[1]*still[1] + still[2]*still[2])
	if size == 0 || up >= size*math.Cos(bearing.Rad(mostDeg)) {
		return nil
	}
	off := bearing.Deg(math.Acos(max(-1, min(1, up/size))))
	axis := 0
	for k := range 3 {
		if math.Abs(still[k]) > math.Abs(still[axis]) {
			axis = k
		}
	}
	way := "up"
	if still[axis] < 0 {
		way = "down"
	}
	return fmt.Errorf("at rest the reading points %.0f degrees away from up as the rig's axes have it; the sensor's %c axis seems to point %s: correct axes in rig %s, or import with the rig file that this log was made on", off, "xyz"[axis], way, rg.Key())
}
