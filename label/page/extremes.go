package page

import (
	"math"

	"strikerose/dataset"
)

// Channels of the traces, in the bag's frame: the size of the specific force
// across the bag, its three components, then the three rotation rates.
const (
	across = iota
	toward90
	toward0
	upward
	spin90
	spin0
	spinUp
	allChannels
	withoutGyro = spin90
)

// turner turns readings from the sensor's frame into the bag's.
type turner [3][3]float64

// at writes the channels of one sample.
func (m *turner) at(sig *dataset.Signal, i int, out *[allChannels]float32) {
	a := m.turn(sig.A, i)
	out[across] = float32(math.Hypot(a[0], a[1]))
	for k := range 3 {
		out[toward90+k] = float32(a[k])
	}
	if sig.HasGyro() {
		g := m.turn(sig.G, i)
		for k := range 3 {
			out[spin90+k] = float32(g[k])
		}
	}
}

func (m *turner) turn(v [3][]float32, i int) (out [3]float64) {
	for k := range 3 {
		out[k] = m[k][0]*float64(v[0][i]) + m[k][1]*float64(v[1][i]) + m[k][2]*float64(v[2][i])
	}
	return out
}

// bucketSamples is how many samples share a bucket of the pyramid's one level.
const bucketSamples = 256

// extremes holds the least and the largest value of each channel in each
// bucket of 256 samples: 20 MB for a day at 1000 Hz.
type extremes struct {
	fromNs    []int64
	low, high [allChannels][]float32
}

// add appends the buckets of one stretch.
func (e *extremes) add(sig *dataset.Signal, m *turner, channels int) {
	var now [allChannels]float32
	for i := range sig.Len() {
		m.at(sig, i, &now)
		if i%bucketSamples == 0 {
			e.fromNs = append(e.fromNs, sig.TNs[i])
			for c := range channels {
				e.low[c], e.high[c] = append(e.low[c], now[c]), append(e.high[c], now[c])
			}
			continue
		}
		for c := range channels {
			last := len(e.low[c]) - 1
			e.low[c][last], e.high[c][last] = min(e.low[c][last], now[c]), max(e.high[c][last], now[c])
		}
	}
}

// columns is a picture's worth of extremes: equal slices of time from FromNs
// to ToNs, NaN where there is no sample.
type columns struct {
	fromNs, toNs int64
	low, high    [allChannels][]float32
}

func newColumns(fromNs, toNs int64, n, channels int) *columns {
	c := &columns{fromNs: fromNs, toNs: toNs}
	nan := float32(math.NaN())
	for k := range channels {
		c.low[k], c.high[k] = make([]float32, n), make([]float32, n)
		for i := range n {
			c.low[k][i], c.high[k][i] = nan, nan
		}
	}
	return c
}

// index tells in which column a time falls, false outside.
func (c *columns) index(ns int64) (int, bool) {
	n := len(c.low[0])
	if ns < c.fromNs || ns >= c.toNs {
		return 0, false
	}
	return min(n-1, int(float64(ns-c.fromNs)/float64(c.toNs-c.fromNs)*float64(n))), true
}

// widen takes one value, or the extremes of several, into a column.
func (c *columns) widen(channel, i int, low, high float32) {
	if l := c.low[channel][i]; !(l <= low) {
		c.low[channel][i] = low
	}
	if h := c.high[channel][i]; !(h >= high) {
		c.high[channel][i] = high
	}
}
