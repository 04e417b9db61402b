package board

import "strikerose/features/chain/fixed"

// The noise is measured as in features/onset: by the median size of the third
// difference of single samples, which is blind to motion. The median is read
// from counts in bins of equal ratio, six in a factor of two.
const (
	noiseBins     = 48
	noiseBinsPer2 = 6
	mostNoise     = 0xffff // Q8: 256 counts of noise are more than any finder can do with
)

// meter measures the noise of one axis, taken as equal on all three.
type meter struct {
	counts [noiseBins]uint16 // never more than 3 axes x 2 s x 8000 Hz
	held   int32             // samples of the segment, as far as it matters
	n      int32             // samples taken
	next   int32             // n at which the value is renewed
	done   bool              // it stays
}

func (m *meter) start(t *Table) {
	for i := range m.counts {
		m.counts[i] = 0
	}
	m.n = 0
	m.next = t.NoiseFirst
	m.done = false
}

// measureNoise takes the newest reading into the measurement.
func (c *Chain) measureNoise() {
	m := &c.meter
	if m.done {
		return
	}
	i := c.n - 1
	if m.held == 3 {
		for k := range int32(axes) {
			m.count(c.table, fixed.Abs32(c.at(i, k)-3*c.at(i-1, k)+3*c.at(i-2, k)-c.at(i-3, k)))
		}
	} else {
		m.held++
	}
	m.n++
	if m.n >= m.next {
		c.noise = min(max(c.table.NoiseLeast, m.median(c.table)), mostNoise)
		m.next *= 2
		m.done = m.n >= c.table.NoiseUntil
	}
}

// measured tells whether there is a value better than the start.
func (c *Chain) measured() bool {
	return c.table.Measured == 0 || c.meter.n >= c.table.NoiseFirst
}

func (m *meter) count(t *Table, size int32) {
	bin := int32(0)
	if size > 0 {
		// 18 bits of size: the logarithm is below 18 x 2^24, six times which needs 64.
		above := int64(fixed.Log2(uint64(size))) - int64(t.NoiseEdge)
		if above > 0 {
			bin = min(noiseBins-1, 1+int32((above*noiseBinsPer2)>>24))
		}
	}
	m.counts[bin]++
}

// median gives the noise, Q8, interpolated within its bin.
func (m *meter) median(t *Table) int32 {
	total := int32(0)
	for i := range m.counts {
		total += int32(m.counts[i])
	}
	sum := int32(0)
	for i := range m.counts {
		n := int32(m.counts[i])
		if n > 0 && 2*(sum+n) >= total {
			bin := int32(i)
			if bin == 0 {
				return 0
			}
			// Bins below the beginning of the last one, Q24; total is below 2^18.
			part := fixed.Div(int64(total-2*sum)*(1<<23), n)
			below := (noiseBins-1-bin)*16777216 - part
			return int32((int64(t.NoiseTop) * int64(fixed.Exp2(-max(below, 0)/noiseBinsPer2))) >> 31)
		}
		sum += n
	}
	return 0
}
