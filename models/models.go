// Package models holds the detectors: what maps the features of one strike to
// its bearing, its height above the bag's bottom edge, and how sure both are.
//
// A detector is a rule (geometry alone, no training) or fitted (learned from
// labels). Both answer from a feature row and the rig's description; none sees
// a label when it answers. Every input gives a finite bearing and height,
// however unsure. Targets arrive as plain numbers, so labels are not known
// here. The package sits above features and dataset and below eval.
package models

import (
	"context"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/features"
)

// Input is what a detector may see of one strike: the window, its features and
// the rig. A window that is cut after the detector's wait serves as well as a
// whole one; without one, a detector that reads windows only guesses.
type Input struct {
	Row    features.Row
	Rig    *rig.Rig
	Window *dataset.Window
}

// InputOf extracts the features of a window.
func InputOf(w *dataset.Window, r *rig.Rig) Input {
	return Input{Row: features.Extract(w, r, nil), Rig: r, Window: w}
}

// Estimate is a detector's answer for one strike.
type Estimate struct {
	BearingDeg       float64 // [0, 360), the bag's own frame
	HeightM          float64 // above the bag's bottom edge
	BearingSDDeg     float64 // circular standard deviation, sqrt(-2 ln R), flips included
	HeightSDM        float64
	FlipShare        float64 // probability that it landed on the opposite side, below 0.5
	BearingHalf90Deg float64 // half-width of the 90 % interval, at most 180
	HeightHalf90M    float64
	Guess            bool // a feature had no value, or the strike is near the noise
	Unsure           bool // a guess, or the stated chance of another face is above the chosen risk
}

// Example is one labelled strike.
type Example struct {
	Input
	Session, Striker string
	BearingDeg       float64 // where it landed, degrees on the bag
	HeightM          float64 // metres above the bag's bottom edge
	BearingSDDeg     float64 // the label's own uncertainty, 0 where unknown
	HeightSDM        float64
}

// Detector answers for one strike at a time. It is immutable and safe for
// concurrent use.
type Detector interface {
	Info() Info
	Estimate(Input) Estimate
}

// Family is a kind of detector and how to fit one. For a rule Fit learns only
// the yaw offset and the certainty, and accepts no examples at all; a fitted
// family without examples is an error.
type Family struct {
	Info
	Settings []Setting // what a fit does not learn, see Options
	Fit      func(ctx context.Context, ex []Example, o Options) (Detector, error)
}
