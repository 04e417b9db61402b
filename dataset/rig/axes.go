package rig

import (
	"errors"
	"math"
	"strconv"
	"strings"

	"strikerose/dataset/bearing"
)

// orthogonalTolerance is how far from right angles (as a cosine) the axes may
// be: far more than rounding, far less than any real mounting error.
const orthogonalTolerance = 1e-6

// SensorToBag returns the matrix that turns a vector from the sensor's frame
// into the bag's: the map of Axes, then the mount's yaw, clockwise positive
// seen from above. Row 0 gives the part toward bearing 90, row 1 toward
// bearing 0, row 2 up. The rig must be valid: it panics on axes that Parse
// refuses.
func (r *Rig) SensorToBag() [3][3]float64 {
	m, err := r.Sensor.Axes.Matrix()
	if err != nil {
		panic("rig: " + err.Error())
	}
	s, c := math.Sincos(bearing.Rad(r.Sensor.YawDeg))
	var out [3][3]float64
	for k := range 3 {
		x, y := m[0][k], m[1][k]
		out[0][k] = clean(x*c + y*s)
		out[1][k] = clean(y*c - x*s)
		out[2][k] = m[2][k]
	}
	return out
}

// clean makes the rounding error of a right angle exactly 0.
func clean(v float64) float64 {
	if math.Abs(v) < 1e-15 {
		return 0
	}
	return v
}

// Matrix returns the rotation from sensor axes to bag axes before yaw. Axes
// that are not perpendicular or make a left-handed frame are an error.
func (a Axes) Matrix() ([3][3]float64, error) {
	var m [3][3]float64
	var faults []error
	for k, s := range []string{a.X, a.Y, a.Z} {
		v, ok := direction(s)
		if !ok {
			key := "xyz"[k : k+1]
			faults = append(faults, complain(key, "give up, down or a bearing in degrees such as \"90\"", "axis %s: %q is no direction", key, s))
		}
		for i := range 3 {
			m[i][k] = v[i]
		}
	}
	if faults != nil {
		return m, errors.Join(faults...)
	}
	column := func(k int) [3]float64 { return [3]float64{m[0][k], m[1][k], m[2][k]} }
	x, y, z := column(0), column(1), column(2)
	for _, p := range []struct {
		name string
		dot  float64
	}{{"x and y", dot(x, y)}, {"x and z", dot(x, z)}, {"y and z", dot(y, z)}} {
		if math.Abs(p.dot) > orthogonalTolerance {
			return m, complain("", "one axis points up or down and the bearings of the other two differ by 90", "axes %s are not perpendicular", p.name)
		}
	}
	if dot(cross(x, y), z) < 0 {
		return m, complain("", "turn one axis round; with z up, y lies 90 degrees anticlockwise of x seen from above (x \"90\", y \"0\")",
			"axes x, y and z make a left-handed frame, which no sensor has")
	}
	return m, nil
}

// direction parses where an axis points: "up", "down" or a bearing in degrees.
func direction(s string) (v [3]float64, ok bool) {
	switch t := strings.TrimSpace(s); t {
	case "up":
		return [3]float64{0, 0, 1}, true
	case "down":
		return [3]float64{0, 0, -1}, true
	default:
		deg, err := strconv.ParseFloat(t, 64)
		if err != nil || math.IsNaN(deg) || math.IsInf(deg, 0) {
			return v, false
		}
		u := bearing.Unit(bearing.Wrap360(deg))
		return [3]float64{imag(u), real(u), 0}, true
	}
}

func vecOf(a [3]float64) Vec { return Vec{a[0], a[1], a[2]} }

func dot(a, b [3]float64) float64 { return vecOf(a).Dot(vecOf(b)) }

func cross(a, b [3]float64) [3]float64 {
	c := vecOf(a).Cross(vecOf(b))
	return [3]float64{c.X, c.Y, c.Z}
}
