package board

import "strikerose/features/chain/fixed"

const (
	// stepNoise is the movement beside a run that noise explains, in standard
	// deviations of one axis.
	stepNoise = 6
	// runTimes of that a run must stand off at least.
	runTimes = 4
)

// distance2 is the squared distance between readings i and j over all axes.
func (c *Chain) distance2(i, j int32) uint64 {
	var sum uint64
	for k := range int32(axes) {
		d := int64(c.at(i, k) - c.at(j, k))
		sum += uint64(d * d)
	}
	return sum
}

// despike looks for a blip that begins at reading i, the shortest first, and
// replaces it by the line across it.
func (c *Chain) despike(i int32) {
	still := uint32(stepNoise * c.noise) // Q8; noise is below 2^24
	into := c.distance2(i, i-1)
	if into<<16 <= uint64(still)*uint64(still) { // nearly always: nothing more to do
		return
	}
	beside := c.distance2(i-1, i-2)
	for w := int32(1); w <= c.table.Blip; w++ {
		step := max(beside, c.distance2(i+w+1, i+w), c.distance2(i+w, i-1))
		if into <= step {
			continue
		}
		var off uint64 // times the square of w + 1
		for j := range w {
			off = max(off, c.offLine(i, j, w))
		}
		least := uint64(runTimes) * uint64(still)
		root := fixed.Sqrt64(step << 16)
		if root > still {
			least += uint64(c.table.RunTimes[w-1]) * uint64(root-still)
		}
		if uint64(fixed.Sqrt64(off<<16)) <= least*uint64(w+1) {
			continue
		}
		c.bridge(i, w)
		c.mended = i + w
		return
	}
}

// offLine is the squared distance of reading i + j from the line between the
// readings beside a run of w that begins at i, times the square of w + 1.
func (c *Chain) offLine(i, j, w int32) uint64 {
	var sum uint64
	for k := range int32(axes) {
		d := int64((w+1)*c.at(i+j, k) - (w-j)*c.at(i-1, k) - (j+1)*c.at(i+w, k))
		sum += uint64(d * d)
	}
	return sum
}

// bridge replaces the w readings from i on by the line across them.
func (c *Chain) bridge(i, w int32) {
	for k := range int32(axes) {
		from := c.at(i-1, k)
		to := c.at(i+w, k)
		for j := range w {
			c.a[c.place(i+j)][k] = between(from, to, j+1, w+1)
		}
	}
}
