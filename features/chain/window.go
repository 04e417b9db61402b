package chain

import (
	"math"

	"strikerose/dataset"
	"strikerose/features/onset"
)

const (
	// contactMs is how long after the onset a contact may last: the peak and
	// clipping are looked for up to there.
	contactMs = 30
	// nearGapMs before the onset an edge or a filled sample still matters:
	// earlier swing is read from there.
	nearGapMs = 30
)

// tell says of a strike what is known when the finder has decided.
func (c *Chain) tell(p *pending) dataset.Strike {
	c.number++
	at := p.event.Onset
	s := dataset.Strike{
		Number:  c.number,
		OnsetNs: c.ring.t[c.ring.place(at)],
		ReadyNs: c.readyNs,
		Segment: c.segment,
		NearGap: c.ring.isPadded(p.event.Decided) || c.nearGap(at-int64(c.count(nearGapMs)), at),
	}
	for j := at; j <= min(at+int64(c.count(contactMs)), p.event.Decided); j++ {
		a := c.levelled(p, j)
		s.PeakMPS2 = max(s.PeakMPS2, math.Hypot(a[0], a[1]))
		if c.ring.flags[c.ring.place(j)]&clipped != 0 && !within(p.event.Mended, j) {
			s.Clipped = true
		}
	}
	return s
}

// nearGap tells whether a segment starts or ends, or samples were filled, from
// reading from to to-1.
func (c *Chain) nearGap(from, to int64) bool {
	for j := from; j < to; j++ {
		if j < 0 || c.ring.flags[c.ring.place(j)]&(filled|padded) != 0 {
			return true
		}
	}
	return false
}

// window cuts the samples around a strike out of the ring.
func (c *Chain) window(p *pending) *dataset.Window {
	at := p.event.Onset
	w := &dataset.Window{RateHz: c.rateHz, Pre: c.pre, Strike: p.strike, Found: p.strike}
	w.Strike.ReadyNs = c.readyNs
	w.Strike.NearGap = p.strike.NearGap || c.nearGap(at, at+int64(c.post))
	n := c.pre + c.post
	columns := 3
	if c.gyro {
		columns = 6
	}
	all := make([]float64, columns*n)
	for k := range 3 {
		w.A[k], all = all[:n:n], all[n:]
		if c.gyro {
			w.G[k], all = all[:n:n], all[n:]
		}
	}
	from := at - int64(c.pre)
	c.column(&w.A, c.ring.a, from, [3]float64{p.level[0], p.level[1]})
	if c.gyro {
		c.column(&w.G, c.ring.g, from, [3]float64(p.level[2:]))
	}
	for _, m := range p.event.Mended {
		for j := max(m.Start, from); j < min(m.Start+int64(m.N), from+int64(n)); j++ {
			a := c.levelled(p, j)
			for k := range 3 {
				w.A[k][j-from] = a[k]
			}
		}
	}
	c.unclip(&w.A, p.level)
	return w
}

// column copies readings from number from on out of the ring, less a level.
func (c *Chain) column(to *[3][]float64, ring [][3]float64, from int64, less [3]float64) {
	x, y, z := to[0], to[1], to[2]
	y, z = y[:len(x)], z[:len(x)]
	for i := range x {
		v := &ring[c.ring.place(from+int64(i))]
		x[i], y[i], z[i] = v[0]-less[0], v[1]-less[1], v[2]-less[2]
	}
}

// levelled returns sample j, mended as the finder did for this strike and with
// the resting reading taken off.
func (c *Chain) levelled(p *pending, j int64) [3]float64 {
	a := c.ring.a[c.ring.place(j)]
	for i, m := range p.event.Mended {
		if m.N > 0 && j >= m.Start && j < m.Start+int64(m.N) {
			a = c.across(p.event.Mended[:i], m, j)
		}
	}
	for k := range 2 {
		a[k] -= p.level[k]
	}
	return a
}

// across returns the point at sample j of the line across a mended run. earlier
// holds the runs mended before it, at whose ends it may begin.
func (c *Chain) across(earlier []onset.Run, m onset.Run, j int64) (a [3]float64) {
	from, to := c.mendedAt(earlier, m.Start-1), c.mendedAt(earlier, m.Start+int64(m.N))
	part := float64(j-m.Start+1) / float64(m.N+1)
	for k := range a {
		a[k] = from[k] + float64(part*(to[k]-from[k]))
	}
	return a
}

// mendedAt returns sample j with the given runs mended.
func (c *Chain) mendedAt(runs []onset.Run, j int64) [3]float64 {
	for i := len(runs) - 1; i >= 0; i-- {
		if m := runs[i]; j >= m.Start && j < m.Start+int64(m.N) {
			return c.across(runs[:i], m, j)
		}
	}
	return c.ring.a[c.ring.place(j)]
}

func within(runs [2]onset.Run, j int64) bool {
	for _, m := range runs {
		if j >= m.Start && j < m.Start+int64(m.N) {
			return true
		}
	}
	return false
}
