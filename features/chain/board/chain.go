package board

import "strikerose/features/chain/fixed"

// Sample is one reading as the sensor gives it, on its own axes.
//
//c:whole
type Sample struct {
	TUs uint32   // when it was read, microseconds; may wrap
	A   [3]int16 // accelerometer, counts
	G   [3]int16 // gyroscope, counts; ignored where the detector needs none
}

// Chain is the state of a running chain. Samples of a segment are numbered from
// the length of the ring on, so that what came before the first has a number too:
// it is taken to have been like the first.
type Chain struct {
	table *Table `c:"const"`

	n          int32 // number of the next reading; 0 at the start of a segment
	clean      int32 // number of the next that leaves the despiker
	mended     int32 // readings before this number need no test for blips
	onset      int32 // of the newest strike, or of an event that is answered early
	decided    int32 // newest number that its decision used
	collecting bool
	pending    bool  // a strike waits for the end of its window
	padding    bool  // the newest reading is not real
	early      uint8 // how far the early answer is

	trigger    int32    // number at which the event began
	level      int32    // trigger level then
	most       int32    // largest short difference since
	mostAt     int32    // its number
	holdTo     int32    // no trigger before this number
	sum        [2]int32 // short difference across the bag, times twice the short boxcar
	ring       [2]int32 // what the last strike adds to the trigger level, Q8
	strikeAt   int32    // onset of the segment's last strike
	strikeSize int32    // its short difference, 0 for none
	lastUs     uint32   // stamp of the newest reading
	phase      int32    // how much later than due it came, Q8 microseconds
	noise      int32    // of one axis, Q8
	event      collected

	meter  meter
	rest   rest
	a      [][3]int16 `c:"RING"` // newest readings: raw the last Lookahead, before them despiked and mended
	g      [][3]int16 `c:"RING"`
	stamps []uint16   `c:"RING"` // low 15 bits of their times in microseconds; the top bit for one that was filled in
}

// How far the early answer of the event under way is.
const (
	earlyOpen   uint8 = iota // not tried since the largest short difference
	earlyPlaced              // the onset is placed, its window not complete
	earlyNot                 // what was seen so far is no strike
	earlyGiven               // it was due
)

// Start makes everything as new.
func (c *Chain) Start() {
	c.noise = c.table.Noise
	if c.table.Measured != 0 {
		c.meter.start(c.table)
	}
	if c.table.Level != 0 {
		c.rest.start(c.table)
	}
	c.Restart()
}

// Restart begins a segment: all but noise, level and the count of strikes is
// forgotten.
func (c *Chain) Restart() {
	c.n = 0
	c.collecting = false
	c.pending = false
	c.strikeSize = 0
	c.ring[0] = 0
	c.ring[1] = 0
	if c.table.Level != 0 {
		c.rest.restart()
	}
}

// first is the number of a segment's first reading.
func (c *Chain) first() int32 { return int32(len(c.a)) }

// mostNumber ends a segment: numbers stay far from overflow. At 1000 Hz it takes
// twelve days.
const mostNumber = 1 << 30

// place returns where reading i lies in the ring, whose length is a power of two.
// i is one of the newest that the ring holds.
func (c *Chain) place(i int32) int32 { return i & (int32(len(c.a)) - 1) }

// at returns reading i of one axis.
func (c *Chain) at(i int32, axis int32) int32 {
	return int32(c.a[c.place(i)][axis])
}

// Sort brings a reading's axes into the chain's order: two across the bag, then the
// one along it.
func (c *Chain) Sort(s *Sample, x *Sample) {
	t := c.table
	x.TUs = s.TUs
	x.A[0] = s.A[t.SortX]
	x.A[1] = s.A[t.SortY]
	x.A[2] = s.A[t.SortUp]
	if t.Gyro != 0 {
		x.G[0] = s.G[t.SortX]
		x.G[1] = s.G[t.SortY]
		x.G[2] = s.G[t.SortUp]
	}
}

// Lost tells by a sample's stamp how many samples were lost before it, -1 where
// a new segment begins. It follows the board's clock: a sample is late against
// those before it, not against the last alone, so stamps in whole milliseconds
// do as well.
func (c *Chain) Lost(s *Sample) int32 {
	if c.n == 0 || c.n >= mostNumber {
		return -1
	}
	step := int32(s.TUs - c.lastUs)
	if step < -c.table.Farthest || step > c.table.Farthest {
		return -1
	}
	// Farthest is at most 40000 us, so all of this stays below 2^25.
	late := c.phase + step*256 - c.table.Period
	lost := int32(0)
	for late > c.table.Late {
		late -= c.table.Period
		lost++
	}
	if lost > c.table.MostLost || late < -c.table.Period {
		return -1
	}
	c.phase = late - (late >> 3)
	return lost
}

// filled marks a stamp.
const filled uint16 = 0x8000

// Fill takes the reading j/parts of the way from the newest to s, which was lost.
func (c *Chain) Fill(s *Sample, from *Sample, j, parts int32) {
	var x Sample
	x.TUs = s.TUs
	for k := range int32(axes) {
		x.A[k] = between(int32(from.A[k]), int32(s.A[k]), j, parts)
		if c.table.Gyro != 0 {
			x.G[k] = between(int32(from.G[k]), int32(s.G[k]), j, parts)
		}
	}
	c.accept(&x, filled)
}

// Newest copies the newest reading.
func (c *Chain) Newest(s *Sample) {
	p := c.place(c.n - 1)
	for k := range int32(axes) {
		s.A[k] = c.a[p][k]
		if c.table.Gyro != 0 {
			s.G[k] = c.g[p][k]
		}
	}
	s.TUs = c.lastUs
}

// Take takes a reading. The first of a segment stands for all before it.
func (c *Chain) Take(s *Sample) {
	if c.n == 0 {
		c.n = c.first()
		c.clean = c.n
		c.mended = c.n
		c.holdTo = c.n
		c.phase = 0
		c.sum[0] = 0
		c.sum[1] = 0
		for i := range c.a {
			c.put(int32(i), s, 0)
		}
		if c.table.Measured != 0 {
			c.meter.held = 0
		}
	}
	c.accept(s, 0)
}

// Pad stands for a sample after the segment's end: the newest again.
func (c *Chain) Pad() {
	var s Sample
	c.Newest(&s)
	c.padding = true
	c.append(&s, filled)
}

func (c *Chain) accept(s *Sample, mark uint16) {
	c.padding = false
	c.append(s, mark)
	if c.table.Measured != 0 {
		c.measureNoise()
	}
}

func (c *Chain) append(s *Sample, mark uint16) {
	c.put(c.place(c.n), s, mark)
	c.n++
	c.lastUs = s.TUs
}

func (c *Chain) put(p int32, s *Sample, mark uint16) {
	for k := range int32(axes) {
		c.a[p][k] = s.A[k]
		if c.table.Gyro != 0 {
			c.g[p][k] = s.G[k]
		}
	}
	c.stamps[p] = uint16(s.TUs)&^filled | mark
}

// between returns the point j/n of the way from a to b, rounded half away from
// a. n is above 0, a and b are readings.
func between(a, b, j, n int32) int16 {
	if n <= 0 {
		return int16(a)
	}
	d := (b - a) * j
	half := n / 2
	if d < 0 {
		half = -half
	}
	return int16(a + (d+half)/n)
}

// Told is what a step tells.
type Told uint8

// What a step may tell: bits.
const (
	ToldEarly   Told = 1 // the early answer is due
	ToldFinal   Told = 2 // a strike's window is complete
	ToldRetract Told = 4 // the event that is over was no strike
)

// Step takes the newest reading through the chain.
func (c *Chain) Step() Told {
	told := Told(0)
	i := c.n - 1 - Lookahead
	if i < c.first() {
		return told
	}
	if i >= c.mended {
		c.despike(i)
	}
	c.clean = i + 1
	if c.table.Level != 0 && !c.padding {
		c.rest.push(c, i)
	}
	if c.find(i) {
		if c.event.verdict == Strike {
			c.pending = true
		} else {
			told = ToldRetract
		}
	}
	if c.table.Soon != 0 && c.collecting && !c.padding {
		if c.soon(i) {
			told |= ToldEarly
		}
	}
	if c.pending && c.clean >= c.onset+c.table.Post {
		c.pending = false
		told |= ToldFinal
	}
	return told
}

// Busy tells whether something is still to be decided or answered.
func (c *Chain) Busy() bool { return c.collecting || c.pending }

// Onset is the number of the onset that an answer is about: of the strike whose
// window is complete, or of the event under way.
func (c *Chain) Onset() int32 { return c.onset }

// Stamp returns the time of reading i, which the ring still holds.
func (c *Chain) Stamp(i int32) uint32 {
	t := c.lastUs
	for j := c.n - 1; j > i; j-- {
		a := uint32(c.stamps[c.place(j)])
		b := uint32(c.stamps[c.place(j-1)])
		t -= (a - b) & 0x7fff
	}
	return t
}

// Begun tells whether the segment has a reading.
func (c *Chain) Begun() bool { return c.n != 0 }

// NearGap tells whether the window of the strike at hand, up to post samples after
// its onset, has an edge or a filled reading in it or close before it.
func (c *Chain) NearGap(post int32) bool {
	if c.onset-c.table.NearGap < c.first() || c.stamps[c.place(c.decided)]&filled != 0 {
		return true
	}
	for i := c.onset - c.table.NearGap; i < c.onset+post; i++ {
		if c.stamps[c.place(i)]&filled != 0 {
			return true
		}
	}
	return false
}

// Clipped tells whether the accelerometer was at its limit during the contact.
func (c *Chain) Clipped() bool {
	last := min(c.onset+c.table.Contact, c.decided)
	for i := c.onset; i <= last; i++ {
		for k := range int32(axes) {
			if fixed.Abs32(c.at(i, k)) >= c.table.Clip {
				return true
			}
		}
	}
	return false
}
