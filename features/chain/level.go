package chain

import "math"

// The level is the resting reading: of the horizontal axes, what a slant of
// the core and the sensor's bias leave there; of the gyroscope, its bias. It
// is the mean over the still half seconds seen so far, 0 until the first. A
// slant and a bias cannot be told apart at rest, and need not be.
const (
	blockS = 0.5
	// A block is still when the readings' standard deviation across the bag is
	// at most this. In free swing of amplitude q a sensor on the axis reads
	// about w2 x q x its distance from the centre of percussion: 0.1 m/s2 is
	// some 2 degrees at 0.5 m, whose mean over half a period is no more.
	stillMPS2 = 0.1
	// The same for each axis of the gyroscope, some 0.6 degrees a second.
	stillRadps = 0.01
)

// level is a resting reading.
type level struct {
	a [2]float64 // m/s2
	g [3]float64 // rad/s
}

// leveller finds the level from conditioned samples.
type leveller struct {
	size   int64 // samples of a block
	gyro   bool
	first  [5]float64 // the block's first reading, taken off its sums
	sum    [5]float64
	square [5]float64
	held   int64 // samples in the block
	n      int64 // samples in the segment

	total  [5]float64 // sums of still blocks' means
	blocks float64
	now    level
	last   level // before the newest still block
	since  int64 // sample from which now holds
}

func newLeveller(rateHz float64, gyro bool) leveller {
	return leveller{size: int64(math.Round(blockS * rateHz)), gyro: gyro}
}

// push takes a conditioned sample.
func (l *leveller) push(a, g [3]float64) {
	v := [5]float64{a[0], a[1], g[0], g[1], g[2]}
	if l.held == 0 {
		l.first, l.sum, l.square = v, [5]float64{}, [5]float64{}
	}
	for k := range v {
		d := v[k] - l.first[k]
		l.sum[k] += d
		l.square[k] += float64(d * d)
	}
	l.held++
	l.n++
	if l.held == l.size {
		l.close()
		l.held = 0
	}
}

// close ends a block.
func (l *leveller) close() {
	n := float64(l.size)
	spread := func(k int) float64 { return l.square[k]/n - (l.sum[k]/n)*(l.sum[k]/n) }
	if spread(0)+spread(1) > stillMPS2*stillMPS2 {
		return
	}
	if l.gyro && max(spread(2), spread(3), spread(4)) > stillRadps*stillRadps {
		return
	}
	l.blocks++
	for k := range l.total {
		l.total[k] += l.first[k] + l.sum[k]/n
	}
	l.last, l.since = l.now, l.n
	for k := range l.now.a {
		l.now.a[k] = l.total[k] / l.blocks
	}
	for k := range l.now.g {
		l.now.g[k] = l.total[2+k] / l.blocks
	}
}

// at returns the level known at sample i of the segment, which may lie up to
// a block back.
func (l *leveller) at(i int64) level {
	if i < l.since {
		return l.last
	}
	return l.now
}

// restart begins a segment: the sensor sits as it sat.
func (l *leveller) restart() { l.held, l.n, l.since, l.last = 0, 0, 0, l.now }
