package chain

import (
	"math"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// stretch is the most readings that are turned at once: few enough to stay in the
// fastest memory between the steps.
const stretch = 512

// PushSignal takes samples in the sensor's frame and returns the windows that
// became ready, as Push does one by one. Between decisions it takes them by
// the column, many times as fast; windows and all that comes later are the same,
// bit for bit.
func (c *Chain) PushSignal(sig *dataset.Signal) []*dataset.Window {
	for i := 0; i < sig.Len(); {
		n := c.turnPlain(sig, i)
		if n == 0 {
			c.take(sig.At(i))
			i++
			continue
		}
		c.pushPlain(n)
		i += n
		c.fill.hold(c.ring.newest(), sig.At(i-1))
	}
	out := c.out
	c.out = nil
	return out
}

// turnPlain writes the readings of a signal from sample i on to the ring, beyond
// those taken, as far as they are plain: of the segment, none lost before them,
// numbers all. It returns how many, none at the start of a segment.
func (c *Chain) turnPlain(sig *dataset.Signal, i int) int {
	if !c.fill.have || sig.Segment[i] != c.fill.segment {
		return 0
	}
	at := c.ring.n & c.ring.mask
	n := min(sig.Len()-i, stretch, int(c.ring.mask+1-at))
	t, segment := c.ring.t[at:][:n], sig.Segment[i:][:n]
	last := c.fill.last.t
	for j, now := range sig.TNs[i : i+n] {
		if now-last >= c.fill.lossNs || segment[j] != c.fill.segment {
			n = j
			break
		}
		t[j], last = now, now
	}
	n = c.axes.turnPlain(sig, i, c.ring.a[at:][:n], c.ring.g[at:][:n], c.ring.flags[at:][:n])
	return n
}

// pushPlain takes the next n readings of the ring through the steps after fill.
func (c *Chain) pushPlain(n int) {
	for n > 0 {
		at := c.ring.n & c.ring.mask
		took := c.finder.Follow(c.ring.a[at:][:min(int64(n), c.untilCut())])
		if took > 0 {
			c.follow(int64(took))
		} else {
			took = 1
			c.ring.n++
			c.advance(c.finder.Push(c.ring.a[at]))
		}
		c.readyNs = c.ring.t[(c.ring.n-1)&c.ring.mask]
		c.cut()
		n -= took
	}
}

// untilCut is how many readings the oldest strike still waits for.
func (c *Chain) untilCut() int64 {
	if len(c.pending) == 0 {
		return stretch
	}
	return max(1, c.pending[0].event.Onset+int64(c.post)-c.ring.cleaned)
}

// follow follows the finder by readings that it left as they were.
func (c *Chain) follow(n int64) {
	c.ring.n += n
	for n > 0 {
		from := c.ring.cleaned & c.ring.mask
		m := min(n, c.ring.mask+1-from)
		c.level.pushRun(c.ring.a[from:from+m], c.ring.g[from:from+m])
		c.ring.cleaned += m
		n -= m
	}
}

// turnPlain turns readings of a signal from sample i on, as turn does, as far as
// they are numbers, and returns how many. a, g and marks are as long as what it
// may turn.
func (x *axes) turnPlain(sig *dataset.Signal, i int, a, g [][3]float64, marks []flags) int {
	n := x.mark(sig, i, marks)
	if n == 0 {
		return 0
	}
	turnColumns(&x.accel, &sig.A, i, a[:n])
	last := sig.At(i + n - 1)
	x.a = last.A
	switch {
	case x.gyro && sig.HasGyro():
		turnColumns(&x.turning, &sig.G, i, g[:n])
		x.g = last.G
	case x.gyro:
		x.g = [3]float64{}
		still := x.turning.Bag(x.g)
		for j := range g[:n] {
			g[j] = still
		}
	}
	return n
}

// Bits of a float32.
const (
	sizeBits     = 1<<31 - 1   // all but the sign: they order as sizes do
	noNumberBits = 0x7f80_0000 // and beyond: infinite or no number
)

// mark marks clipped readings from sample i on, as far as all are numbers, and
// returns how many are.
func (x *axes) mark(sig *dataset.Signal, i int, marks []flags) int {
	ax, ay, az := sig.A[0][i:][:len(marks)], sig.A[1][i:][:len(marks)], sig.A[2][i:][:len(marks)]
	for j := range marks {
		size := max(math.Float32bits(ax[j])&sizeBits, math.Float32bits(ay[j])&sizeBits, math.Float32bits(az[j])&sizeBits)
		marks[j] = 0
		if size < x.clipBits {
			continue
		}
		if size >= noNumberBits {
			marks = marks[:j]
			break
		}
		marks[j] = clipped
	}
	if !x.gyro || !sig.HasGyro() {
		return len(marks)
	}
	gx, gy, gz := sig.G[0][i:][:len(marks)], sig.G[1][i:][:len(marks)], sig.G[2][i:][:len(marks)]
	for j := range marks {
		if max(math.Float32bits(gx[j])&sizeBits, math.Float32bits(gy[j])&sizeBits, math.Float32bits(gz[j])&sizeBits) >= noNumberBits {
			return j
		}
	}
	return len(marks)
}

// turnColumns turns readings from sample i on as Bag does.
func turnColumns(t *rig.Turn, from *[3][]float32, i int, to [][3]float64) {
	// Numbers by name and no arrays: the compiler keeps those in memory.
	xx, xy, xz := t.Matrix[0][0], t.Matrix[0][1], t.Matrix[0][2]
	yx, yy, yz := t.Matrix[1][0], t.Matrix[1][1], t.Matrix[1][2]
	zx, zy, zz := t.Matrix[2][0], t.Matrix[2][1], t.Matrix[2][2]
	bx, by, bz := t.Bias[0], t.Bias[1], t.Bias[2]
	us, vs, ws := from[0][i:][:len(to)], from[1][i:][:len(to)], from[2][i:][:len(to)]
	for j := range to {
		u, v, w := float64(us[j])-bx, float64(vs[j])-by, float64(ws[j])-bz
		bag := &to[j]
		bag[0] = float64(xx*u) + float64(xy*v) + float64(xz*w)
		bag[1] = float64(yx*u) + float64(yy*v) + float64(yz*w)
		bag[2] = float64(zx*u) + float64(zy*v) + float64(zz*w)
	}
}

// bitsFrom returns the bits of the least float32 that is limit or more.
func bitsFrom(limit float64) uint32 {
	v := float32(limit)
	if float64(v) < limit {
		v = math.Nextafter32(v, float32(math.Inf(1)))
	}
	return math.Float32bits(v)
}
