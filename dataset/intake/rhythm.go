package intake

import (
	"errors"
	"math"
	"slices"
)

// rhythmRows is how far apart the stamps are whose slope gives the period: far
// enough to even out jitter, near enough that most stretches lost nothing.
const rhythmRows = 64

// rhythm estimates the period between records, the grain of their stamps, and
// their quantum, which is the grain or the jitter, whichever is more, from
// stretches of rhythmRows records. Medians keep losses, restarts, wraps and
// damaged stamps out.
func rhythm(raw []int64, moduli []float64) (period, grain, quantum float64, err error) {
	raw = unrolled(raw, moduli)
	rows := min(rhythmRows, len(raw)-1)
	var slopes []float64
	stride := max(1, (len(raw)-rows)/20000)
	for i := 0; i+rows < len(raw); i += stride {
		d := float64(raw[i+rows] - raw[i])
		if d < 0 {
			d = wrapped(d, moduli)
		}
		if d > 0 {
			slopes = append(slopes, d/float64(rows))
		}
	}
	if len(slopes)*2 < (len(raw)-rows)/stride || len(slopes) == 0 {
		return 0, 0, 0, errors.New("time stamps do not advance")
	}
	slices.Sort(slopes)
	period = slopes[len(slopes)/2]
	grain = grainOf(raw)
	quantum = grain
	if p, spread, ok := plainStep(raw, quantum); ok && period > 1.02*p {
		return p, grain, max(grain, 2*spread), nil // many losses: hardly a stretch is whole
	}
	even := make([]float64, len(raw))
	for range 2 {
		period = lossless(slopes, rows, period, quantum)
		for i := range even {
			even[i] = float64(raw[i]-raw[0]) - float64(i)*period
		}
		quantum = max(quantum, spread(even, rows))
	}
	return period, grain, quantum, nil
}

// plainStep returns the usual step from one record to the next and its spread,
// where the stamps are fine enough to show it.
func plainStep(raw []int64, grain float64) (step, spread float64, ok bool) {
	var steps []float64
	stride := max(1, len(raw)/20000)
	for i := 1; i < len(raw); i += stride {
		if d := float64(raw[i] - raw[i-1]); d > 0 {
			steps = append(steps, d)
		}
	}
	if len(steps) < 16 {
		return 0, 0, false
	}
	slices.Sort(steps)
	low := steps[len(steps)/5]
	from, _ := slices.BinarySearch(steps, 0.5*low)
	to, _ := slices.BinarySearch(steps, 1.5*low)
	steps = steps[from:to]
	n := len(steps)
	step = steps[n/2]
	spread = steps[n*95/100] - steps[n/20]
	return step, spread, grain < 0.1*step && spread < 0.1*step
}

// lossless takes the mean slope of the stretches that seem to have lost
// nothing: the median of quantised slopes is itself quantised.
func lossless(slopes []float64, rows int, period, quantum float64) float64 {
	for range 3 {
		sum, n := 0.0, 0
		for _, s := range slopes {
			if math.Abs(s-period)*float64(rows) <= max(quantum, 0.4*period) {
				sum += s
				n++
			}
		}
		if n == 0 {
			break
		}
		period = sum / float64(n)
	}
	return period
}

// wrapped adds the smallest modulus that makes a step forward of at most half
// of it, or returns the step as it is.
func wrapped(d float64, moduli []float64) float64 {
	for _, m := range moduli {
		if e := d + m; e > 0 && e < m/2 {
			return e
		}
	}
	return d
}

// unrolled undoes the wraps of a counter so short that it wraps within a
// stretch. A damaged stamp may add a turn too many, which spoils one stretch.
func unrolled(raw []int64, moduli []float64) []int64 {
	if len(moduli) != 1 || moduli[0] > 1<<24 {
		return raw
	}
	m := int64(moduli[0])
	out := make([]int64, len(raw))
	for i := 1; i < len(raw); i++ {
		d := (raw[i] - raw[i-1]) % m
		if d < 0 {
			d += m
		}
		out[i] = out[i-1] + d
	}
	return out
}

// grainOf returns the unit that nearly all stamps are multiples of, counted
// from the first: 1000 for a millisecond counter written in microseconds. It is
// 1 where nearly all steps are alike: a counter in step with the sensor.
func grainOf(raw []int64) float64 {
	for _, g := range []int64{1000000, 100000, 10000, 1000, 500, 250, 200, 125, 100, 50, 20, 10, 8, 5, 4, 2} {
		n, fit := 0, 0
		for i := 1; i < len(raw) && i < 4096; i++ {
			if raw[i] == raw[i-1] {
				continue
			}
			n++
			if (raw[i]-raw[i-1])%g == 0 {
				fit++
			}
		}
		if n > 0 && fit*50 >= n*49 {
			if inStep(raw, g) {
				return 1
			}
			return float64(g)
		}
	}
	return 1
}

// inStep tells whether hardly a step is a grain longer or shorter than the
// usual one, as they now and then must be where the grain hides anything.
func inStep(raw []int64, grain int64) bool {
	counts := map[int64]int{}
	for i := 1; i < len(raw) && len(counts) < 4096; i++ {
		counts[raw[i]-raw[i-1]]++
	}
	usual := raw[1] - raw[0]
	for d, n := range counts {
		if n > counts[usual] || n == counts[usual] && d < usual {
			usual = d
		}
	}
	return counts[usual+grain]+counts[usual-grain] <= max(3, len(raw)/2000)
}

// spread returns the usual range of times within a stretch of rows, given as
// they stand against an even pace: of each stretch the range without the outer
// twentieths, brought to the full range of an even spread; of all stretches a
// quartile rather than the median, because losses only add.
func spread(times []float64, rows int) float64 {
	if rows < 8 {
		return 0
	}
	var spreads []float64
	buf := make([]float64, rows)
	stride := max(rows, (len(times)-rows)/2000)
	for i := 0; i+rows <= len(times); i += stride {
		copy(buf, times[i:])
		cut := rows / 20
		low := nthSmallest(buf, cut)
		spreads = append(spreads, (nthSmallest(buf, rows-1-cut)-low)/0.9)
	}
	return nthSmallest(spreads, len(spreads)/4)
}
