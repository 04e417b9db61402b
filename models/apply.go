package models

import (
	"context"
	"errors"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// Flags of an applied row.
const (
	FlagClipped = "clipped"
	FlagUnsure  = "unsure"
	FlagNearGap = "near-gap"
)

// ApplyRow is one found strike with its estimate. Times are on the session's
// repaired clock.
type ApplyRow struct {
	Session string // left empty by Apply; the caller's to fill
	OnsetNs int64
	ReadyNs int64 // when the answer could have been given
	Estimate
	Face     int
	PeakMPS2 float64
	Flags    []string // of FlagClipped, FlagUnsure, FlagNearGap
}

// Apply runs the chain, the features and a detector over a signal, on the
// samples alone.
func Apply(ctx context.Context, d Detector, r *rig.Rig, sig *dataset.Signal) ([]ApplyRow, error) {
	return nil, errors.New("models: apply: not written yet")
}
