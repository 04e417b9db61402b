// Package chain turns a stream of samples into windows around strikes.
//
// It is a row of explicit steps, each with declared state, cost and delay:
// axes, fill, despike, find, level, window. Whole, sample by sample and in
// blocks of any size it gives the same windows, bit for bit.
package chain

import (
	"context"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// Options sets the windows' length. A window is handed out when the finder
// has decided and PostMs after the onset have been read.
type Options struct {
	PreMs, PostMs float64
}

// Step describes one step of the chain.
type Step struct {
	Name, Doc    string
	DelaySamples int
	StateBytes   int
	OpsPerSample int
	Params       []Param
	Board        bool
}

// Param is one number that a step works with.
type Param struct {
	Name, Unit, Doc string
	Value           float64
}

// Chain is the state of a running chain.
type Chain struct{}

// New returns a chain for a rig's sensor.
func New(r *rig.Rig, o Options) (*Chain, error) { return &Chain{}, nil }

// Push takes one sample in the sensor's frame.
func (c *Chain) Push(s dataset.Sample) (*dataset.Window, bool) { return nil, false }

// Flush ends the recording.
func (c *Chain) Flush() []*dataset.Window { return nil }

// Steps describes the chain in the order in which a sample meets it.
func (c *Chain) Steps() []Step { return nil }

// Run sends a whole signal through a new chain.
func Run(ctx context.Context, r *rig.Rig, sig *dataset.Signal, o Options) ([]*dataset.Window, error) {
	return nil, nil
}
