package corpus

import (
	"context"
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

func encodeSamples(ctx context.Context, s *dataset.Session, sig *dataset.Signal) ([]byte, error) {
	n := sig.Len()
	data := []any{sig.TNs, sig.TRaw, sig.Segment}
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
	return samplesTable().encode(ctx, s, data, map[string]string{hasGyroKey: strconv.FormatBool(sig.HasGyro())})
}

// decodeSamples reads a samples part. The rig and session columns, which hold
// the same text in every row, are left to check.
func decodeSamples(ctx context.Context, file []byte) (sig *dataset.Signal, d *decoded, err error) {
	skip := []string{"rig", "session"}
	if !hasGyro(file) {
		skip = append(skip, "gx_radps", "gy_radps", "gz_radps")
	}
	d, err = samplesTable().decode(ctx, file, skip...)
	if err != nil {
		return nil, nil, err
	}
	sig = &dataset.Signal{
		TNs:     d.columns[colTNs].([]int64),
		TRaw:    d.columns[colTRaw].([]int64),
		Segment: d.columns[colSegment].([]int32),
	}
	for k := range 3 {
		sig.A[k] = d.columns[colAccel+k].([]float32)
		sig.G[k], _ = d.columns[colGyro+k].([]float32)
	}
	return sig, d, nil
}

// hasGyro looks only at the metadata; a file that cannot be opened has none.
func hasGyro(file []byte) (has bool) {
	var err error
	defer func() { has = has && err == nil }()
	defer recovered(&err)
	f, err := openParquet(file)
	if err != nil {
		return false
	}
	return metadataOf(f)[hasGyroKey] == "true"
}

// checkSignal verifies what every reader of a session may rely on, and that
// the row tells the truth about it.
func checkSignal(s *dataset.Session, sig *dataset.Signal) error {
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
	switch {
	case n == 0:
		return errors.New("no samples")
	case s.Samples != int64(n):
		return fmt.Errorf("%d samples where the session row states %d", n, s.Samples)
	case s.HasGyro != sig.HasGyro():
		return fmt.Errorf("gyroscope %t where the session row states %t", sig.HasGyro(), s.HasGyro)
	case sig.Segment[0] != 0:
		return fmt.Errorf("the first segment is numbered %d, want 0", sig.Segment[0])
	}
	for i := 1; i < n; i++ {
		step := sig.Segment[i] - sig.Segment[i-1]
		if step != 0 && step != 1 {
			return fmt.Errorf("sample %d: segment %d follows %d", i, sig.Segment[i], sig.Segment[i-1])
		}
		if sig.TNs[i] < sig.TNs[i-1] || sig.TNs[i] == sig.TNs[i-1] && step == 0 {
			return fmt.Errorf("sample %d: t_ns %d follows %d", i, sig.TNs[i], sig.TNs[i-1])
		}
	}
	if segments := int(sig.Segment[n-1]) + 1; s.Segments != segments {
		return fmt.Errorf("%d segments where the session row states %d", segments, s.Segments)
	}
	for k, name := range []string{"ax_mps2", "ay_mps2", "az_mps2", "gx_radps", "gy_radps", "gz_radps"} {
		values := sig.G[k%3]
		if k < 3 {
			values = sig.A[k]
		}
		for i, v := range values {
			if v := float64(v); math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("sample %d: %s is %v", i, name, v)
			}
		}
	}
	return nil
}
