// Package truth reads timed truth about the strikes of a session and places
// it on the session's clock.
package truth

import (
	"context"
	"errors"
	"io"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/label"
)

// Entry is one strike of a timed truth.
type Entry struct {
	TimeS      float64 // on the truth's own clock
	BearingDeg float64
	HeightM    float64
	Face       int    // 0 where not given
	Band, Kind string // "" where not given
}

// Read reads timed truth: CSV with a header, at least time_s, bearing_deg and
// height_m. notes say what was ignored.
func Read(r io.Reader, name string, rg *rig.Rig) (entries []Entry, notes []string, err error) {
	return nil, nil, errors.New("not yet")
}

// Epoch is a stretch of a session between restarts of the board, on the
// session's clock. A restart of unknown length counts as zero there, so the
// truth's clock jumps ahead by the pause from one epoch to the next.
type Epoch struct{ StartNs, EndNs int64 }

// Epochs finds the stretches between restarts: segments whose board stamps go
// on are joined. rawPerSecond is the session's RawPerSecond.
func Epochs(sig *dataset.Signal, rawPerSecond float64) []Epoch { return nil }

// Fit is how the truth's clock lies against one epoch:
// truth seconds = OffsetS + session seconds x (1 + DriftPPM / 1e6).
type Fit struct {
	Epoch    Epoch
	OffsetS  float64
	DriftPPM float64
	Pairs    int     // matched
	SpreadMs float64 // of the residuals: 1.4826 times their median absolute deviation
	Borrowed bool    // too few pairs: drift of the neighbours, or not placed at all
	Placed   bool
}

// Pair is a truth entry matched with a found onset.
type Pair struct{ Entry, Onset int }

// Placement is a truth laid over a session.
type Placement struct {
	Fits    []Fit // one an epoch
	Pairs   []Pair
	OnsetNs []int64 // per entry: on the session's clock; for entries in a pause the end of the epoch before it
	InPause []bool  // per entry: struck while the board was off
	Missed  []int   // entries outside pauses without an onset
	Extra   []int   // onsets without an entry
}

// Match places timed truth on the session's clock.
func Match(ctx context.Context, entries []Entry, onsetsNs []int64, epochs []Epoch) (Placement, error) {
	return Placement{}, errors.New("not yet")
}

// Claims writes placed truth as claims, one for each entry outside pauses; with
// complete, one more that says that nothing else was a strike.
func (p Placement) Claims(entries []Entry, session, author string, complete bool) []label.Claim {
	return nil
}
