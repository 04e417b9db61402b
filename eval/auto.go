package eval

import (
	"context"
	"errors"

	"strikerose/models"
)

// AutoOptions steers TrainAuto.
type AutoOptions struct {
	Seed      uint64
	MaxWaitMs float64 // longest wait after the onset; 0 is DefaultMaxWaitMs
	Workers   int
	Progress  Progress
}

// DefaultMaxWaitMs is how long after the onset an answer may take.
const DefaultMaxWaitMs = 75

// TrainAuto picks among families by cross-validation over the training
// sessions and returns the chosen one fitted on all of them, with a sentence
// that says why.
func TrainAuto(ctx context.Context, d *Data, families []models.Family, o AutoOptions) (models.Detector, string, error) {
	return nil, "", errors.New("eval: train: not written yet")
}
