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
	p0 := c.at(first-1, axis)
	p1 := c.at(last+1, axis)
	m0 := n * (p0 - c.at(first-2, axis))
	m1 := n * (c.at(last+2, axis) - p1)
	// Position in the run and its rest, Q12; m0 and m1 are below 2^26.
	u := (i - first + 1) * 4096 / n
	v := 4096 - u
	vv := v * v / 4096
	uu := u * u / 4096
	y := fixed.Mul(p0, (4096+2*u)*vv/4096, 12) + fixed.Mul(m0, u*vv/4096, 12) +
		fixed.Mul(p1, (3*4096-2*u)*uu/4096, 12) - fixed.Mul(m1, uu*v/4096, 12)
	if x < 0 {
		return -min(max(-y, -x), c.table.MostClip)
	}
	return min(max(y, x), c.table.MostClip)
}

// clipsLike tells whether reading i is at the limit on the side of x.
func (c *Chain) clipsLike(i int32, axis int32, x int32) bool {
	y := c.at(i, axis)
	return fixed.Abs32(y) >= c.table.Clip && (y > 0) == (x > 0)
}
