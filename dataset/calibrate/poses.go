package calibrate

import (
	"math"

	"strikerose/dataset/bearing"
)

// Pose is one way in which the sensor lay still.
type Pose struct {
	Face    string     `json:"face,omitempty"` // axis that points up, one of +x, -x, +y, -y, +z or -z; absent where none does
	Seconds float64    `json:"seconds"`        // how long it lay so, at least 0
	Accel   [3]float64 `json:"accel_mps2"`     // mean reading of the x, y and z axis, m/s²
}

const (
	samePoseDeg = 3.0  // between readings of one pose at most
	faceDeg     = 15.0 // of a face's axis from the vertical at most
)

// Poses gathers still stretches into poses, in the order in which they first
// appear, so that a pose that was held twice counts once. Nearest faces are
// named.
func Poses(stills []Still) []Pose {
	var out []Pose
	for _, s := range stills {
		at := -1
		for i, p := range out {
			if angleDeg(p.Accel, s.Accel) < samePoseDeg {
				at = i
				break
			}
		}
		if at < 0 {
			out = append(out, Pose{})
			at = len(out) - 1
		}
		p := &out[at]
		p.Seconds += s.Seconds
		for k := range p.Accel {
			p.Accel[k] += (s.Accel[k] - p.Accel[k]) * s.Seconds / p.Seconds
		}
	}
	for i := range out {
		out[i].Face = face(out[i].Accel)
	}
	return out
}

var faces = [...]string{"+x", "-x", "+y", "-y", "+z", "-z"}

// up is where up lies on the sensor's axes when a face's axis points up.
func up(face string) (v [3]float64) {
	for i, f := range faces {
		if f == face {
			v[i/2] = float64(1 - 2*(i%2))
		}
	}
	return v
}

// face names the axis that points up, or none.
func face(reading [3]float64) string {
	for _, f := range faces {
		if angleDeg(reading, up(f)) <= faceDeg {
			return f
		}
	}
	return ""
}

func angleDeg(a, b [3]float64) float64 {
	cos := (a[0]*b[0] + a[1]*b[1] + a[2]*b[2]) / (size(a) * size(b))
	return bearing.Deg(math.Acos(min(max(cos, -1), 1)))
}
