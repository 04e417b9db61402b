package intake

import (
	"math"
	"slices"
)

// overlap is what a repaired chunk says of its last records, which are the first
// ones of the next chunk.
type overlap struct {
	tNs     []int64
	segment []int32
	keep    []bool
	good    []bool
	firm    []bool    // see clock.firm
	stampNs []float64 // session time of the stamps; of good records only
	damaged []int
	events  []ClockEvent
	lastNs  int64 // of the last record kept before
	lastIn  int32 // its segment
}

// firm tells whether record i and the one before it are believed and follow each
// other without anything between: a good place for a join.
func (c *clock) firm(i int) bool {
	return i > 0 && c.good[i] && c.good[i-1] && c.fits[i] && c.fits[i-1] && c.run[i] == c.run[i-1] && c.position[i] == c.position[i-1]+1
}

// stampNs is the session time of record i by its stamp alone.
func (c *clock) stampNs(i int) float64 {
	return c.originNs[c.run[i]] + c.time[i]*1e9/c.PerSecond
}

// overlap keeps what a report says of the records from start on.
func (c *clock) overlap(r *ClockReport, start int, into *overlap) *overlap {
	o := into
	if o == nil {
		o = &overlap{}
	}
	n := len(c.Raw) - start
	o.tNs = append(o.tNs[:0], r.TNs[start:]...)
	o.segment = append(o.segment[:0], r.Segment[start:]...)
	o.keep = append(o.keep[:0], r.Keep[start:]...)
	o.good = append(o.good[:0], c.good[start:]...)
	o.firm, o.stampNs = resized(o.firm, n), resized(o.stampNs, n)
	for i := range n {
		o.firm[i], o.stampNs[i] = c.firm(start+i), c.stampNs(start+i)
	}
	o.damaged, o.events = o.damaged[:0], o.events[:0]
	for _, i := range r.Damaged {
		if i >= start {
			o.damaged = append(o.damaged, i-start)
		}
	}
	for _, e := range r.Events {
		if e.At >= start {
			e.At -= start
			o.events = append(o.events, e)
		}
	}
	return o
}

// place finds the record to join at: one that both chunks believe, as near the
// middle of the overlap as there is, and where nothing happened if there is such
// a one. It is -1 where the chunks have no record in common.
func (o *overlap) place(c *clock) int {
	n := len(o.tNs)
	believed := -1
	for d := range n/2 + 1 {
		for _, i := range [2]int{n/2 - d, n/2 + d} {
			if i < 0 || i >= n || !(o.good[i] && o.keep[i] && c.good[i] && c.fits[i]) {
				continue
			}
			if o.firm[i] && c.firm(i) {
				return i
			}
			if believed < 0 {
				believed = i
			}
		}
	}
	return believed
}

// lead joins the report of a chunk to the one before: up to the join the records
// are as the chunk before has them, and those behind it are brought to the
// session's time and numbers of segments. Both chunks measure time by the
// stamps, so that the stamp at the join says by how much exactly. Where they have
// no record in common, the second one follows as after a restart.
func (o *overlap) lead(c *clock, r *ClockReport) {
	at := o.place(c)
	common := at >= 0
	if !common {
		at = len(o.tNs) / 2
	}
	lastNs, lastIn := o.lastNs, o.lastIn
	for i := range at + 1 {
		if o.keep[i] {
			lastNs, lastIn = o.tNs[i], o.segment[i]
		}
	}
	// Of what happened, each side tells its own.
	r.Damaged = slices.DeleteFunc(r.Damaged, func(i int) bool { return i <= at })
	r.Damaged = slices.Insert(r.Damaged, 0, upTo(o.damaged, at, func(i int) int { return i })...)
	own := at + 1 // first record whose events the chunk itself tells
	events := upTo(o.events, at, func(e ClockEvent) int { return e.At })
	var shiftNs float64
	var segments int32
	if common {
		shiftNs, segments = o.stampNs[at]-c.stampNs(at), o.segment[at]-r.Segment[at]
	} else if next := slices.Index(r.Keep[at+1:], true); next >= 0 {
		next += at + 1
		shiftNs = float64(lastNs-r.TNs[next]) + math.Round(c.period*1e9/c.PerSecond)
		segments = lastIn + 1 - r.Segment[next]
		events = append(events, ClockEvent{At: next, What: Restarted})
		own = next + 1
	}
	r.Events = slices.DeleteFunc(r.Events, func(e ClockEvent) bool { return e.At < own })
	r.Events = slices.Insert(r.Events, 0, events...)
	shift := int64(math.Round(shiftNs))
	for i := range c.originNs {
		c.originNs[i] += shiftNs
	}
	for i := at + 1; i < len(r.TNs); i++ {
		r.TNs[i] += shift
		r.Segment[i] += segments
		if r.Keep[i] {
			r.TNs[i] = max(r.TNs[i], lastNs+1)
			lastNs = r.TNs[i]
		}
	}
	copy(r.TNs, o.tNs[:at+1])
	copy(r.Segment, o.segment[:at+1])
	copy(r.Keep, o.keep[:at+1])
	copy(c.good, o.good[:at+1])
}

// upTo is the start of an ascending list, up to a record and with it.
func upTo[T any](list []T, record int, at func(T) int) []T {
	n, _ := slices.BinarySearchFunc(list, record+1, func(x T, record int) int { return at(x) - record })
	return slices.Clip(list[:n])
}
