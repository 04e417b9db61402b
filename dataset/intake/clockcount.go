package intake

import (
	"math"

	"strikerose/dataset/bearing"
)

// Tracking of the phase, in records: how many of a stretch's first ones set it,
// and over how many it is renewed. Long against the pattern of quantised
// stamps, short against drift. Choices without source.
const (
	phaseRows   = 64
	phaseMemory = 32
)

// count gives each record its position in its run, lost samples counted.
// Records with wrong stamps take the places right after the last good one;
// those for which there is no place are marked. In the final round, when period
// and grain have settled, stamps that their neighbours deny are given up too.
func (c *clock) count(final bool) {
	n := len(c.Raw)
	c.position = cleared(c.position, n)
	c.fits = resized(c.fits, n)
	for i := range c.fits {
		c.fits[i] = true
	}
	limit := max(0.5*c.period, 0.5*c.quantum+0.1*c.period)
	gap := (gapSamples+0.5)*c.period + c.quantum
	phase := 0.0 // centre of the stamps that position 0 of the run would have
	last := -1
	for i := range n {
		if !c.good[i] {
			continue
		}
		if last < 0 || c.run[i] != c.run[last] {
			c.position[i] = 0
			phase = c.startPhase(i, 0)
			c.placeBefore(last, i)
			last = i
			continue
		}
		k := int64(i - last)
		expected := phase + float64(c.position[last]+k)*c.period
		e := c.time[i] - expected
		switch {
		case c.time[i]-c.time[last]-float64(k)*c.period > gap:
			lost := int64(math.Round((c.time[i] - c.time[last]) / c.period))
			c.position[i] = c.position[last] + max(k, lost)
			phase = c.startPhase(i, c.position[i])
		default:
			lost := int64(0)
			if math.Abs(e) > limit && c.takenBack(i, expected, limit) {
				c.good[i] = !final
				continue // placed with the next good one
			}
			if e > limit {
				lost = max(1, int64(math.Floor(e/c.period+0.5)))
			} else if e < -limit && k > 1 {
				lost = max(1-k, int64(math.Ceil(e/c.period-0.5)))
			}
			c.position[i] = c.position[last] + k + lost
			rest := e - float64(lost)*c.period
			phase += max(-limit, min(limit, rest)) / phaseMemory
		}
		c.placeBetween(last, i)
		last = i
	}
	c.placeAfter(last)
}

// takenBack tells whether the next good stamp denies the loss, or the record
// too many, that the stamp of record i shows: then that stamp is wrong. Stamps
// coarser than the period cannot tell.
func (c *clock) takenBack(i int, expected, limit float64) bool {
	if c.quantum > 0.9*c.period {
		return false
	}
	for n := i + 1; n < len(c.Raw) && n <= i+pathReach && c.run[n] == c.run[i]; n++ {
		if c.good[n] {
			return math.Abs(c.time[n]-expected-float64(n-i)*c.period) <= limit
		}
	}
	return false
}

// startPhase finds the centre of the stamps at the start of a stretch whose
// first record, i, has the given position. A lost sample moves the stamps after
// it by a whole period and leaves their phase alone, so the circular mean of
// the phases holds, and the first record says which turn it is. Stamps coarser
// than the period fill the circle: then the lowest ones show the stretch as it
// starts, because losses only push stamps up.
func (c *clock) startPhase(i int, position int64) float64 {
	low := math.Inf(1)
	phases := c.phases[:0] // degrees of a period
	for k := 0; k < phaseRows && i+k < len(c.Raw) && c.run[i+k] == c.run[i]; k++ {
		if c.good[i+k] {
			x := c.time[i+k] - float64(position+int64(k))*c.period
			low = min(low, x)
			phases = append(phases, 360*math.Mod(x/c.period, 1))
		}
	}
	c.phases = phases
	mean, length := bearing.Mean(phases)
	if c.quantum > 0.95*c.period || length < 0.05 {
		return low + c.quantum/2
	}
	first := c.time[i] - float64(position)*c.period
	return first + bearing.Diff(mean, phases[0])/360*c.period
}

// placeBetween gives the records between two good ones of a run the places
// after the first, as far as there are any.
func (c *clock) placeBetween(a, b int) {
	for i := a + 1; i < b; i++ {
		c.position[i] = c.position[a] + int64(i-a)
		c.fits[i] = c.position[i] < c.position[b]
	}
}

// placeBefore handles the records before the first good one of a run: those of
// the log's start go before it, those before a restart after the last good one.
func (c *clock) placeBefore(last, first int) {
	if last >= 0 {
		for i := last + 1; i < first; i++ {
			c.run[i] = c.run[last]
			c.position[i] = c.position[last] + int64(i-last)
		}
		return
	}
	for i := range first {
		c.run[i] = c.run[first]
		c.position[i] = c.position[first] - int64(first-i)
	}
}

// placeAfter handles the records after the last good one.
func (c *clock) placeAfter(last int) {
	for i := last + 1; i < len(c.Raw); i++ {
		c.run[i] = c.run[last]
		c.position[i] = c.position[last] + int64(i-last)
	}
}
