package simulate

import (
	"iter"
	"math"

	"strikerose/dataset"
)

// Sample is one reading that the board logs.
type Sample struct {
	TimeS   float64    // true time since the session's first sample
	Micros  int64      // the board's counter, before it wraps at 2^32
	A       [3]float64 // specific force in the sensor's frame, m/s2
	G       [3]float64 // rotation rate, rad/s; 0 without a gyroscope
	Segment int32      // grows with a restart and with more than MostBridged lost samples
	Restart bool       // the first one after a brown-out
}

// MostBridged is how many lost samples a segment bridges, as in the import of
// logs.
const MostBridged = 5

// HasGyro tells whether rotation rates are logged.
func (s *Session) HasGyro() bool { return s.o.Rig.HasGyro() && !s.o.Sensor.NoGyro }

// Each makes the session and hands over its samples in order. It stops at the
// first error that visit returns, and returns it. It needs the same memory
// however long the session is.
func (s *Session) Each(visit func(Sample) error) error {
	next, stop := iter.Pull(s.pushes())
	defer stop()
	p, more := next()

	bag := s.o.bag()
	sensor, board, power, lost := newConverter(s.o), newClock(s.o), newPower(s.o), newLosses(s.o)
	end := s.o.LeadS + s.o.TailS
	var x Sample
	var missing int64
	off := false
	for i := int64(0); ; i++ {
		t := board.instant(i)
		for more && p.TimeS <= t {
			bag.advance(p.TimeS)
			bag.strike(p.Strike)
			end = p.TimeS + p.ContactS + s.o.TailS
			p, more = next()
		}
		if !more && t > end {
			return nil
		}
		bag.advance(t)
		a, g := sensor.convert(bag.read())
		if i > 0 && power.off(t) {
			off = true
			continue
		}
		if i > 0 && !off && lost.next() {
			missing++
			continue
		}
		x.Restart = off
		if off {
			board.restart(t)
		}
		if off || missing > MostBridged {
			x.Segment++
		}
		off, missing = false, 0
		x.TimeS, x.Micros, x.A, x.G = t, board.stamp(t), a, g
		if err := visit(x); err != nil {
			return err
		}
	}
}

// Signal runs the session into memory, on the true clock and without a log: for
// tests of what reads signals.
func (s *Session) Signal() *dataset.Signal {
	sig := &dataset.Signal{}
	_ = s.Each(func(x Sample) error { // visit never errors
		sig.TNs = append(sig.TNs, int64(math.Round(1e9*x.TimeS)))
		sig.TRaw = append(sig.TRaw, int64(uint32(x.Micros)))
		sig.Segment = append(sig.Segment, x.Segment)
		for k := range 3 {
			sig.A[k] = append(sig.A[k], float32(x.A[k]))
			if s.HasGyro() {
				sig.G[k] = append(sig.G[k], float32(x.G[k]))
			}
		}
		return nil
	})
	return sig
}
