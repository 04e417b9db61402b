// Package dataset holds the vocabulary that every other package shares:
// samples, sessions, segments, strikes and windows, in SI units.
//
// A session is one continuous recording on one revision of a rig, by one
// striker. A segment is a stretch of it without restart or missing samples; a
// filter never crosses a segment's end. Samples are kept as the sensor gave
// them, in its own frame; windows are in the bag's frame.
package dataset

import (
	"strings"

	"strikerose/dataset/rig"
)

// StandardGravity is one g in metres per second squared (3rd CGPM, 1901).
const StandardGravity = rig.StandardGravityMPS2

// UnitText is a unit as people read it: files and flags write squares without
// their sign, as in m/s2.
func UnitText(unit string) string { return strings.Replace(unit, "s2", "s²", 1) }

// Sample is one reading in the sensor's own frame.
type Sample struct {
	TNs     int64      // repaired clock: nanoseconds since the session's first sample
	A       [3]float64 // specific force along x, y, z in m/s2
	G       [3]float64 // rotation rate about x, y, z in rad/s; ignored without a gyroscope
	Segment int32      // number of the segment, from 0
}

// Signal holds a stretch of samples by column. All columns are equally long;
// the gyroscope's are nil where there is none.
type Signal struct {
	TNs     []int64      // repaired clock, nanoseconds since the session's first sample, strictly increasing in a segment
	TRaw    []int64      // the board's own stamp, in the log's time unit (fractions of it are kept as thousandths: see Session.RawPerSecond)
	A       [3][]float32 // m/s2
	G       [3][]float32 // rad/s
	Segment []int32
}

// Len is the number of samples.
func (s *Signal) Len() int { return len(s.TNs) }

// HasGyro tells whether the rotation-rate columns are there.
func (s *Signal) HasGyro() bool { return s.G[0] != nil }

// At returns sample i.
func (s *Signal) At(i int) Sample {
	x := Sample{TNs: s.TNs[i], Segment: s.Segment[i]}
	for k := range 3 {
		x.A[k] = float64(s.A[k][i])
		if s.G[k] != nil {
			x.G[k] = float64(s.G[k][i])
		}
	}
	return x
}

// Slice returns samples i to j, sharing memory with s.
func (s *Signal) Slice(i, j int) Signal {
	t := Signal{TNs: s.TNs[i:j], TRaw: s.TRaw[i:j], Segment: s.Segment[i:j]}
	for k := range 3 {
		t.A[k] = s.A[k][i:j]
		if s.G[k] != nil {
			t.G[k] = s.G[k][i:j]
		}
	}
	return t
}

// Span is a half-open range of sample positions.
type Span struct{ Start, End int }

// Segments returns the range of each segment, in order.
func (s *Signal) Segments() []Span {
	var out []Span
	for i := range s.Segment {
		if i == 0 || s.Segment[i] != s.Segment[i-1] {
			out = append(out, Span{Start: i})
		}
		out[len(out)-1].End = i + 1
	}
	return out
}
