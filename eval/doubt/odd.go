package doubt

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Of windows unlike any other.
const (
	neighbours = 5    // distance to the fifth nearest window
	oddRisk    = 0.05 // that any of a rig's ordinary windows is told
	fewForOdd  = 30   // windows below which none is told

	// How probable it is that no strike made such a window, choices without
	// source: the contact lasts too long or too short for one, or it does not.
	noStrikeScore = 0.5
	oddScore      = 0.25
)

// shape describes a window by numbers that do not depend on where around the
// bag the strike landed: logarithms of sizes and durations, and ratios.
func (s subject) shape() []float64 {
	r := s.Row
	size := func(name string) float64 {
		z := r.Vector(name)
		return math.Hypot(real(z), imag(z))
	}
	return []float64{
		math.Log(size("kick") + 0.02), math.Log((size("peak") + 1) / (100*size("kick") + 1)),
		math.Log(r.Scalar("contact_ms") + 1), math.Log(r.Scalar("rise_ms") + 1),
		r.Scalar("rectilinearity"), r.Scalar("vertical_ratio"),
	}
}

// A contact, at half its height, that lasts longer is a shove, a shorter one a
// blip of the sensor. Strikes take some 5 to 25 ms.
const (
	longestContactMs  = 50.0
	shortestContactMs = 2.5
)

// odd tells of windows whose contact is none of a strike, and of those that lie
// far from all others of their rig revision. Each
// number of a window's shape is centred and scaled by median and median
// absolute deviation. The logarithm of the distance to the fifth nearest window
// is centred by its median and scaled by its upper tenth, as far windows are
// more than a normal tail has; what passes the normal quantile for one false
// alarm in twenty rigs, the number of windows accounted for (Bonferroni), is
// told.
func (b *bench) odd() {
	groups := b.byRevision()
	for _, key := range slices.Sorted(maps.Keys(groups)) {
		of := groups[key]
		if len(of) < fewForOdd {
			continue
		}
		shapes := make([][]float64, len(of))
		for k, i := range of {
			shapes[k] = b.subjects[i].shape()
		}
		for d := range shapes[0] {
			column := make([]float64, len(of))
			for k := range shapes {
				column[k] = shapes[k][d]
			}
			standardise(column)
			for k := range shapes {
				shapes[k][d] = column[k]
			}
		}
		far := make([]float64, len(of))
		for k := range shapes {
			far[k] = math.Log(reach(shapes, k) + 1e-6)
		}
		scaleTail(far)
		limit := distuv.UnitNormal.Quantile(1 - oddRisk/float64(len(of)))
		for k, z := range far {
			i := of[k]
			ms := b.subjects[i].Row.Scalar("contact_ms")
			d := b.over(OddWindow, i, i)
			switch {
			case ms > longestContactMs:
				d.Kind, d.Score = NoStrike, noStrikeScore
				d.Reason = fmt.Sprintf("a contact of %.0f ms is too long for a strike: it may be a shove", ms)
			case ms < shortestContactMs:
				d.Kind, d.Score = NoStrike, noStrikeScore
				d.Reason = fmt.Sprintf("a contact of %.1f ms is too short for a strike: it may be a blip", ms)
			case z > limit:
				d.Score = oddScore
				d.Reason = fmt.Sprintf("its window is unlike the other %d of the rig (distance %.1f, limit %.1f)", len(of)-1, z, limit)
			default:
				continue
			}
			d.Label, d.Predicted = b.places(i)
			d.Mend = fmt.Sprintf("look at strike %d, and mark it as no strike if so: strikerose label serve (session %s)", d.Number, d.Session)
			b.add(d)
		}
	}
}

// standardise centres numbers by their median and scales them by their median
// absolute deviation; what is not finite becomes 0.
func standardise(x []float64) {
	finite := slices.DeleteFunc(slices.Clone(x), func(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) })
	centre := median(finite)
	for i := range finite {
		finite[i] = math.Abs(finite[i] - centre)
	}
	scale := 1.4826 * median(finite)
	for i, v := range x {
		x[i] = 0
		if z := (v - centre) / math.Max(scale, 1e-6); !math.IsNaN(z) && !math.IsInf(z, 0) {
			x[i] = z
		}
	}
}

// scaleTail centres numbers by their median and scales them so that their
// upper tenth begins where that of a normal distribution does.
func scaleTail(x []float64) {
	sorted := slices.Sorted(slices.Values(x))
	centre := median(sorted)
	scale := (sorted[len(sorted)*9/10] - centre) / distuv.UnitNormal.Quantile(0.9)
	for i, v := range x {
		x[i] = (v - centre) / math.Max(scale, 1e-6)
	}
}

// reach is the distance from a shape to its fifth nearest neighbour.
func reach(shapes [][]float64, from int) float64 {
	near := make([]float64, 0, len(shapes))
	for k, s := range shapes {
		if k == from {
			continue
		}
		sum := 0.0
		for d := range s {
			sum += (s[d] - shapes[from][d]) * (s[d] - shapes[from][d])
		}
		near = append(near, math.Sqrt(sum))
	}
	slices.Sort(near)
	return near[min(neighbours, len(near))-1]
}
