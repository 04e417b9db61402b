package rig_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

func mounted(x, y, z string, yawDeg float64) *rig.Rig {
	return &rig.Rig{Sensor: rig.Sensor{Axes: rig.Axes{X: x, Y: y, Z: z}, YawDeg: yawDeg}}
}

// apply turns a vector from the sensor's frame to the bag's.
func apply(m [3][3]float64, v [3]float64) (out [3]float64) {
	for i := range 3 {
		for k := range 3 {
			out[i] += m[i][k] * v[k]
		}
	}
	return out
}

func TestSensorToBag(t *testing.T) {
	for _, c := range []struct {
		rig  *rig.Rig
		want [3][3]float64
	}{
		{mounted("90", "0", "up", 0), [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}},
		// x down, y toward bearing 90, z toward bearing 180.
		{mounted("down", "90", "180", 0), [3][3]float64{{0, 1, 0}, {0, 0, -1}, {-1, 0, 0}}},
		// Turned a quarter clockwise, +y points to bearing 90 and +x to 180.
		{mounted("90", "0", "up", 90), [3][3]float64{{0, 1, 0}, {-1, 0, 0}, {0, 0, 1}}},
		// Upside down.
		{mounted("0", "90", "down", 0), [3][3]float64{{0, 1, 0}, {1, 0, 0}, {0, 0, -1}}},
	} {
		if got := c.rig.SensorToBag(); got != c.want {
			t.Errorf("SensorToBag of %+v = %v, want %v", c.rig.Sensor, got, c.want)
		}
	}
}

func TestYawIsClockwise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		yaw := rapid.Float64Range(-360, 360).Draw(t, "yaw")
		m := mounted("90", "0", "up", yaw).SensorToBag()
		for _, c := range []struct {
			axis [3]float64
			at   float64
		}{{[3]float64{0, 1, 0}, 0}, {[3]float64{1, 0, 0}, 90}} {
			v := apply(m, c.axis)
			if got := bearing.FromVector(v[0], v[1]); math.Abs(bearing.Diff(got, c.at+yaw)) > 1e-9 {
				t.Fatalf("axis %v at yaw %g points to bearing %g, want %g", c.axis, yaw, got, bearing.Wrap360(c.at+yaw))
			}
		}
	})
}

// Whatever the axes, the map is a rotation: columns at right angles, of length
// 1, right-handed.
func TestSensorToBagIsARotation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := rapid.Float64Range(-720, 720).Draw(t, "bearing")
		at := func(off float64) string { return fmt.Sprint(b + off) }
		axes := rapid.SampledFrom([][3]string{
			{at(90), at(0), "up"}, {at(0), at(90), "down"}, {"up", at(90), at(0)}, {at(0), "up", at(90)}, {"down", at(0), at(90)},
		}).Draw(t, "axes")
		r := mounted(axes[0], axes[1], axes[2], rapid.Float64Range(-360, 360).Draw(t, "yaw"))
		if _, err := r.Sensor.Axes.Matrix(); err != nil {
			t.Fatal(err)
		}
		m := r.SensorToBag()
		for i := range 3 {
			for j := range 3 {
				dot, want := 0.0, 0.0
				for k := range 3 {
					dot += m[k][i] * m[k][j]
				}
				if i == j {
					want = 1
				}
				if math.Abs(dot-want) > 1e-12 {
					t.Fatalf("columns %d and %d of %v have product %g", i, j, m, dot)
				}
			}
		}
		det := m[0][0]*(m[1][1]*m[2][2]-m[1][2]*m[2][1]) - m[0][1]*(m[1][0]*m[2][2]-m[1][2]*m[2][0]) + m[0][2]*(m[1][0]*m[2][1]-m[1][1]*m[2][0])
		if math.Abs(det-1) > 1e-12 {
			t.Fatalf("determinant of %v is %g", m, det)
		}
	})
}

func TestAxesRefused(t *testing.T) {
	for _, c := range []struct{ x, y, z, want string }{
		{"0", "90", "up", "left-handed"},
		{"90", "0", "down", "left-handed"},
		{"up", "0", "90", "left-handed"},
		{"90", "90", "up", "x and y are not perpendicular"},
		{"up", "0", "up", "x and z are not perpendicular"},
		{"90", "0.001", "up", "not perpendicular"},
		{"90", "0", "180", "not perpendicular"},
		{"", "0", "up", `axis x: "" is no direction`},
		{"90", "NaN", "up", `axis y: "NaN" is no direction`},
		{"90", "0", "inf", `axis z: "inf" is no direction`},
	} {
		_, err := rig.Axes{X: c.x, Y: c.y, Z: c.z}.Matrix()
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("Matrix of %q, %q, %q gives %v, want an error about %s", c.x, c.y, c.z, err, c.want)
		}
	}
	defer func() {
		if p, _ := recover().(string); !strings.HasPrefix(p, "rig: ") {
			t.Errorf("SensorToBag of bad axes panics with %q, want rig: ...", p)
		}
	}()
	mounted("0", "90", "up", 0).SensorToBag()
}
