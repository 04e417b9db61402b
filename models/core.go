package models

import (
	"context"
	"sync"
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
