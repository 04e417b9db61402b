package board

const (
	// stepNoise is the movement beside a run that noise explains, in standard
	// deviations of one axis.
	stepNoise = 6
	// runTimes of that a run must stand off at least.
	runTimes = 4
)

// distance is how far reading i lies from reading j, over all axes, Q4.
func (c *Chain) distance(i, j int32) int32 {
	var d [axes]int32
	for k := range int32(axes) {
		d[k] = (c.at(i, k) - c.at(j, k)) * 16
	}
	return size(size(d[0], d[1]), d[2])
}

// despike looks for a blip that begins at reading i, the shortest first, and
// replaces it by the line across it.
func (c *Chain) despike(i int32) {
	still := stepNoise * (c.noise >> 4) // Q4; noise is below 2^24
	into := c.distance(i, i-1)
	if into <= still { // nearly always: nothing more to do
		return
	}
	beside := c.distance(i-1, i-2)
	for w := int32(1); w <= c.table.Blip; w++ {
		step := max(beside, c.distance(i+w+1, i+w), c.distance(i+w, i-1))
		if into <= step {
			continue
		}
		off := int32(0)
		for j := range w {
			off = max(off, c.offLine(i, j, w))
		}
		// Distances are below 2^21: all this stays below 2^27.
		if off <= runTimes*still+c.table.RunTimes[w-1]*max(0, step-still) {
			continue
		}
		c.bridge(i, w)
		c.mended = i + w
		return
	}
}

// offLine is how far reading i + j lies from the line between the readings beside a
// run of w that begins at i, Q4.
func (c *Chain) offLine(i, j, w int32) int32 {
	var d [axes]int32
	for k := range int32(axes) {
		d[k] = (c.at(i+j, k) - c.lined(i+j, k, i, w)) * 16
	}
	return size(size(d[0], d[1]), d[2])
}

// bridge replaces the w readings from i on by the line across them.
func (c *Chain) bridge(i, w int32) {
	for j := i; j < i+w; j++ {
		for k := range int32(axes) {
			c.a[c.place(j)][k] = int16(c.lined(j, k, i, w))
		}
	}
}
