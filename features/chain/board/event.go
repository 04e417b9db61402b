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

// collected is what is measured of one event. Differences are counts times twice
// the boxcar's length.
type collected struct {
	now      int32 // newest reading of it
	brief    int32 // largest short difference across the bag
	slow     int32 // largest long difference
	raw      int32 // largest second difference of single samples, times two
	vertical int32 // largest short difference along the bag
	shortAt  int32
	rawAt    int32
	base     [2]int32 // reading across the bag before it
	way      [2]int32 // unit vector along which it deviates most, Q14
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
	snatchable := c.strikeSize > 0 && c.trigger-c.strikeAt <= t.Snatch
	switch {
	case e.blip(c):
		e.verdict = Blip
	case e.swing():
		e.verdict = Swing
	case e.brief*3 < e.slow && e.brief < t.Shove && e.lasts(c):
		e.verdict = Shove
	case snatchable && e.vertical*10 > e.brief*9 && e.brief*10 < c.strikeSize*3:
		e.verdict = Snatch
	default:
		e.verdict = Strike
	}
}

// spoiled tells whether single samples move more than twice as much as the short
// difference: a lone sample off by h gives h in the raw second difference and h
// over the boxcar's length in the short one, a contact gives less in the raw one.
func (e *collected) spoiled(t *Table) bool { return e.raw*t.Boxcar > e.brief*2 }

func (e *collected) blip(c *Chain) bool { return e.spoiled(c.table) || e.brief < c.level }

// swing: the short difference is below 0.45 of the long one, whose boxcar is three
// times as long.
func (e *collected) swing() bool { return e.brief*20 < e.slow*3 }

// measure takes the differences' largest values up to reading now.
func (e *collected) measure(c *Chain, now int32) {
	t := c.table
	e.now = now
	e.brief = 0
	e.slow = 0
	e.vertical = 0
	e.shortAt = c.trigger
	var brief [axes]int32
	var slow [2]int32
	for i := c.trigger; i <= now; i++ {
		for b := range int32(2) {
			brief[b] = c.follow(brief[b], i, t.Boxcar, b)
			slow[b] = c.follow(slow[b], i, 3*t.Boxcar, b)
		}
		brief[2] = c.follow(brief[2], i, t.Boxcar, axisUp)
		across := size(brief[0], brief[1])
		if across > e.brief {
			e.brief = across
			e.shortAt = i
		}
		e.vertical = max(e.vertical, fixed.Abs32(brief[2]))
		if i <= e.shortAt+t.Lag {
			e.slow = max(e.slow, size(slow[0], slow[1]))
		}
	}
	e.raw = e.rawLargest(c, 0, 0)
}

// follow brings a second difference from the reading before to reading i of an
// event, which it begins afresh.
func (c *Chain) follow(sum, i, k int32, axis int32) int32 {
	if i == c.trigger {
		return c.second(i, k, axis)
	}
	return sum + c.change(i, k, axis)
}

// rawLargest returns twice the largest second difference of single
// samples across the bag, with the w readings from start replaced by the line
// across them, none for 0; of the whole event it keeps where it ends.
func (e *collected) rawLargest(c *Chain, start, w int32) int32 {
	most := int32(0)
	for i := c.trigger - 3*c.table.Boxcar; i <= e.now; i++ {
		var d [2]int32
		for b := range int32(2) {
			d[b] = 2*c.lined(i-1, b, start, w) - c.lined(i, b, start, w) - c.lined(i-2, b, start, w)
		}
		now := size(d[0], d[1])
		if now > most {
			most = now
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
	best := e.raw
	start := int32(0)
	n := int32(0)
	for w := int32(1); w <= c.table.Blip; w++ {
		for s := e.rawAt - 1 - w; s <= e.rawAt && s+w <= e.now; s++ {
			m := e.rawLargest(c, s, w)
			if m < best && (w == n || n == 0 || m*10 < best*7) {
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
	if half <= 0 {
		half = 1
	}
	for b := range int32(2) {
		sum := int32(0)
		for i := from; i < from+half; i++ {
			sum += c.at(i, b)
		}
		e.base[b] = sum / half
	}
	peak := from
	most := int32(0)
	for i := from; i <= e.shortAt; i++ {
		x := c.at(i, 0) - e.base[0]
		y := c.at(i, 1) - e.base[1]
		now := size(x, y)
		if now > most {
			peak = i
			most = now
			e.way[0] = x
			e.way[1] = y
		}
	}
	e.onset = mid
	if most <= 0 {
		return
	}
	// Numbers along the push are to have 15 bits: their squares then fit into 32.
	down := fixed.Bits32(uint32(most)) + 4
	down -= min(down, 15)
	n := peak - from + 1
	for b := range int32(2) {
		e.way[b] = e.way[b] * 16384 / most // below 2^31: a reading less another has 16 bits
	}
	sum := int32(0)
	square := uint64(0)
	for i := from; i <= peak; i++ {
		x := e.along(c, i) >> (down & 31)
		sum += x
		square += uint64(uint32(x * x))
	}
	// Half the noise still counts as still.
	floor := uint32(c.noise>>5) >> (down & 31)
	floor *= floor
	before := int32(0)
	before2 := uint64(0)
	best := int32(0)
	pick := int32(0)
	for i := int32(1); i <= n-2; i++ {
		x := e.along(c, from+i-1) >> (down & 31)
		before += x
		before2 += uint64(uint32(x * x))
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

// along is the part of reading i less base along the event's push, Q4. Readings
// less their mean are below 2^16 and the unit vector is at most 1.4 % too long: each
// product stays below 2^30.1.
func (e *collected) along(c *Chain, i int32) int32 {
	x := c.at(i, 0) - e.base[0]
	y := c.at(i, 1) - e.base[1]
	return (x*e.way[0])>>10 + (y*e.way[1])>>10
}

// spread is n times the logarithm of the variance of n numbers, from their sum and
// sum of squares: to base 2, Q16 times n. Numbers have 16 bits and n is at most
// 400, so that n times the squares is below 2^50.
func spread(sum int32, square uint64, n int32, floor uint32) int32 {
	many := uint64(int64(n))
	v := many*square - uint64(int64(sum)*int64(sum))
	return n * (logarithm(max(v, many*many*uint64(floor))) - 2*logarithm(many))
}

// logarithm is the logarithm to base 2, Q16, to 0.009: between powers of two the
// parabola that meets its ends and its middle. Of 0 it is 0.
func logarithm(x uint64) int32 {
	bits := fixed.Bits64(x)
	if bits == 0 {
		return 0
	}
	part := int32(x<<((64-bits)&63)>>48) - 32768 // Q15
	return int32(bits)*65536 + part*2 + part*(32768-part)/47700
}

// lasts tells a push that is not over when a strike's would be: what is left of it
// then is more than 0.6 of what it was.
func (e *collected) lasts(c *Chain) bool {
	t := c.table
	base := e.mean(c, t.Tail[0], t.Tail[1])
	push := e.mean(c, t.Tail[2], t.Tail[3]) - base
	late := e.mean(c, t.Tail[4], t.Tail[5]) - base
	return push > 0 && late*10 > push*6
}

// mean along the push of the readings from and before to after the onset, Q4, as
// far as they belong to the event; 0 where none do.
func (e *collected) mean(c *Chain, from, to int32) int32 {
	first := e.onset + from
	last := min(e.onset+to-1, e.now)
	n := last - first + 1
	if n <= 0 {
		return 0
	}
	sum := int32(0)
	for i := first; i <= last; i++ {
		sum += e.along(c, i)
	}
	return sum / n
}
