package simulate

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// Board is what the board's clock, its writing and its power do. The zero value
// is a perfect clock that starts at 0 and loses nothing.
type Board struct {
	StartMicros     uint32  // the counter at the first sample; it wraps at 2^32
	RateError       float64 // share by which the sensor's rate is above the rig's
	ClockError      float64 // share by which the board's clock runs fast
	JitterS         float64 // of the instants of sampling, standard deviation, held to a quarter of a sample; stamps tell it
	StampJitterS    float64 // of the stamps alone: how late they are taken, mean of an exponential
	LossesPerMin    float64 // runs of lost samples
	LongestLoss     int     // samples of the longest run; 0: 1
	BrownOutsPerMin float64 // each 0.3 to 1.5 s long; the counter starts again near 0
}

// UsualBoard has a rate a little off, loses a few samples, and starts its
// counter 20 s before it wraps.
func UsualBoard() Board {
	return Board{StartMicros: math.MaxUint32 - 20_000_000, RateError: 0.004, ClockError: 20e-6, StampJitterS: 20e-6, LossesPerMin: 2}
}

func (b Board) check() error {
	switch {
	case !finite(b.JitterS, b.StampJitterS, b.LossesPerMin, b.BrownOutsPerMin):
		return fmt.Errorf("simulate: board: %+v: give numbers only", b)
	case !(math.Abs(b.RateError) < 0.1 && math.Abs(b.ClockError) < 0.1):
		return fmt.Errorf("simulate: board: rate off by %g, clock by %g: give shares between -0.1 and 0.1", b.RateError, b.ClockError)
	case !(b.JitterS >= 0 && b.StampJitterS >= 0 && b.LossesPerMin >= 0 && b.BrownOutsPerMin >= 0 && b.LongestLoss >= 0):
		return fmt.Errorf("simulate: board: jitter %g and %g s, %g losses of up to %d samples and %g brown-outs a minute: none may be below 0",
			b.JitterS, b.StampJitterS, b.LossesPerMin, b.LongestLoss, b.BrownOutsPerMin)
	}
	return nil
}

// Brown-outs: how long the board is off, and what its counter shows when it
// logs again. Choices without source.
const (
	offLeastS, offMostS   = 0.3, 1.5
	bootLeastS, bootMostS = 0.05, 0.4
	leastOnS              = 3 // between two of them, so that each stretch can be read
)

// power tells when the board is off. Times must be asked for in rising order.
type power struct {
	rng         *rand.Rand
	meanS       float64 // between brown-outs, above leastOnS
	from, until float64 // of the present or next one
}

func newPower(o Options) *power {
	p := &power{rng: rand.New(rand.NewPCG(o.Seed, streamPower)), from: math.Inf(1), until: math.Inf(1)}
	if o.Board.BrownOutsPerMin > 0 {
		p.meanS = 60 / o.Board.BrownOutsPerMin
		p.draw(0)
	}
	return p
}

func (p *power) draw(after float64) {
	p.from = after + leastOnS + p.meanS*p.rng.ExpFloat64()
	p.until = p.from + span{offLeastS, offMostS}.draw(p.rng)
}

func (p *power) off(t float64) bool {
	for t >= p.until {
		p.draw(p.until)
	}
	return t >= p.from
}

// clock stamps samples.
type clock struct {
	b       Board
	rng     *rand.Rand
	periodS float64
	zeroS   float64 // true time at which the counter showed offset
	offset  float64 // microseconds
	last    int64
}

func newClock(o Options) *clock {
	return &clock{
		b: o.Board, rng: rand.New(rand.NewPCG(o.Seed, streamClock)),
		periodS: 1 / (o.Rig.Sensor.RateHz * (1 + o.Board.RateError)),
		offset:  float64(o.Board.StartMicros), last: math.MinInt64,
	}
}

// instant is the true time of sample i.
func (c *clock) instant(i int64) float64 {
	t := float64(i) * c.periodS
	if c.b.JitterS > 0 && i > 0 {
		d := c.b.JitterS * c.rng.NormFloat64()
		t += min(max(d, -c.periodS/4), c.periodS/4)
	}
	return t
}

// restart starts the counter anew at a true time.
func (c *clock) restart(t float64) {
	c.zeroS, c.offset, c.last = t, 1e6*span{bootLeastS, bootMostS}.draw(c.rng), math.MinInt64
}

// stamp returns the counter at a true time, before it wraps.
func (c *clock) stamp(t float64) int64 {
	s := c.offset + 1e6*(1+c.b.ClockError)*(t-c.zeroS)
	if c.b.StampJitterS > 0 {
		s += min(1e6*c.b.StampJitterS*c.rng.ExpFloat64(), 0.4e6*c.periodS)
	}
	c.last = max(int64(s), c.last+1)
	return c.last
}

// losses tells which samples are lost.
type losses struct {
	rng     *rand.Rand
	each    float64 // chance that a run begins with a sample
	longest int
	left    int
}

func newLosses(o Options) *losses {
	return &losses{
		rng: rand.New(rand.NewPCG(o.Seed, streamLosses)), each: o.Board.LossesPerMin / 60 / o.Rig.Sensor.RateHz,
		longest: max(o.Board.LongestLoss, 1),
	}
}

func (l *losses) next() bool {
	if l.left > 0 {
		l.left--
		return true
	}
	if l.each > 0 && l.rng.Float64() < l.each {
		l.left = l.rng.IntN(l.longest)
		return true
	}
	return false
}
