package board

import "strikerose/features/chain/fixed"

// rest finds the resting reading as the leveller of features/chain does: a
// weighted mean over blocks of one swing each, in which swing cancels. A block's
// weight is one over the variance that its mean is taken to have, a twentieth of
// the readings' own in it and a little more.
//
// It runs on the sensor's own axes. Of the accelerometer the two across the bag
// are followed; along it the reading at rest is gravity, and only the sensor's
// bias is taken off.
type rest struct {
	held   int32 // readings in the block
	first  [channels]int16
	sum    [channels]int32 // less the block's first reading; a block has at most 2^15 readings
	square [channels]uint64
	weight [channels]uint32
	now    [channels]int32 // Q4
	last   [channels]int32 // before the newest block
	since  int32           // number from which now holds
}

// The channels that are followed: two axes of the accelerometer, then the
// gyroscope's two across the bag and the one along it.
const (
	channels      = 5
	accelChannels = 2
)

// stillWeight is the weight of a block without any motion; weights of all
// together are held to 2^31, some 128 of them, so that after minutes of
// stillness what is older counts less.
const (
	stillWeight = 1 << 24
	mostWeight  = 1 << 31
)

// channelsOf is how many there are.
func (t *Table) channelsOf() int32 {
	if t.Gyro != 0 {
		return channels
	}
	return accelChannels
}

func (r *rest) start(t *Table) {
	for k := range t.channelsOf() {
		if k < accelChannels {
			r.now[k] = t.ZeroA[k]
			r.weight[k] = uint32(t.WeightA)
		} else {
			r.now[k] = t.ZeroG[k-accelChannels]
			r.weight[k] = uint32(t.WeightG)
		}
	}
}

// restart begins a segment: the sensor sits as it sat.
func (r *rest) restart() {
	r.held = 0
	r.since = 0
	for k := range r.now {
		r.last[k] = r.now[k]
	}
}

// push takes reading i.
func (r *rest) push(c *Chain, i int32) {
	t := c.table
	p := c.place(i)
	for k := range t.channelsOf() {
		var x int16
		if t.Gyro != 0 && k >= accelChannels {
			x = c.g[p][k-accelChannels]
		} else {
			x = c.a[p][k]
		}
		if r.held == 0 {
			r.first[k] = x
			r.sum[k] = 0
			r.square[k] = 0
		}
		d := int32(x) - int32(r.first[k])
		r.sum[k] += d
		r.square[k] += uint64(int64(d) * int64(d))
	}
	r.held++
	if r.held == t.Block {
		r.close(t, i+1)
		r.held = 0
	}
}

// close ends a block; next is the number of the reading after it.
func (r *rest) close(t *Table, next int32) {
	var variance [channels]int32
	n := r.held
	for k := range t.channelsOf() {
		mean := int64(fixed.Div(int64(r.sum[k])*16, n)) // Q4
		square := fixed.Div64(int64(r.square[k]), int64(n))
		variance[k] = max(0, fixed.Sat32(square-((mean*mean)>>8)))
	}
	// One weight for both axes across: turning the sensor turns the resting reading
	// and nothing else.
	variance[0] = variance[0]/2 + variance[1]/2
	variance[1] = variance[0]
	variance[2] = variance[2]/2 + variance[3]/2
	variance[3] = variance[2]
	for k := range t.channelsOf() {
		still := t.SpreadA
		if k >= accelChannels {
			still = t.SpreadG
		}
		mean := int32(r.first[k])*16 + fixed.Div(int64(r.sum[k])*16, n)
		// A twentieth of the variance, Q8: 12.8 of it.
		spread := int64(variance[k])*64/5 + int64(still)
		w := uint32(fixed.Div64(int64(still)*stillWeight, spread))
		r.weight[k] = min(r.weight[k]+w, mostWeight)
		r.last[k] = r.now[k]
		r.now[k] += fixed.Mul(mean-r.now[k], share(w, r.weight[k]), 16)
	}
	r.since = next
}

// share is w over all, Q16. w is at most all.
func share(w, all uint32) int32 {
	bits := fixed.Bits32(all)
	if bits > 16 {
		w >>= (bits - 16) & 31
		all >>= (bits - 16) & 31
	}
	if all == 0 {
		return 0
	}
	return int32((w << 16) / all)
}
