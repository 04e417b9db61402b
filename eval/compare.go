package eval

import (
	"context"
	"errors"

	"strikerose/models"
)

// Leave kinds: what a split leaves out at a time.
const (
	LeaveSession  = "session"
	LeaveStriker  = "striker"
	LeaveRig      = "rig"      // a rig with all its revisions
	LeaveRevision = "revision" // one revision of a rig, training on its others
)

// Options steers a comparison.
type Options struct {
	Leave     string // "" is session
	Seed      uint64
	Resamples int     // of the bootstrap and the sign-flip test; 0 is 2000
	Level     float64 // of the intervals; 0 is 0.95
	Workers   int     // folds at once; 0 is the number of processors
	Progress  Progress
}

// Compare trains every family on each fold's training sessions and scores it
// on those left out.
func Compare(ctx context.Context, d *Data, families []models.Family, o Options) (*Comparison, error) {
	return nil, errors.New("eval: compare: not written yet")
}
