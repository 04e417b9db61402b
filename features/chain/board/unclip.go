package board

import "strikerose/features/chain/fixed"

// unclipped returns reading i of the accelerometer. Where the sensor's limit cut
// it off during the contact, it is refilled as features/chain does: by a cubic
// that goes on from the two readings before the clipped run to the two after it.
func (c *Chain) unclipped(i int32, axis int32) int32 {
	x := c.at(i, axis)
	from := c.onset - c.table.Early
	to := min(c.onset+c.table.Contact, c.clean)
	if fixed.Abs32(x) < c.table.Clip || i < from || i >= to {
		return x
	}
	first := i
	for first > from && c.clipsLike(first-1, axis, x) {
		first--
	}
	last := i
	for last+1 < to && c.clipsLike(last+1, axis, x) {
		last++
	}
	if first-from < 2 || last+2 >= to {
		return x
	}
	n := last - first + 2
	if n <= 0 {
		return x
	}
	// The cubic p0 + u (m0 + u (bend + u twist)), u the position in the run, Q8; the
	// rest in sixteen counts. Slopes are held so that no sum passes 2^31.
	p0 := c.at(first-1, axis) >> 4
	rise := c.at(last+1, axis)>>4 - p0
	m0 := slope(n, c.at(first-1, axis)-c.at(first-2, axis))
	m1 := slope(n, c.at(last+2, axis)-c.at(last+1, axis))
	u := (i - first + 1) * 256 / n
	y := (p0 + u*(m0+u*(3*rise-2*m0-m1+u*(m0+m1-2*rise)/256)/256)/256) * 16
	if x < 0 {
		return -min(max(-y, -x), c.table.MostClip)
	}
	return min(max(y, x), c.table.MostClip)
}

// slope is what a curve gains over n readings, in sixteen counts, from what it
// gains in one.
func slope(n, step int32) int32 { return min(max(n*(step>>4), -1<<20), 1<<20) }

// clipsLike tells whether reading i is at the limit on the side of x.
func (c *Chain) clipsLike(i int32, axis int32, x int32) bool {
	y := c.at(i, axis)
	return fixed.Abs32(y) >= c.table.Clip && (y > 0) == (x > 0)
}
