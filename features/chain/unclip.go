package chain

import "math"

// The hardest strikes drive the accelerometer to its limit for a few readings.
// What it cut off is missing in every integral over the contact, so it is put
// back, on the sensor's own axes: a cubic that goes on from the two readings
// before the run to the two after it. The part put back is a guess; the strike
// keeps its mark as clipped.
const (
	// mostRefill is how far beyond the limit a refilled reading may go, in parts
	// of it: a pulse of half a sine of which all but the ends is cut off.
	mostRefill = 2.2
	// earlyMs before the onset a contact may have begun, as onsets go.
	earlyMs = 10
	// limitSlack lets a reading that was turned to the bag's frame and back
	// still count as at the limit.
	limitSlack = 1e-9
)

// unclip refills the clipped runs of a window's contact. a holds the window's
// columns in the bag's frame, less level.
func (c *Chain) unclip(a *[3][]float64, l level) {
	from := max(0, c.pre-c.count(earlyMs))
	to := min(len(a[0]), c.pre+c.count(contactMs))
	axis := make([]float64, to-from)
	var parts [3][]float64
	for k := range 3 {
		for i := range axis {
			bag := [3]float64{a[0][from+i] + l[0], a[1][from+i] + l[1], a[2][from+i]}
			axis[i] = c.axes.accel.Reading(bag)[k]
		}
		parts[k] = refill(axis, c.axes.clip*(1-limitSlack))
	}
	for k, part := range parts {
		for i, d := range part {
			for b := range 3 {
				a[b][from+i] += float64(c.axes.accel.Matrix[b][k] * d)
			}
		}
	}
}

// refill returns what to add to each reading of one axis, nil where none is at
// the limit. A run at an end of the readings, without two readings on either
// side, stays as it is.
func refill(v []float64, limit float64) (add []float64) {
	if !(limit > 0) {
		return nil
	}
	for i := 0; i < len(v); i++ {
		if math.Abs(v[i]) < limit {
			continue
		}
		j := i
		for j+1 < len(v) && math.Abs(v[j+1]) >= limit && v[j+1] > 0 == (v[i] > 0) {
			j++
		}
		if i >= 2 && j+2 < len(v) {
			if add == nil {
				add = make([]float64, len(v))
			}
			bridge(v, add, i, j, limit)
		}
		i = j
	}
	return add
}

// bridge refills readings i to j by the cubic Hermite curve between the
// readings beside them, with their slopes.
func bridge(v, add []float64, i, j int, limit float64) {
	p0, p1 := v[i-1], v[j+1]
	n := float64(j - i + 2)
	m0, m1 := n*(v[i-1]-v[i-2]), n*(v[j+2]-v[j+1])
	sign := math.Copysign(1, v[i])
	for k := i; k <= j; k++ {
		t := float64(k-i+1) / n
		u := 1 - t
		x := (1+2*t)*u*u*p0 + t*u*u*m0 + t*t*(3-2*t)*p1 - t*t*u*m1
		size := math.Min(math.Max(sign*x, math.Abs(v[k])), mostRefill*limit)
		add[k] = sign*size - v[k]
	}
}
