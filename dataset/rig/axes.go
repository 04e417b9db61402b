package rig

import (
	"fmt"
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
		out[0][k] = x*c + y*s
		out[1][k] = y*c - x*s
		out[2][k] = m[2][k]
	}
	return out
}

// Matrix returns the rotation from sensor axes to bag axes before yaw. Axes
// that are not perpendicular or make a left-handed frame are an error.
func (a Axes) Matrix() ([3][3]float64, error) {
	var m [3][3]float64
	for k, s := range []string{a.X, a.Y, a.Z} {
		v, err := direction(s)
		if err != nil {
			return m, fmt.Errorf("axis %c: %w", "xyz"[k], err)
		}
		for i := range 3 {
			m[i][k] = v[i]
		}
	}
	column := func(k int) [3]float64 { return [3]float64{m[0][k], m[1][k], m[2][k]} }
	x, y, z := column(0), column(1), column(2)
	for _, p := range []struct {
		name string
		dot  float64
	}{{"x and y", dot(x, y)}, {"x and z", dot(x, z)}, {"y and z", dot(y, z)}} {
		if math.Abs(p.dot) > orthogonalTolerance {
			return m, fmt.Errorf("%s are not perpendicular: one axis points up or down and the bearings of the other two differ by 90", p.name)
		}
	}
	if dot(cross(x, y), z) < 0 {
		return m, fmt.Errorf("x, y and z make a left-handed frame, which no sensor has: turn one axis round (with z up, y lies 90 degrees anticlockwise of x seen from above: x \"90\", y \"0\")")
	}
	return m, nil
}

// direction parses where an axis points: "up", "down" or a bearing in degrees.
func direction(s string) ([3]float64, error) {
	switch t := strings.TrimSpace(s); t {
	case "up":
		return [3]float64{0, 0, 1}, nil
	case "down":
		return [3]float64{0, 0, -1}, nil
	default:
		deg, err := strconv.ParseFloat(t, 64)
		if err != nil || math.IsNaN(deg) || math.IsInf(deg, 0) {
			return [3]float64{}, fmt.Errorf("%q is no direction: give up, down or a bearing in degrees such as \"90\"", s)
		}
		u := bearing.Unit(bearing.Wrap360(deg))
		return [3]float64{imag(u), real(u), 0}, nil
	}
}

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func cross(a, b [3]float64) [3]float64 {
	return [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}
