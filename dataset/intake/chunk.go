package intake

import (
	"fmt"
	"slices"
)

// chunking says in which pieces a log is worked on.
type chunking struct {
	records  int     // of a chunk, about; a shorter log is done in one piece
	overlapS float64 // that a chunk shares with the next, as far as a quarter of it
}

// usualChunks is some four minutes at 1000 Hz. The overlap lets a join lie so far
// from both chunks' ends that neither feels its end there: further than a fit of
// times reaches.
var usualChunks = chunking{records: 1 << 18, overlapS: 3 * fitReachS}

// joined is what the joined clocks of all chunks say together.
type joined struct {
	chunks, records     int
	samples             int64
	firstNs, lastNs     int64
	lastSegment         int32
	wraps, restarts     int
	gaps                int
	lost, mended        int64
	doubts              int // stamps that are wrong, and restarts
	firstDoubt          string
	top, bottom, period float64 // as in clock; the period of the last chunk
}

// rateHz is the rate over all chunks, by the board's own clock.
func (j *joined) rateHz(rawPerSecond float64) float64 {
	if j.bottom > 0 {
		return rawPerSecond / (j.top / j.bottom)
	}
	return rawPerSecond / j.period
}

// join repairs the clock of the chunk at work, joins it to the chunk before and
// hands on its samples. Of a chunk that is not the last one, the records in the
// overlap stay: the next chunk starts with them.
func (im *importer) join(last bool) error {
	c, n := &im.clock, im.rec.Len()
	s := Stamps{Raw: im.rec.Whole, PerSecond: im.rawPerSecond, Moduli: im.moduliFor(im.rawPerSecond, im.timeUnit), Strict: im.strict}
	var r *ClockReport
	if im.before == nil {
		var err error
		if r, err = c.repair(s); err != nil {
			return err
		}
	} else {
		r = c.repairNext(s)
		im.before.lead(c, r)
	}
	end := n
	if !last {
		end = n - min(n/4, max(512, int(im.chunk.overlapS*r.RateHz)))
	}
	im.tally(r, end)
	if err := im.emit(r, end, last && im.before == nil); err != nil {
		return err
	}
	if !last {
		im.before = c.overlap(r, end, im.before)
		im.before.lastNs, im.before.lastIn = im.joined.lastNs, im.joined.lastSegment
		im.rec.behead(end)
	}
	return nil
}

// tally counts what the clock says of the records before end.
func (im *importer) tally(r *ClockReport, end int) {
	j, a := &im.joined, &im.own
	j.chunks++
	j.records += end
	j.top += im.clock.top
	j.bottom += im.clock.bottom
	j.period = r.Period
	first := end
	for _, i := range r.Damaged {
		if i >= end {
			break
		}
		j.doubts++
		first = min(first, i)
		if r.Keep[i] {
			j.mended++
			a.note("time stamp put right from its neighbours", im.rec.where(i), fmt.Sprintf(": %d", im.rec.Whole[i]))
		}
	}
	for _, x := range []struct {
		kind string
		is   func(ClockEvent) bool
		add  func(ClockEvent)
	}{
		{"", func(e ClockEvent) bool { return e.What == Wrapped }, func(ClockEvent) { j.wraps++ }},
		{"restart of the board", func(e ClockEvent) bool { return e.What == Restarted }, func(e ClockEvent) {
			j.restarts++
			j.doubts++
			first = min(first, e.At)
		}},
		{"gap that starts a new segment", func(e ClockEvent) bool { return e.What == Missing && e.Lost > gapSamples }, func(e ClockEvent) {
			j.gaps++
			j.lost += e.Lost
		}},
		{"gap too short to end a segment", func(e ClockEvent) bool { return e.What == Missing && e.Lost <= gapSamples }, func(e ClockEvent) { j.lost += e.Lost }},
	} {
		for _, e := range r.Events {
			if e.At >= end || !x.is(e) {
				continue
			}
			x.add(e)
			if x.kind != "" {
				a.note(x.kind, im.rec.where(e.At), "")
			}
		}
	}
	if first < end && j.firstDoubt == "" {
		j.firstDoubt = im.rec.where(first)
	}
}

// emit hands on the samples before end, which may be those of the whole log.
func (im *importer) emit(r *ClockReport, end int, whole bool) error {
	out, rec := &im.out, im.rec
	out.TNs, out.TRaw, out.Segment = out.TNs[:0], out.TRaw[:0], out.Segment[:0]
	for k := range 3 {
		out.A[k] = out.A[k][:0]
		if im.gyro {
			out.G[k] = slices.Grow(out.G[k][:0], 1)
		}
	}
	// Stretches of kept records between dropped ones.
	for i := 0; i < end; i++ {
		if !r.Keep[i] {
			im.own.damaged("record whose time stamp fits nowhere", rec.where(i), "")
			continue
		}
		from := i
		for i < end && r.Keep[i] {
			i++
		}
		out.TNs = append(out.TNs, r.TNs[from:i]...)
		out.TRaw = append(out.TRaw, rec.Whole[from:i]...)
		out.Segment = append(out.Segment, r.Segment[from:i]...)
		for k := range 3 {
			out.A[k] = appendScaled(out.A[k], rec.Readings[k][from:i], im.accelStep)
			if im.gyro {
				out.G[k] = appendScaled(out.G[k], rec.Readings[k+3][from:i], im.gyroStep)
			}
		}
		i--
	}
	n := out.Len()
	if n == 0 {
		return nil
	}
	j := &im.joined
	if j.samples == 0 {
		j.firstNs = out.TNs[0]
	}
	j.samples += int64(n)
	j.lastNs, j.lastSegment = out.TNs[n-1], out.Segment[n-1]
	im.rest.add(out, r.RateHz, im.clipMPS2, whole)
	return im.sink(out)
}

// appendScaled adds readings in SI.
func appendScaled(to, x []float32, step float64) []float32 {
	n := len(to)
	to = slices.Grow(to, len(x))[:n+len(x)]
	for i, v := range x {
		to[n+i] = float32(float64(v) * step)
	}
	return to
}
