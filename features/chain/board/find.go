package board

import "strikerose/features/chain/fixed"

// A second difference of boxcars of k samples, times 2k, that ends with reading
// i: twice the sum of the middle one less the sums of the outer two. Readings are
// 16 bits, so that with k up to 192 it stays below 2^26.

// second sums it up afresh.
func (c *Chain) second(i, k int32, axis int32) int32 {
	sum := int32(0)
	for j := range k {
		sum += 2*c.at(i-k-j, axis) - c.at(i-j, axis) - c.at(i-2*k-j, axis)
	}
	return sum
}

// change is what it gains from reading i - 1 to i.
func (c *Chain) change(i, k int32, axis int32) int32 {
	return 3*(c.at(i-k, axis)-c.at(i-2*k, axis)) + c.at(i-3*k, axis) - c.at(i, axis)
}

// size is the length of a vector to within 1.4 %, by two lines that touch the
// circle from either side; rules with margins want no more. Each part is below
// 2^29.
func size(x, y int32) int32 {
	most := max(fixed.Abs32(x), fixed.Abs32(y))
	least := min(fixed.Abs32(x), fixed.Abs32(y))
	return max(most+least/8+least/32, most-most/8-most/32+least/2+least/16)
}

// find takes reading i, which has left the despiker. It is true where an event is
// decided.
func (c *Chain) find(i int32) bool {
	t := c.table
	for b := range int32(2) {
		c.sum[b] += c.change(i, t.Boxcar, b)
	}
	c.fade()
	if c.collecting {
		now := size(c.sum[0], c.sum[1])
		if now > c.most {
			c.most = now
			c.mostAt = i
			if c.early != earlyGiven {
				c.early = earlyOpen
			}
		}
		if i >= c.trigger+t.Collect && i >= c.mostAt+t.Settle || i == c.trigger+t.Longest {
			c.collecting = false
			c.decide(i)
			return true
		}
		return false
	}
	if i < c.holdTo || c.padding || !c.measured() {
		return false
	}
	level := max(c.noiseLevel(), t.Floor, c.ring[0]>>8+c.ring[1]>>8)
	now := size(c.sum[0], c.sum[1])
	if now > level {
		c.collecting = true
		c.trigger = i
		c.level = level
		c.most = now
		c.mostAt = i
		c.early = earlyOpen
	}
	return false
}

// fade lets what the last strike adds to the trigger level go.
func (c *Chain) fade() {
	for b := range int32(2) {
		slow := c.table.Fade[b]
		if slow > 0 {
			c.ring[b] -= c.ring[b] / slow
		}
	}
}

// noiseLevel is the trigger level that the noise asks for; both factors have 16
// bits.
func (c *Chain) noiseLevel() int32 {
	return int32(uint32(c.noise) * uint32(c.table.PerNoise) >> 16)
}

// soon tells when the early answer is due: once the largest short difference has
// stood for a moment the onset is placed, and when the early window is complete
// the answer can be given, before the event is judged.
func (c *Chain) soon(i int32) bool {
	if c.early == earlyOpen && i >= c.mostAt+c.table.Steady {
		c.early = earlyNot
		c.level = max(c.level, c.noiseLevel())
		c.event.measure(c, i)
		if !c.event.blip(c) && !c.event.swing() {
			c.event.locate(c)
			c.onset = max(c.first(), c.event.onset)
			c.decided = i
			c.early = earlyPlaced
		}
	}
	if c.early == earlyPlaced && c.clean >= c.onset+c.table.Soon {
		c.early = earlyGiven
		return true
	}
	return false
}

// decide judges the event that was collected up to reading i.
func (c *Chain) decide(i int32) {
	e := &c.event
	// The noise may have been measured since the trigger.
	c.level = max(c.level, c.noiseLevel())
	e.judge(c, i)
	for b := range int32(2) {
		c.sum[b] = c.second(i, c.table.Boxcar, b) // readings may have been mended
	}
	if e.verdict != Strike {
		return
	}
	c.onset = max(c.first(), e.onset)
	c.decided = i
	c.strikeAt = c.onset
	c.strikeSize = e.brief
	c.holdTo = c.onset + c.table.Dead
	for b := range int32(2) {
		c.ring[b] = min(c.strikeSize, 1<<22) * c.table.Ring[b]
	}
	for j := c.onset; j < i; j++ {
		c.fade()
	}
}
