package chain

import (
	"math"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// The level is the resting reading: of the horizontal axes, what a slant of
// the core and the sensor's bias leave there; of the gyroscope, its bias. A
// slant and a bias cannot be told apart at rest, and need not be.
//
// A struck bag is seldom at rest, so the level is a weighted mean over blocks
// of one swing each, in which swing cancels. A block's weight is one over the
// variance that its mean is taken to have: a part of the readings' own
// variance in it. Still blocks so count thousands of times as much as ones
// with a strike. Zero counts as one reading more, with the spread that biases
// of usual sensors have; before the first block the level is 0.
const (
	blockPart = 0.05 // of a block's variance remains in its mean
	leastPart = 0.01 // of the usual spread, the least error of a block's mean

	usualMPS2  = 0.3  // spread of slant and bias: 1 degree, 20 mg
	usualRadps = 0.03 // spread of a gyroscope's bias: 2 degrees a second
)

// level is a resting reading in the bag's frame: x, y of the accelerometer
// (m/s2), then the gyroscope's axes (rad/s).
type level [5]float64

// leveller finds the level from conditioned samples.
type leveller struct {
	size   int64 // samples of a block
	first  level // the block's first reading, taken off its sums
	sum    level
	square level
	held   int64 // samples in the block
	n      int64 // samples in the segment

	total  level // weighted sum of the blocks' means
	weight level
	now    level
	last   level // before the newest block
	since  int64 // sample from which now holds
}

func newLeveller(r *rig.Rig) leveller {
	l := leveller{size: int64(math.Round(swingS(r) * r.Sensor.RateHz))}
	for k := range l.weight {
		l.weight[k] = 1 / (usual(k) * usual(k))
	}
	return l
}

// swingS is the period of the slow swing, as a simple pendulum from the swivel
// to the bag's centre of mass.
func swingS(r *rig.Rig) float64 {
	length := r.Hang.ChainM + r.Hang.StrapM + r.Inertia().CentreOfMassDepthM
	return 2 * math.Pi * math.Sqrt(length/dataset.StandardGravity)
}

func usual(k int) float64 {
	if k < 2 {
		return usualMPS2
	}
	return usualRadps
}

// push takes a conditioned sample.
func (l *leveller) push(a, g [3]float64) {
	v := level{a[0], a[1], g[0], g[1], g[2]}
	if l.held == 0 {
		l.first, l.sum, l.square = v, level{}, level{}
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

// pushRun takes conditioned samples, as push would one by one.
func (l *leveller) pushRun(a, g [][3]float64) {
	for len(a) > 0 {
		if l.held == 0 {
			l.first, l.sum, l.square = level{a[0][0], a[0][1], g[0][0], g[0][1], g[0][2]}, level{}, level{}
		}
		n := min(int64(len(a)), l.size-l.held)
		l.gather(a[:n], 0)
		l.gather(g[:n], 2)
		l.gatherLast(g[:n])
		a, g = a[n:], g[n:]
		l.held += n
		l.n += n
		if l.held == l.size {
			l.close()
			l.held = 0
		}
	}
}

// gather adds the first two axes of samples to two neighbours of the block's
// sums, in the order of the samples. Two sums at once wait less for additions.
func (l *leveller) gather(x [][3]float64, to int) {
	first0, sum0, square0 := l.first[to], l.sum[to], l.square[to]
	first1, sum1, square1 := l.first[to+1], l.sum[to+1], l.square[to+1]
	for i := range x {
		d0, d1 := x[i][0]-first0, x[i][1]-first1
		sum0 += d0
		sum1 += d1
		square0 += float64(d0 * d0)
		square1 += float64(d1 * d1)
	}
	l.sum[to], l.square[to] = sum0, square0
	l.sum[to+1], l.square[to+1] = sum1, square1
}

// gatherLast does so with the third axis and the last of the sums.
func (l *leveller) gatherLast(x [][3]float64) {
	const last = len(level{}) - 1
	first, sum, square := l.first[last], l.sum[last], l.square[last]
	for i := range x {
		d := x[i][2] - first
		sum += d
		square += float64(d * d)
	}
	l.sum[last], l.square[last] = sum, square
}

// close ends a block.
func (l *leveller) close() {
	l.last, l.since = l.now, l.n
	n := float64(l.size)
	var spread level
	for k := range spread {
		mean := l.sum[k] / n
		spread[k] = max(0, l.square[k]/n-float64(mean*mean))
	}
	// One weight for both horizontal axes: turning the recording must turn the
	// level and nothing else.
	spread[0] = (spread[0] + spread[1]) / 2
	spread[2] = (spread[2] + spread[3]) / 2
	spread[1], spread[3] = spread[0], spread[2]
	for k := range l.total {
		mean := l.sum[k] / n
		least := leastPart * usual(k)
		w := 1 / (blockPart*spread[k] + least*least)
		l.weight[k] += w
		l.total[k] += float64(w * (l.first[k] + mean))
		l.now[k] = l.total[k] / l.weight[k]
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
