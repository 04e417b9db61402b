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

	Damaged []int        // records whose stamp was wrong
	Events  []ClockEvent // wraps, restarts and losses in order
}

// ClockEvent is something that happened between two records.
type ClockEvent struct {
	At   int // first record after it
	What ClockHappening
	Lost int64 // samples, of Missing
}

// ClockHappening is a kind of ClockEvent.
type ClockHappening int8

const (
	Wrapped   ClockHappening = iota // the counter started again at its modulus
	Restarted                       // the board started again
	Missing                         // samples are lost; more than gapSamples start a new segment
)

// gapSamples is the largest number of lost samples that a segment bridges.
const gapSamples = 5

// mostRounds bounds the rounds of counting and refining; two or three do. They
// end when the period changes by no more than settledShare, and one that goes
// on from a settled one by settledNext: the tracked phase makes up for that.
const (
	mostRounds   = 6
	settledShare = 1e-8
	settledNext  = 1e-6
)

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
func RepairClock(s Stamps) (*ClockReport, error) { return new(clock).repair(s) }

// clock is a repair at work. Its columns serve one repair after the other; a
// report holds until the next.
type clock struct {
	Stamps
	pace
	top, bottom float64 // the period is their quotient; 0: it was not refined

	good     []bool    // stamps believed
	time     []float64 // unwrapped stamp since its run's first; good records only
	run      []int32   // run of each record: a stretch between restarts
	position []int64   // of each record in its run, lost samples counted
	fits     []bool    // false: no place between its neighbours
	wrapAt   []int
	originNs []float64 // by run: where the time 0 lies in the session

	slack   float64   // see between
	cost    []float64 // of path
	from    []int8
	phases  []float64 // of startPhase
	rest    []float64 // of refine
	members []int     // of report
	at      []float64 // of fit
	fitting fitting
	made    ClockReport
}

// pace is how the stamps of a log advance.
type pace struct {
	period  float64 // between records
	grain   float64 // unit that the stamps are multiples of
	quantum float64 // grain, or jitter where that is more
}

// repair is RepairClock.
func (c *clock) repair(s Stamps) (*ClockReport, error) {
	if len(s.Raw) < 2 {
		return nil, errors.New("fewer than two samples")
	}
	c.Stamps = s
	var err error
	if c.period, c.grain, c.quantum, err = rhythm(s.Raw, s.Moduli); err != nil {
		return nil, err
	}
	if c.quantum > rhythmRows*c.period {
		return nil, errNoRhythm
	}
	if !c.place(settledShare) {
		return nil, errNoRhythm
	}
	return c.report(), nil
}

// mostDoubtful is the share of stamps wrong or restarted that makes repairNext
// look whether the pace has changed: far above what logs have, a choice without
// source.
const mostDoubtful = 0.05

// repairNext repairs a stretch of stamps that goes on from the one repaired
// before. It starts from that one's pace, so that it needs no rhythm of its own.
// Where many stamps do not fit, it tries theirs. Where nothing fits, it holds on
// to the pace before.
func (c *clock) repairNext(s Stamps) *ClockReport {
	c.Stamps = s
	before := c.pace
	ok := c.place(settledNext)
	doubts := c.doubts()
	if ok && float64(doubts) <= mostDoubtful*float64(len(s.Raw)) {
		return c.report()
	}
	if period, grain, quantum, err := rhythm(s.Raw, s.Moduli); err == nil && quantum <= rhythmRows*period {
		c.pace = pace{period, grain, quantum}
		if c.place(settledShare) && (!ok || c.doubts() < doubts) {
			return c.report()
		}
	}
	c.pace = before
	if !ok || !c.place(settledNext) {
		c.pace = before
		c.path()
		c.count(true)
		c.top, c.bottom = 0, 0
	}
	return c.report()
}

// doubts counts the stamps that are not believed and the restarts.
func (c *clock) doubts() int {
	n := int(c.run[len(c.run)-1])
	for _, good := range c.good {
		if !good {
			n++
		}
	}
	return n
}

// place finds the position of each record and settles the pace. It is false
// where the period does not stand up to the positions that it gives.
func (c *clock) place(settled float64) bool {
	c.path()
	found := c.period
	for range mostRounds {
		before := c.period
		c.count(false)
		c.refine()
		if r := c.period / found; r < 0.5 || r > 2 {
			return false
		}
		if math.Abs(c.period/before-1) < settled {
			break
		}
	}
	c.count(true)
	return true
}

// resized returns a slice of n elements, in the same memory where it is large
// enough. They hold anything.
func resized[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// cleared is resized with all elements zero.
func cleared[T any](s []T, n int) []T {
	s = resized(s, n)
	clear(s)
	return s
}

// report turns positions into times.
func (c *clock) report() *ClockReport {
	n := len(c.Raw)
	r := &c.made
	*r = ClockReport{
		TNs: cleared(r.TNs, n), Segment: cleared(r.Segment, n), Keep: c.fits,
		Period: c.period, Quantum: c.quantum, RateHz: c.PerSecond / c.period,
		Damaged: r.Damaged[:0], Events: r.Events[:0],
	}
	if c.Strict {
		for i := range r.Keep {
			r.Keep[i] = r.Keep[i] && c.good[i]
		}
	}
	nsPerUnit := 1e9 / c.PerSecond
	periodNs := int64(math.Round(c.period * nsPerUnit))
	last := -1               // the last kept record
	first := -1              // first kept record of the run
	origin := 0.0            // session time, in ns, of the run's base
	members := c.members[:0] // kept records of the segment
	c.originNs = cleared(c.originNs, int(c.run[n-1])+1)
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
			c.originNs[c.run[first]] = origin
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
	wraps := c.wrapAt
	for i := range n {
		if len(wraps) > 0 && wraps[0] == i {
			r.Events = append(r.Events, ClockEvent{At: i, What: Wrapped})
			wraps = wraps[1:]
		}
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
			r.Events = append(r.Events, ClockEvent{At: i, What: Restarted})
		default:
			lost := c.position[i] - c.position[prev] - 1
			if lost > gapSamples {
				flush()
				segment++
			}
			if lost > 0 {
				r.Events = append(r.Events, ClockEvent{At: i, What: Missing, Lost: lost})
			}
		}
		r.Segment[i] = segment
		members = append(members, i)
		prev = i
	}
	flush()
	c.members = members
	return r
}
