package board

import "strikerose/features/chain/fixed"

// Verdict says what an event was.
type Verdict uint8

// Verdicts, in the order in which the rules are asked; the first that applies
// stands.
const (
	Strike Verdict = iota
	Blip           // one to three spoiled readings, or no more than noise
	Swing          // rocking, or the bag bouncing on its chain
	Shove          // a push that lasts
	Snatch         // the chain pulled taut after a hard blow
)

// onsetSamples is taken off the onset that the criterion picks, as in
// features/onset.
const onsetSamples = 1

// collected is what is measured of one event. Squares are of counts times twice the
// boxcar's length.
type collected struct {
	now      int32  // newest reading of it
	short2   uint64 // largest short difference across the bag, squared
	long2    uint64 // largest long difference, squared
	raw2     uint64 // largest second difference of single samples, times two, squared
	vertical int32  // largest short difference along the bag
	shortAt  int32
	rawAt    int32
	onset    int32
	verdict  Verdict
}

// judge measures, mends where it must, and applies the rules.
func (e *collected) judge(c *Chain, now int32) {
	e.measure(c, now)
	for n := int32(0); n < mostMends && e.spoiled(c.table); n++ {
		if !e.mend(c) {
			break
		}
		e.measure(c, now)
	}
	e.locate(c)
	t := c.table
	size := uint64(c.strikeSize)
	snatchable := size > 0 && c.trigger-c.strikeAt <= t.Snatch
	vertical2 := uint64(int64(e.vertical) * int64(e.vertical))
	switch {
	case e.blip(c):
		e.verdict = Blip
	case e.swing():
		e.verdict = Swing
	case e.short2*9 < e.long2 && e.short2 < uint64(int64(t.Shove)*int64(t.Shove)) && e.lasts(c):
		e.verdict = Shove
	case snatchable && vertical2*100 > e.short2*81 && e.short2*100 < size*size*9:
		e.verdict = Snatch
	default:
		e.verdict = Strike
	}
}

// spoiled tells whether single samples move more than twice as much as the short
// difference: a lone sample off by h gives h in the raw second difference and h
// over the boxcar's length in the short one, a contact gives less in the raw one.
func (e *collected) spoiled(t *Table) bool {
	k := uint64(int64(t.Boxcar))
	return e.raw2*k*k > e.short2*4
}

func (e *collected) blip(c *Chain) bool {
	return e.spoiled(c.table) || e.short2 < uint64(int64(c.level)*int64(c.level))
}

// swing: the short difference is below 0.45 of the long one, whose boxcar is three
// times as long: 400 short2 < 9 long2.
func (e *collected) swing() bool { return e.short2*400 < e.long2*9 }

// measure takes the differences' largest values up to reading now.
func (e *collected) measure(c *Chain, now int32) {
	t := c.table
	e.now = now
	e.short2 = 0
	e.long2 = 0
	e.vertical = 0
	e.shortAt = c.trigger
	x := c.second(c.trigger, t.Boxcar, t.Across[0])
	y := c.second(c.trigger, t.Boxcar, t.Across[1])
	z := c.second(c.trigger, t.Boxcar, t.Up)
	for i := c.trigger; i <= now; i++ {
		if i > c.trigger {
			x += c.change(i, t.Boxcar, t.Across[0])
			y += c.change(i, t.Boxcar, t.Across[1])
			z += c.change(i, t.Boxcar, t.Up)
		}
		size2 := across2(x, y)
		if size2 > e.short2 {
			e.short2 = size2
			e.shortAt = i
		}
		e.vertical = max(e.vertical, fixed.Abs32(z))
	}
	threefold := 3 * t.Boxcar
	x = c.second(c.trigger, threefold, t.Across[0])
	y = c.second(c.trigger, threefold, t.Across[1])
	last := min(now, e.shortAt+t.Lag)
	for i := c.trigger; i <= last; i++ {
		if i > c.trigger {
			x += c.change(i, threefold, t.Across[0])
			y += c.change(i, threefold, t.Across[1])
		}
		e.long2 = max(e.long2, across2(x, y))
	}
	e.raw2 = e.rawLargest(c, 0, 0)
}

// rawLargest returns the square of twice the largest second difference of single
// samples across the bag, with the w readings from start replaced by the line
// across them, none for 0; of the whole event it keeps where it ends.
func (e *collected) rawLargest(c *Chain, start, w int32) uint64 {
	most := uint64(0)
	for i := c.trigger - 3*c.table.Boxcar; i <= e.now; i++ {
		var d [2]int32
		for b := range int32(2) {
			axis := c.table.Across[b]
			d[b] = 2*c.lined(i-1, axis, start, w) - c.lined(i, axis, start, w) - c.lined(i-2, axis, start, w)
		}
		size2 := across2(d[0], d[1])
		if size2 > most {
			most = size2
			if w == 0 {
				e.rawAt = i
			}
		}
	}
	return most
}

// lined returns reading i as if the w readings from start lay on the line across
// them.
func (c *Chain) lined(i int32, axis int32, start, w int32) int32 {
	if i < start || i >= start+w {
		return c.at(i, axis)
	}
	return int32(between(c.at(start-1, axis), c.at(start+w, axis), i-start+1, w+1))
}

// mend replaces the run whose removal lowers the largest raw second difference
// most; a longer run must leave less than 0.7 of what a shorter one leaves. It is
// false where none does.
func (e *collected) mend(c *Chain) bool {
	best := e.raw2
	start := int32(0)
	n := int32(0)
	for w := int32(1); w <= c.table.Blip; w++ {
		for s := e.rawAt - 1 - w; s <= e.rawAt && s+w <= e.now; s++ {
			m := e.rawLargest(c, s, w)
			if m < best && (w == n || n == 0 || m*100 < best*49) {
				best = m
				start = s
				n = w
			}
		}
	}
	if n == 0 {
		return false
	}
	c.bridge(start, n)
	return true
}

// locate finds the onset: the readings along the direction of the largest
// deviation, from before mid-contact to the peak, split in two where that makes
// the Akaike criterion least (see features/onset).
func (e *collected) locate(c *Chain) {
	t := c.table
	mid := e.shortAt - 3*t.Boxcar/2
	from := mid - t.Before
	half := t.Before / 2
	var base, way [2]int32
	for b := range int32(2) {
		sum := int32(0)
		for i := from; i < from+half; i++ {
			sum += c.at(i, t.Across[b])
		}
		base[b] = fixed.Div(int64(sum), half)
	}
	peak := from
	most := uint64(0)
	for i := from; i <= e.shortAt; i++ {
		x := c.at(i, t.Across[0]) - base[0]
		y := c.at(i, t.Across[1]) - base[1]
		size2 := across2(x, y)
		if size2 > most {
			peak = i
			most = size2
			way[0] = x
			way[1] = y
		}
	}
	e.onset = mid
	if most == 0 {
		return
	}
	length := fixed.Sat32(int64(fixed.Sqrt64(most << 16))) // Q8, below 2^25
	for b := range int32(2) {
		way[b] = fixed.Div(int64(way[b])*(1<<22), length) // unit vector, Q14
	}
	n := peak - from + 1
	sum := int64(0)
	square := int64(0)
	for i := from; i <= peak; i++ {
		x := int64(c.along(i, &base, &way))
		sum += x
		square += x * x
	}
	// Half the noise still counts as still: variances of Q8 squared.
	floor := uint64(int64(c.noise>>4)*int64(c.noise>>4)) / 4
	before := int64(0)
	before2 := int64(0)
	best := int64(0)
	pick := int32(0)
	for i := int32(1); i <= n-2; i++ {
		x := int64(c.along(from+i-1, &base, &way))
		before += x
		before2 += x * x
		if i < 2 {
			continue
		}
		a := spread(before, before2, i, floor) + spread(sum-before, square-before2, n-i, floor)
		if pick == 0 || a < best {
			best = a
			pick = i
		}
	}
	e.onset = from + pick - onsetSamples
}

// along is the part of reading i less base along a unit vector, Q4. Readings less
// their mean are below 2^16.5, so the sum stays below 2^31.
func (c *Chain) along(i int32, base, way *[2]int32) int32 {
	x := c.at(i, c.table.Across[0]) - base[0]
	y := c.at(i, c.table.Across[1]) - base[1]
	return (x*way[0] + y*way[1]) >> 10
}

// spread is n times the logarithm of the variance of n numbers, from their sum and
// sum of squares: to base 2, Q24 times n.
func spread(sum, square int64, n int32, floor uint64) int64 {
	// n is at most 400 and numbers below 2^21, so n times the squares is below 2^60.
	v := uint64(int64(n)*square - sum*sum)
	least := floor * uint64(int64(n)*int64(n))
	return int64(n) * (int64(fixed.Log2(max(v, least, 1))) - 2*int64(fixed.Log2(uint64(int64(n)))))
}

// lasts tells a push that is not over when a strike's would be: what is left of it
// then is more than 0.6 of what it was.
func (e *collected) lasts(c *Chain) bool {
	t := c.table
	dot := int64(0)
	size := int64(0)
	for b := range int32(2) {
		base := e.mean(c, t.Tail[0], t.Tail[1], t.Across[b])
		push := int64(e.mean(c, t.Tail[2], t.Tail[3], t.Across[b]) - base)
		late := int64(e.mean(c, t.Tail[4], t.Tail[5], t.Across[b]) - base)
		dot += push * late
		size += push * push
	}
	return size > 0 && dot*10 > size*6
}

// mean of the readings from and before to after the onset, Q4, as far as they
// belong to the event; 0 where none do.
func (e *collected) mean(c *Chain, from, to int32, axis int32) int32 {
	first := e.onset + from
	last := min(e.onset+to-1, e.now)
	n := last - first + 1
	if n <= 0 {
		return 0
	}
	sum := int32(0)
	for i := first; i <= last; i++ {
		sum += c.at(i, axis)
	}
	return fixed.Div(int64(sum)*16, n)
}
