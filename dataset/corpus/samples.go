package corpus

import (
	"errors"
	"fmt"
	"math"
	"strconv"

	"strikerose/dataset"
)

const hasGyroKey = "has_gyro"

// samplesTable has one row a reading, as the sensor gave it, in SI units.
func samplesTable() *table {
	return &table{name: "samples", frame: "sensor", columns: append(identity(),
		column{name: "t_ns", kind: kindInt64, delta: true, unit: "ns", doc: "repaired clock, since the session's first sample"},
		column{name: "t_raw", kind: kindInt64, delta: true, doc: "the board's own stamp; raw_per_second of the sessions table tells its unit"},
		column{name: "segment", kind: kindInt32, doc: "stretch without restart or missing samples, from 0"},
		column{name: "ax_mps2", kind: kindFloat32, unit: "m/s2", doc: "specific force along the sensor's x"},
		column{name: "ay_mps2", kind: kindFloat32, unit: "m/s2", doc: "specific force along the sensor's y"},
		column{name: "az_mps2", kind: kindFloat32, unit: "m/s2", doc: "specific force along the sensor's z"},
		column{name: "gx_radps", kind: kindFloat32, optional: true, unit: "rad/s", doc: "rotation rate about the sensor's x; null without a gyroscope"},
		column{name: "gy_radps", kind: kindFloat32, optional: true, unit: "rad/s", doc: "rotation rate about the sensor's y; null without a gyroscope"},
		column{name: "gz_radps", kind: kindFloat32, optional: true, unit: "rad/s", doc: "rotation rate about the sensor's z; null without a gyroscope"},
	)}
}

// Positions in the samples table.
const (
	colTNs = iota + 2
	colTRaw
	colSegment
	colAccel
	colGyro = colAccel + 3
)

// samplesMeta is the metadata of a samples part.
func samplesMeta(rig, session string, gyro bool) []keyValue {
	return append(owner(rig, session), keyValue{hasGyroKey, strconv.FormatBool(gyro)})
}

// sampleColumns are the columns of a stretch of a session's samples, in the
// table's order.
func sampleColumns(rig, session string, sig *dataset.Signal) []any {
	n := sig.Len()
	data := []any{repeated{rig, n}, repeated{session, n}, sig.TNs, sig.TRaw, sig.Segment}
	for k := range 3 {
		data = append(data, sig.A[k])
	}
	for k := range 3 {
		if sig.HasGyro() {
			data = append(data, sig.G[k])
		} else {
			data = append(data, absent{n})
		}
	}
	return data
}

// signalCheck verifies a session's samples stretch by stretch.
type signalCheck struct {
	gyro    bool
	n       int64
	lastNs  int64
	segment int32
}

// add verifies the next stretch: its columns, order and values.
func (c *signalCheck) add(sig *dataset.Signal) error {
	n := sig.Len()
	lengths := []int{len(sig.TRaw), len(sig.Segment), len(sig.A[0]), len(sig.A[1]), len(sig.A[2])}
	if sig.HasGyro() {
		lengths = append(lengths, len(sig.G[0]), len(sig.G[1]), len(sig.G[2]))
	}
	for _, l := range lengths {
		if l != n {
			return fmt.Errorf("columns of %d and %d samples", n, l)
		}
	}
	if n == 0 {
		return nil
	}
	if sig.HasGyro() != c.gyro {
		return fmt.Errorf("gyroscope %t, want %t as before", sig.HasGyro(), c.gyro)
	}
	if c.n == 0 {
		if sig.Segment[0] != 0 {
			return fmt.Errorf("the first segment is numbered %d, want 0", sig.Segment[0])
		}
		c.lastNs = math.MinInt64
	}
	lastNs, segment := c.lastNs, c.segment
	for i, tNs := range sig.TNs {
		step := sig.Segment[i] - segment
		if step != 0 && step != 1 {
			return fmt.Errorf("sample %d: segment %d follows %d", c.n+int64(i), sig.Segment[i], segment)
		}
		if tNs < lastNs || tNs == lastNs && step == 0 {
			return fmt.Errorf("sample %d: t_ns %d follows %d", c.n+int64(i), tNs, lastNs)
		}
		lastNs, segment = tNs, sig.Segment[i]
	}
	for k, name := range []string{"ax_mps2", "ay_mps2", "az_mps2", "gx_radps", "gy_radps", "gz_radps"} {
		values := sig.G[k%3]
		if k < 3 {
			values = sig.A[k]
		}
		for i, v := range values {
			if v-v != 0 { // not a number, or infinite
				return fmt.Errorf("sample %d: %s is %v", c.n+int64(i), name, v)
			}
		}
	}
	c.n, c.lastNs, c.segment = c.n+int64(n), lastNs, segment
	return nil
}

// finish verifies the row against all that was added.
func (c *signalCheck) finish(s *dataset.Session) error {
	segments := int(c.segment) + 1
	switch {
	case c.n == 0:
		return errors.New("no samples")
	case s.Samples != c.n:
		return fmt.Errorf("%d samples where the session row states %d", c.n, s.Samples)
	case s.HasGyro != c.gyro:
		return fmt.Errorf("gyroscope %t where the session row states %t", c.gyro, s.HasGyro)
	case s.Segments != segments:
		return fmt.Errorf("%d segments where the session row states %d", segments, s.Segments)
	}
	return nil
}
