package features

import (
	"math"
	"math/cmplx"

	"strikerose/features/signal"
)

// Stretches of the pulse, ms after the onset.
const (
	pulseFromMs, pulseToMs = -1, 25 // contact, but for the tail of the longest
	firstToMs              = 12     // of first motion: the onset may be some ms early, and a soft filling first answers with either sign
	widthFromMs, widthToMs = -10, 50
)

// searched is why the features by peak search cannot run on a board.
const searched = "searches the pulse for a peak and its half height, in a number of steps that depends on the signal"

// shape holds what the pulse looks like.
func shape() []feature {
	return []feature{
		{
			Def: Def{Name: "peak", Unit: "m/s2", Doc: "horizontal specific force at its largest size within 25 ms of the onset, less the mean from 25 to 5 ms before it",
				Vector: true, FromMs: beforeFromMs, ToMs: pulseToMs, Macs: 52},
			vector: func(v *view) complex128 { z, _ := v.peak(); return z },
		},
		{
			Def: Def{Name: "first_motion", Unit: "m/s", Doc: "first velocity change: integral of the horizontal specific force, less the mean from 25 to 5 ms before the onset, from -1 to 12 ms",
				Vector: true, FromMs: beforeFromMs, ToMs: firstToMs, Macs: 14},
			vector: (*view).firstMotion,
		},
		{
			Def: Def{Name: "principal_axis", Unit: "m/s2", Doc: "direction in which the horizontal specific force moves most from -1 to 25 ms, pointing along first_motion; its length is the root mean square along it",
				Vector: true, FromMs: beforeFromMs, ToMs: pulseToMs, Macs: 104},
			vector: func(v *view) complex128 { z, _ := v.principal(); return z },
		},
		{
			Def: Def{Name: "rectilinearity", Unit: "", Doc: "how nearly the horizontal specific force moves on a line from -1 to 25 ms: 1 less the ratio of the smaller to the larger mean square (Jurkevics 1988), 1 on a line, 0 on a circle",
				FromMs: beforeFromMs, ToMs: pulseToMs, Macs: 1},
			scalar: func(v *view) float64 { _, r := v.principal(); return r },
		},
		{
			Def: Def{Name: "rise_ms", Unit: "ms", Doc: "time from a tenth to nine tenths of the push's height, along its principal axis; 0 where there is no peak",
				FromMs: beforeFromMs, ToMs: widthToMs, NotBoard: searched, Macs: 120},
			scalar: func(v *view) float64 { v.pulse(); return v.riseMs },
		},
		{
			Def: Def{Name: "contact_ms", Unit: "ms", Doc: "width of the push at half its prominence, along its principal axis; 0 where there is no peak",
				FromMs: beforeFromMs, ToMs: widthToMs, NotBoard: searched, Macs: 120},
			scalar: func(v *view) float64 { v.pulse(); return v.contactMs },
		},
	}
}

// peak returns the largest push and its size squared.
func (v *view) peak() (z complex128, size2 float64) {
	first, end := v.whole(pulseFromMs, pulseToMs)
	for j := first; j < end; j++ {
		if p := v.push(j); square(p) > size2 {
			z, size2 = p, square(p)
		}
	}
	return z, size2
}

func (v *view) firstMotion() complex128 {
	return (v.across(pulseFromMs, firstToMs) - v.before) * complex((firstToMs-pulseFromMs)/1000.0, 0)
}

// principal returns the principal axis of the push, and its rectilinearity.
//
// With the sums S = sum |z|^2 and Q = sum z^2 over the samples, the axis is at
// half the angle of Q and the mean squares along and across it are
// (S +- |Q|)/2n.
func (v *view) principal() (axis complex128, rectilinearity float64) {
	first, end := v.whole(pulseFromMs, pulseToMs)
	var s float64
	var q complex128
	for j := first; j < end; j++ {
		z := v.push(j)
		s += square(z)
		q += z * z
	}
	along := (s + cmplx.Abs(q)) / 2
	if along == 0 {
		return 0, 0
	}
	axis = cmplx.Rect(math.Sqrt(along/float64(end-first)), cmplx.Phase(q)/2)
	if dot(axis, v.firstMotion()) < 0 {
		axis = -axis
	}
	return axis, 1 - max(0, s-along)/along
}

// pulse measures the push along its principal axis, once: its rise from 10 to
// 90 %, and its width at half prominence.
func (v *view) pulse() {
	if v.measured {
		return
	}
	v.measured = true
	v.riseMs, v.contactMs = v.riseAndWidth()
}

func (v *view) riseAndWidth() (riseMs, widthMs float64) {
	axis, _ := v.principal()
	if axis == 0 {
		return 0, 0
	}
	if peak, _ := v.peak(); dot(axis, peak) < 0 {
		axis = -axis
	}
	axis /= complex(cmplx.Abs(axis), 0)
	first, end := v.whole(widthFromMs, widthToMs)
	x := make([]float64, end-first)
	for j := range x {
		x[j] = dot(v.push(first+j), axis)
	}
	var best signal.Peak
	for _, p := range signal.Peaks(x, signal.PeakRules{}) {
		if p.Prominence > best.Prominence {
			best = p
		}
	}
	if best.Prominence == 0 {
		return 0, 0
	}
	high := crossing(x, best.Index, 0.9*best.Height)
	low := crossing(x, best.Index, 0.1*best.Height)
	return (high - low) / v.perMs, best.Width / v.perMs
}

// crossing goes back from a peak to where x rises through a level, between
// samples by a line; 0 if it is above from the start.
func crossing(x []float64, peak int, level float64) float64 {
	for j := peak; j > 0; j-- {
		if x[j-1] < level {
			return float64(j) - (x[j]-level)/(x[j]-x[j-1])
		}
	}
	return 0
}
