package intake

import (
	"errors"
	"math"
)

// Stamps are the time stamps of a log's records in order, as the board wrote
// them.
type Stamps struct {
	Raw       []int64
	PerSecond float64   // units of Raw in a second
	Moduli    []float64 // where the counter may wrap, in units of Raw; none: it does not
	// Strict says that the records carry a checksum: one with an impossible
	// stamp is then a wrong record that passed by chance, and is dropped.
	Strict bool
}

// ClockReport is the repaired clock of a log.
type ClockReport struct {
	TNs     []int64 // nanoseconds since the first kept record, strictly increasing; by record
	Segment []int32 // by record
	Keep    []bool  // by record; false for records that have no place in time

	Period  float64 // between samples, in units of the stamps
	Quantum float64 // of the stamps: their grain and jitter, in their units
	RateHz  float64 // by the board's own clock

	Wraps, Restarts, Gaps int
	Lost                  int64 // samples missing between kept ones, restarts aside
	Damaged               []int // records whose stamp was wrong
	RestartAt, GapAt      []int // first records after them
	LossAt                []int // first records after losses that stay in a segment
}

// gapSamples is the largest number of lost samples that a segment bridges.
const gapSamples = 5

// mostRounds bounds the rounds of counting and refining; two or three do.
const mostRounds = 6

// errNoRhythm refuses stamps whose jitter spans a whole stretch, or whose
// period, once found, does not stand up to the positions that it gives.
var errNoRhythm = errors.New("time stamps advance without any rhythm")

// RepairClock finds the true times of records from their damaged, wrapped,
// restarted, quantised stamps. It is a pure function: the same stamps give the
// same times, and stamps cut short give the same times, within a small part of
// a sample, for the records that are left.
//
// The steps: the period from stamps 64 records apart; the least costly path
// through the stamps that tells damage from losses, wraps and restarts; the
// count of lost samples from a slowly tracked phase; period and grain again from
// the positions so found, and the last two steps again until the period stands
// still; at last a local robust line of stamp on position in each segment. A
// restart of unknown length counts as zero: the next sample follows one period
// later. A last stamp or two that jump have nothing to confirm them and are
// held damaged.
//
// Stamps that do not advance, or advance without any rhythm, are an error.
func RepairClock(s Stamps) (*ClockReport, error) {
	n := len(s.Raw)
	if n < 2 {
		return nil, errors.New("fewer than two samples")
	}
	c := &clock{Stamps: s}
	var err error
	if c.period, c.grain, c.quantum, err = rhythm(s.Raw, s.Moduli); err != nil {
		return nil, err
	}
	if c.quantum > rhythmRows*c.period {
		return nil, errNoRhythm
	}
	c.path()
	found := c.period
	for range mostRounds {
		before := c.period
		c.count(false)
		c.refine()
		if r := c.period / found; r < 0.5 || r > 2 {
			return nil, errNoRhythm
		}
		if math.Abs(c.period/before-1) < 1e-8 {
			break
		}
	}
	c.count(true)
	return c.report(), nil
}

// clock is a repair at work.
type clock struct {
	Stamps
	period  float64
	grain   float64 // unit that the stamps are multiples of
	quantum float64 // grain, or jitter where that is more

	good     []bool    // stamps believed
	time     []float64 // unwrapped stamp since its run's first; good records only
	run      []int32   // run of each record: a stretch between restarts
	position []int64   // of each record in its run, lost samples counted
	fits     []bool    // false: no place between its neighbours
	wraps    int
}

// report turns positions into times.
func (c *clock) report() *ClockReport {
	n := len(c.Raw)
	r := &ClockReport{
		TNs: make([]int64, n), Segment: make([]int32, n), Keep: c.fits,
		Period: c.period, Quantum: c.quantum, RateHz: c.PerSecond / c.period, Wraps: c.wraps,
	}
	if c.Strict {
		for i := range r.Keep {
			r.Keep[i] = r.Keep[i] && c.good[i]
		}
	}
	nsPerUnit := 1e9 / c.PerSecond
	periodNs := int64(math.Round(c.period * nsPerUnit))
	last := -1        // the last kept record
	first := -1       // first kept record of the run
	origin := 0.0     // session time, in ns, of the run's base
	var members []int // kept records of the segment
	flush := func() {
		if len(members) == 0 {
			return
		}
		at := c.fit(members)
		if first == members[0] { // first segment of a run: its first sample follows the last one by a period
			start := int64(0)
			if last >= 0 {
				start = r.TNs[last] + periodNs
			}
			origin = float64(start) - at[0]*nsPerUnit
		}
		for k, i := range members {
			t := int64(math.Round(origin + at[k]*nsPerUnit))
			if last >= 0 && t <= r.TNs[last] {
				t = r.TNs[last] + 1
			}
			r.TNs[i] = t
			last = i
		}
		members = members[:0]
	}
	segment := int32(0)
	prev := -1
	for i := range n {
		if !c.good[i] {
			r.Damaged = append(r.Damaged, i)
		}
		if !r.Keep[i] {
			continue
		}
		switch {
		case prev < 0:
			first = i
		case c.run[i] != c.run[prev]:
			flush()
			first = i
			segment++
			r.Restarts++
			r.RestartAt = append(r.RestartAt, i)
		default:
			lost := c.position[i] - c.position[prev] - 1
			r.Lost += lost
			if lost > gapSamples {
				flush()
				segment++
				r.Gaps++
				r.GapAt = append(r.GapAt, i)
			} else if lost > 0 {
				r.LossAt = append(r.LossAt, i)
			}
		}
		r.Segment[i] = segment
		members = append(members, i)
		prev = i
	}
	flush()
	return r
}
