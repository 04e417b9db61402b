// Package chain turns a stream of samples into windows around strikes.
//
// It is a row of explicit steps, each with declared state, cost and delay:
// axes, fill, despike, find, level, window, unclip (see Steps). Whole, sample by
// sample or in blocks of any size it gives the same windows, bit for bit, and
// nothing in a window depends on samples after its ready time. Sample counts
// run on the rig's nominal rate; a sample's time serves to see losses and to
// tell when an onset was.
//
// It refuses a rig whose sensor no finder can work with. It sits between
// dataset, whose samples it takes in the sensor's frame, and features, which
// reads its windows in the bag's frame.
package chain

import (
	"context"
	"fmt"
	"math"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/features/onset"
)

// Options sets the windows' length. A window is handed out when the finder
// has decided and PostMs after the onset have been read.
type Options struct {
	PreMs, PostMs float64 // before and after the onset, 0 to 5000
	NoGyro        bool    // the samples have no rotation rates, whatever the rig says, nor have the windows
}

const longestMs = 5000 // of a window, either side: what a board could not hold is refused

// Chain is the state of a running chain. It is not safe for concurrent use.
type Chain struct {
	rateHz float64
	yawDeg float64
	noise  float64 // as the rig gives it
	gyro   bool

	axes   axes
	fill   filler
	finder *onset.Finder
	level  leveller
	ring   ring

	pre, post int   // samples of a window before its onset and from it on
	readyNs   int64 // time of the newest reading
	segment   int32
	number    int // strikes so far
	pending   []pending
	out       []*dataset.Window // decided, not yet handed out
}

// pending is a strike that waits for its window's end.
type pending struct {
	event  onset.Event
	level  level
	strike dataset.Strike // as it is told when the finder has decided
	told   bool
}

// New returns a chain for a rig's sensor. It errors when the rig's sensor
// cannot be worked with or a window's length is out of range.
func New(r *rig.Rig, o Options) (*Chain, error) {
	for _, ms := range []float64{o.PreMs, o.PostMs} {
		if !(ms >= 0 && ms <= longestMs) {
			return nil, fmt.Errorf("chain: window: %g ms is outside 0 to %d ms", ms, longestMs)
		}
	}
	f, err := onset.New(onset.Config{
		RateHz:    r.Sensor.RateHz,
		ClipMPS2:  r.Sensor.AccelRangeG * dataset.StandardGravity,
		NoiseMPS2: r.Sensor.AccelNoiseMPS2,
		MassKg:    r.Bag.MassKg,
	})
	if err != nil {
		return nil, fmt.Errorf("rig %s: %w", r.Key(), err)
	}
	c := &Chain{rateHz: r.Sensor.RateHz, yawDeg: r.Sensor.YawDeg, noise: r.Sensor.AccelNoiseMPS2, gyro: r.HasGyro() && !o.NoGyro, finder: f}
	c.axes = newAxes(r)
	c.axes.gyro = c.gyro
	c.fill = newFiller(r.Sensor.RateHz)
	c.pre, c.post = c.count(o.PreMs), c.count(o.PostMs)
	c.level = newLeveller(r)
	c.ring = newRing(c.span() + stretch)
	c.pending = make([]pending, 0, 2+c.post/f.Params().Dead)
	return c, nil
}

// span is how many samples must be at hand when a window is cut.
func (c *Chain) span() int {
	before := max(c.pre, c.count(nearGapMs))
	after := max(c.post, c.finder.Params().Span())
	return before + after + onset.Lookahead + 2
}

// countSlack keeps a product like 65 ms x 400 Hz / 1000 that rounds up by one
// bit from taking one sample more.
const countSlack = 1e-9

// count converts milliseconds to samples, rounded up.
func (c *Chain) count(ms float64) int { return int(math.Ceil(ms*c.rateHz/1000 - countSlack)) }

// Push takes one sample in the sensor's frame and returns a window when one is
// ready. Where a segment's end made several ready at once, the others follow
// with the next samples or Flush; their ready time is that of the segment's
// last sample.
func (c *Chain) Push(s dataset.Sample) (*dataset.Window, bool) {
	c.take(s)
	return c.next()
}

// take takes one sample.
func (c *Chain) take(s dataset.Sample) {
	x := c.axes.turn(s)
	lost, broken := c.fill.gap(s)
	if broken {
		c.end()
		c.segment = s.Segment
	}
	for j := range lost {
		y := c.fill.between(x, s.TNs, j+1, lost+1)
		c.step(y)
	}
	c.fill.hold(x, s)
	c.readyNs = s.TNs
	c.step(x)
	c.cut()
}

// step takes one reading, real or filled, through the steps after fill.
func (c *Chain) step(x cell) {
	c.ring.push(x)
	c.advance(c.finder.Push(x.a))
}

// advance follows the finder by one sample.
func (c *Chain) advance(e onset.Event, decided bool) {
	if a, mended, ok := c.finder.Clean(); ok {
		i := c.ring.clean(a, mended)
		if c.ring.flags[i]&padded == 0 {
			c.level.push(a, c.ring.g[i])
		}
	}
	if decided && e.Verdict == onset.Strike {
		c.pending = append(c.pending, pending{event: e, level: c.level.at(e.Onset)})
	}
}

// cut tells of strikes that were decided, and moves every one whose window is
// complete to the queue.
func (c *Chain) cut() {
	done := 0
	for i := range c.pending {
		p := &c.pending[i]
		if !p.told {
			p.strike, p.told = c.tell(p), true
		}
	}
	for i := range c.pending {
		p := &c.pending[i]
		if c.ring.cleaned < p.event.Onset+int64(c.post) {
			break
		}
		c.out = append(c.out, c.window(p))
		done++
	}
	c.pending = append(c.pending[:0], c.pending[done:]...)
}

// next takes the oldest window from the queue.
func (c *Chain) next() (*dataset.Window, bool) {
	if len(c.out) == 0 {
		return nil, false
	}
	w := c.out[0]
	c.out = append(c.out[:0], c.out[1:]...)
	return w, true
}

// end closes a segment: what is pending is decided with what is there, the
// last reading repeated.
func (c *Chain) end() {
	if c.ring.n > 0 {
		for i := 0; i < onset.Lookahead || c.finder.Busy() || len(c.pending) > 0; i++ {
			c.ring.pad()
			c.advance(c.finder.Pad())
			c.cut()
		}
	}
	c.finder.Restart()
	c.level.restart()
	c.ring.restart()
	c.fill.restart()
}

// Flush ends the recording and returns the windows not yet handed out. The
// chain can then take another recording; it keeps the noise, the level and
// the count of strikes.
func (c *Chain) Flush() []*dataset.Window {
	c.end()
	out := c.out
	c.out = nil
	return out
}

// Run sends a whole signal through a new chain. Where the signal has no
// rotation rates the windows have none, whatever the rig says. It errors as New
// does and when ctx is done.
func Run(ctx context.Context, r *rig.Rig, sig *dataset.Signal, o Options) ([]*dataset.Window, error) {
	o.NoGyro = o.NoGyro || !sig.HasGyro()
	c, err := New(r, o)
	if err != nil {
		return nil, err
	}
	var out []*dataset.Window
	for i := 0; i < sig.Len(); i += ctxEvery {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		part := sig.Slice(i, min(i+ctxEvery, sig.Len()))
		out = append(out, c.PushSignal(&part)...)
	}
	return append(out, c.Flush()...), nil
}

// ctxEvery is how many samples are worked on between looks at the context.
const ctxEvery = 65536
