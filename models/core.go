package models

import (
	"context"
	"slices"
	"sync"

	"strikerose/features"
)

// core turns features into a direction and a height, before yaw offset and
// certainty. It is immutable once made.
type core interface {
	// answer gives the direction, y + i x of any length, and the height in
	// metres above the bag's bottom; both are finite. whole is false where
	// features had no value or contradict each other so much that the answer is
	// a guess.
	answer(in Input) (q complex128, heightM float64, whole bool)
	features() []string // that it reads, for the wait and the file
	cost() Cost
	// blind tells whether it misses rotation rates where it answers with
	// (gyro) or without them: what it states is then worth less unmeasured.
	blind(gyro bool) bool
}

// doubt is what a core knows of how far one answer may be off: its spread over
// the usual one, and the probability that the strike came from the other side.
type doubt struct{ bearing, height, flip float64 }

// usualDoubt is that of a core that knows nothing of its strikes.
func usualDoubt() doubt { return doubt{bearing: 1, height: 1} }

// teller is a core that tells its doubt with each answer.
type teller interface {
	core
	tell(in Input) (q complex128, heightM float64, d doubt, whole bool)
}

// ask gets a core's answer with its doubt.
func ask(c core, in Input) (q complex128, heightM float64, d doubt, whole bool) {
	if t, ok := c.(teller); ok {
		return t.tell(in)
	}
	q, heightM, whole = c.answer(in)
	return q, heightM, usualDoubt(), whole
}

// waiter is a core that reads the window for longer than its features do: up to
// waitMs after the onset, with or without rotation rates.
type waiter interface{ waitMs(gyro bool) float64 }

// gyroBound is a core that may have learned to read rotation rates, and then only
// guesses without them. What is none does without.
type gyroBound interface{ needsGyro() bool }

// needsGyro tells whether a core only guesses without rotation rates.
func needsGyro(c core) bool {
	b, ok := plain(c).(gyroBound)
	return ok && b.needsGyro()
}

// readRates tells whether one of the features is of rotation rates.
func readRates(names []string) bool {
	return slices.ContainsFunc(names, func(n string) bool { return features.DefOf(n).NeedsGyro })
}

// candidate is one way to fit a family; grouped cross-validation picks among
// several. Simpler ones come first.
type candidate struct {
	name string
	// lands: it says where the hand landed whatever the label says, so that its
	// errors and the labels' are independent. What follows the push alone errs
	// with the aim, as the push points from where it was aimed.
	lands bool
	fit   func(ctx context.Context, ex []Example, seed uint64) (core, error)
}

// ratioCache keeps the weights that follow from each rig's constants. What it
// returns depends on the constants alone, so sharing it is safe.
type ratioCache struct {
	make  func(Constants) *Ratio
	known sync.Map // Constants to *Ratio
}

func (c *ratioCache) of(k Constants) *Ratio {
	if r, ok := c.known.Load(k); ok {
		return r.(*Ratio)
	}
	r, _ := c.known.LoadOrStore(k, c.make(k))
	return r.(*Ratio)
}
