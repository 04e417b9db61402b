package models

import (
	"context"
	"fmt"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/features/chain"
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

// WindowOptions says how much of a window a detector reads: all that features
// read before the onset, and its own wait after it, with rotation rates or
// without.
func WindowOptions(d Detector, gyro bool) chain.Options {
	preMs, _ := features.Longest()
	return chain.Options{PreMs: preMs, PostMs: d.Info().Wait(gyro)}
}

// CheckGyro refuses a detector that only guesses without rotation rates where there
// are none (gyro is false), and says what to take instead.
func CheckGyro(d Detector, gyro bool) error {
	info := d.Info()
	switch {
	case gyro || !info.NeedsGyro:
		return nil
	case info.Kind == Rule:
		return fmt.Errorf("%s needs a gyroscope, and there are no rotation rates: take physics, a rule that does without, or train a detector on labelled sessions without them", info.Name)
	}
	return fmt.Errorf("%s learned from rotation rates and needs a gyroscope, and there are none: train it on labelled sessions without them, or take physics, a rule that does without", info.Name)
}

// Apply runs the chain, the features and a detector over a signal, on the
// samples alone, and returns a row a strike in the order of their onsets. A
// detector that needs a gyroscope is refused where there is none (CheckGyro).
func Apply(ctx context.Context, d Detector, r *rig.Rig, sig *dataset.Signal) ([]ApplyRow, error) {
	if err := CheckGyro(d, r.HasGyro() && sig.HasGyro()); err != nil {
		return nil, fmt.Errorf("apply: %w", err)
	}
	windows, err := chain.Run(ctx, r, sig, WindowOptions(d, r.HasGyro() && sig.HasGyro()))
	if err != nil {
		return nil, fmt.Errorf("apply %s: %w", d.Info().Name, err)
	}
	out := make([]ApplyRow, 0, len(windows))
	for _, w := range windows {
		out = append(out, ApplyWindow(d, r, w))
	}
	return out, nil
}

// ApplyWindow answers for one window.
func ApplyWindow(d Detector, r *rig.Rig, w *dataset.Window) ApplyRow {
	row := ApplyRow{OnsetNs: w.Strike.OnsetNs, ReadyNs: w.Strike.ReadyNs, PeakMPS2: w.Strike.PeakMPS2}
	row.Estimate = d.Estimate(InputOf(w, r))
	row.Face = r.FaceOf(row.BearingDeg)
	if w.Strike.Clipped {
		row.Flags = append(row.Flags, FlagClipped)
	}
	if row.Unsure {
		row.Flags = append(row.Flags, FlagUnsure)
	}
	if w.Strike.NearGap {
		row.Flags = append(row.Flags, FlagNearGap)
	}
	return row
}
