// Package simulate makes simulated recordings of struck bags: what the sensor
// of a rig would log while somebody strikes it, and the truth about every
// strike. Nothing in it was measured on a person or a bag; whatever is written
// from here is to be called simulated.
//
// A blow is a force of half-sine shape at a point of the bag's surface
// (blow.go). The bag answers by its two modes in each vertical plane, its twist
// (motion.go) and a bending (flex.go), stepped in closed form (bank.go). The
// sensor adds its faults (sensor.go) and the board those of its clock and power
// (clock.go). A session is a pure function of its options, seed included, and is
// made sample by sample in constant memory.
//
// What it leaves out: filling that shifts, a chain that goes slack or snatches,
// the hand's mass while it touches the bag, and friction other than a steady
// decay.
//
// It imports only the vocabulary of dataset, so that any package may test
// itself on it.
package simulate

import (
	"errors"
	"fmt"
	"iter"
	"math"
	"slices"

	"strikerose/dataset/rig"
)

// Options says what is simulated. Usual fills them in for an ordinary session.
type Options struct {
	Rig  *rig.Rig
	Seed uint64

	// What is thrown: either a plan, which the striker carries out with all his
	// scatter, or strikes exactly as given, in order of time. A plan is gone
	// through several times and must come out the same each time.
	Plan    iter.Seq[Blow]
	Exactly []Strike

	Striker Striker
	Flex    Flex
	Sensor  Sensor
	Board   Board

	// LargeAngles steps chain and bag as rods in space, exact at any angle, by
	// rig.Pendulum instead of the modes. It takes several times as long, and
	// measured frequencies of swing and rocking do not enter.
	LargeAngles bool

	LeadS, TailS float64 // rest before the first blow, and what is logged after the last
}

// Usual returns the options of an ordinary session of n strikes: a plan drawn
// from the usual mix, the usual striker, sensor and board.
func Usual(r *rig.Rig, n int, seed uint64) Options {
	return Options{
		Rig: r, Seed: seed,
		Plan:    slices.Values(RandomPlan(r, n, UsualMix(), seed)),
		Striker: UsualStriker(), Flex: UsualFlex(), Sensor: UsualSensor(r), Board: UsualBoard(),
		LeadS: 3, TailS: 3,
	}
}

// bag returns the bag at rest.
func (o Options) bag() bag {
	if o.LargeAngles {
		return newRods(o.Rig.Mechanics(), o.Flex)
	}
	return newModal(o.Rig.Mechanics(), o.Flex)
}

// Session is a simulated session, ready to be run any number of times.
type Session struct {
	o Options
}

// NewSession checks the options. It errors on what cannot be simulated.
func NewSession(o Options) (*Session, error) {
	if o.Rig == nil {
		return nil, errors.New("simulate: no rig is given")
	}
	if err := o.Rig.Validate(); err != nil {
		return nil, fmt.Errorf("simulate: %w", err)
	}
	if (o.Plan == nil) == (o.Exactly == nil) {
		return nil, errors.New("simulate: give either a plan or exact strikes")
	}
	var faults []error
	if !(o.LeadS >= 0 && o.TailS >= 0 && finite(o.LeadS, o.TailS)) {
		faults = append(faults, fmt.Errorf("simulate: a lead of %g s and a tail of %g s: give times of 0 or more", o.LeadS, o.TailS))
	}
	faults = append(faults, o.Flex.check(), o.Sensor.check(o.Rig), o.Board.check())
	if o.Plan != nil {
		faults = append(faults, o.Striker.check(), checkPlan(o.Rig, o.Plan))
	} else {
		faults = append(faults, checkExact(o.Exactly))
	}
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	return &Session{o}, nil
}

// finite tells whether all values are numbers.
func finite(values ...float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// Rig returns the rig that is simulated.
func (s *Session) Rig() *rig.Rig { return s.o.Rig }

// Truth returns the strikes that landed while the board logged, by rising time
// on the true clock, whose zero is the session's first sample. Strikes whose
// contact a brown-out touches are left out, as shoves are. It runs the
// blows alone, without bag and sensor.
func (s *Session) Truth() []Strike {
	var out []Strike
	begin, end := newPower(s.o), newPower(s.o)
	for p := range s.pushes() {
		if off := begin.off(p.TimeS); end.off(p.TimeS+p.ContactS) || off || p.shove {
			continue
		}
		out = append(out, p.Strike)
	}
	return out
}

// streams number the independent random sequences that one seed gives, so that
// a fault that is turned on does not change the blows.
const (
	streamPlan = iota + 1
	streamStriker
	streamShoves
	streamNoise
	streamBlips
	streamClock
	streamLosses
	streamPower
)
