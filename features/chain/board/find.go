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

// across2 is the squared size of a vector.
func across2(x, y int32) uint64 {
	return uint64(int64(x)*int64(x)) + uint64(int64(y)*int64(y))
}

// find takes reading i, which has left the despiker. It is true where an event is
// decided.
func (c *Chain) find(i int32) bool {
	t := c.table
	for b := range int32(2) {
		c.sum[b] += c.change(i, t.Boxcar, t.Across[b])
		c.ring[b] -= fixed.Mul(c.ring[b], t.Fade[b], 16)
	}
	if c.collecting {
		size2 := across2(c.sum[0], c.sum[1])
		if size2 > c.most2 {
			c.most2 = size2
			c.mostAt = i
			c.early = earlyOpen
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
	level := max(c.noiseLevel(), t.Floor, (c.ring[0]+c.ring[1])>>8)
	if fixed.Abs32(c.sum[0])+fixed.Abs32(c.sum[1]) <= level { // nearly always
		return false
	}
	size2 := across2(c.sum[0], c.sum[1])
	if size2 > uint64(int64(level)*int64(level)) {
		c.collecting = true
		c.trigger = i
		c.level = level
		c.most2 = size2
		c.mostAt = i
		c.early = earlyOpen
	}
	return false
}

// noiseLevel is the trigger level that the noise asks for.
func (c *Chain) noiseLevel() int32 { return fixed.Mul(c.noise, c.table.PerNoise, 16) }

// soon tells when the early answer is due: once the largest short difference has
// stood for a moment the onset is placed, and when the early window is complete
// the answer can be given, before the event is judged.
func (c *Chain) soon(i int32) bool {
	if c.early == earlyOpen && i >= c.mostAt+c.table.Steady {
		c.early = earlyDone
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
		c.early = earlyDone
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
		c.sum[b] = c.second(i, c.table.Boxcar, c.table.Across[b]) // readings may have been mended
	}
	if e.verdict != Strike {
		return
	}
	c.onset = max(c.first(), e.onset)
	c.decided = i
	c.strikeAt = c.onset
	c.strikeSize = fixed.Sqrt64(e.short2)
	c.holdTo = c.onset + c.table.Dead
	for b := range int32(2) {
		c.ring[b] = fixed.Mul(fixed.Sat32(int64(c.strikeSize)), c.table.Ring[b], 8)
		for j := c.onset; j < i; j++ {
			c.ring[b] -= fixed.Mul(c.ring[b], c.table.Fade[b], 16)
		}
	}
}
