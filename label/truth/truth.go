// Package truth reads timed truth about the strikes of a session, such as a
// video or a force plate gives, and places it on the session's clock.
//
// The truth's clock may start anywhere and run up to 1 % fast or slow. Its
// offset is found by voting: over a grid of drifts, every difference between
// a truth time and a found onset votes for an offset, and the fullest windows
// are refined by robust straight lines over pairs matched one to one. At a
// restart of the board the session's clock loses a pause of unknown length,
// so each stretch between restarts (epoch) has an offset of its own, never
// less than the one before it. Epochs with few strikes take the drift of the
// others.
//
// A truth is refused when fewer than half of its strikes, or of the found
// ones if those are fewer, match, or when another offset matches nearly as
// many: it belongs to another session, or the strikes are too regular or too
// few to tell.
package truth

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"strikerose/label/table"
)

// Limits of the placement.
const (
	usual      = 0.05   // seconds between a truth time and its onset
	maxDrift   = 0.01   // of the truth's clock against the session's
	minShare   = 0.5    // of the strikes that could match
	minLead    = 1.5    // times the pairs of the next best offset
	ownDrift   = 8      // pairs for a drift of one's own
	ownSpanS   = 20.0   // and the time that they must span
	fewest     = 3      // onsets of an epoch that can be placed
	fewestNear = 2      // the same, right after or before another epoch
	nearS      = 30.0   // seconds, the longest pause that counts as right after
	driftPlay  = 300e-6 // between epochs of a session
)

// Fit is how the truth's clock lies against one epoch's:
// truth seconds = OffsetS + session seconds x (1 + DriftPPM / 1e6).
type Fit struct {
	Epoch   Epoch   `json:"epoch"`    // the stretch of the session
	Onsets  int     `json:"onsets"`   // how many strikes were found in it, at least 0
	Placed  bool    `json:"placed"`   // whether the other clock could be placed; with too few strikes it cannot, and the rest is 0
	OffsetS float64 `json:"offset_s"` // what the other clock shows at the session's start, seconds
	// DriftPPM is how much faster it runs, parts in a million: its seconds are offset_s
	// + session seconds x (1 + drift_ppm / 1e6).
	DriftPPM float64 `json:"drift_ppm"`
	Borrowed bool    `json:"borrowed"` // whether the drift is that of other stretches, or not known, for want of strikes
	Pairs    int     `json:"pairs"`    // how many entries and strikes were matched, at least 0
	// SpreadMs is how far these lie apart once placed: 1.4826 times the median absolute
	// deviation, milliseconds, at least 0.
	SpreadMs float64 `json:"spread_ms"`
}

// ErrNoPlace marks a truth that cannot be placed.
var ErrNoPlace = errors.New("truth: it cannot be placed on the session's clock")

// Match places timed truth on the session's clock. onsetsNs are the found
// strikes; epochs come in order, at least one.
func Match(ctx context.Context, entries []Entry, onsetsNs []int64, epochs []Epoch) (Placement, error) {
	return MatchWithin(ctx, entries, onsetsNs, epochs, usual)
}

// MatchWithin is Match for truth of another accuracy: its times lie within
// toleranceS seconds of their onsets, at least 0.001 and at most 1.
func MatchWithin(ctx context.Context, entries []Entry, onsetsNs []int64, epochs []Epoch, toleranceS float64) (Placement, error) {
	switch {
	case !(toleranceS >= 0.001 && toleranceS <= 1):
		return Placement{}, fmt.Errorf("truth: a tolerance of %g s: give 1 ms to 1 s", toleranceS)
	case len(entries) == 0:
		return Placement{}, fmt.Errorf("%w: it lists no strikes", ErrNoPlace)
	case len(entries) > table.MaxStrikes:
		return Placement{}, fmt.Errorf("%w: it lists %d strikes, more than the %d of one session: split it", ErrNoPlace, len(entries), table.MaxStrikes)
	case len(onsetsNs) == 0:
		return Placement{}, fmt.Errorf("%w: no strikes were found in the session: find strikes first", ErrNoPlace)
	case len(epochs) == 0:
		return Placement{}, fmt.Errorf("%w: the session has no samples", ErrNoPlace)
	}
	s := newSearch(entries, onsetsNs, epochs)
	s.tolerance = toleranceS
	if err := s.placeAll(ctx); err != nil {
		return Placement{}, err
	}
	return s.placement()
}

// line is the truth's clock against the session's: T = offset + t + drift (t - at).
type line struct{ at, offset, drift float64 }

func (l line) truth(t float64) float64   { return l.offset + t + l.drift*(t-l.at) }
func (l line) session(T float64) float64 { return l.at + (T-l.offset-l.at)/(1+l.drift) }

// lag is how far the truth's clock is ahead at session time t.
func (l line) lag(t float64) float64 { return l.offset + l.drift*(t-l.at) }

// search holds the state of the placement. Times are seconds.
type search struct {
	tolerance float64
	truth     []float64 // by rising time
	order     []int     // entry of each
	epochs    []Epoch
	onsets    [][]float64 // of each epoch, by rising time
	ids       [][]int     // position of each in what Match was given
	total     int
	placed    []bool
	lines     []line
	own       []bool // drift of its own
	pairs     [][][2]int
	notes     []string
}

func newSearch(entries []Entry, onsetsNs []int64, epochs []Epoch) *search {
	n := len(epochs)
	s := &search{
		epochs: epochs, onsets: make([][]float64, n), ids: make([][]int, n), total: len(onsetsNs),
		placed: make([]bool, n), lines: make([]line, n), own: make([]bool, n), pairs: make([][][2]int, n),
	}
	s.order = sorted(len(entries), func(i int) float64 { return entries[i].TimeS })
	for _, i := range s.order {
		s.truth = append(s.truth, entries[i].TimeS)
	}
	for _, i := range sorted(len(onsetsNs), func(i int) float64 { return float64(onsetsNs[i]) }) {
		e := 0
		for e+1 < n && onsetsNs[i] >= epochs[e+1].StartNs {
			e++
		}
		s.onsets[e] = append(s.onsets[e], seconds(onsetsNs[i]))
		s.ids[e] = append(s.ids[e], i)
	}
	return s
}

func sorted(n int, key func(int) float64) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	slices.SortStableFunc(out, func(a, b int) int {
		switch x, y := key(a), key(b); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	return out
}

func seconds(ns int64) float64 { return float64(ns) / 1e9 }

// placeAll places the epoch with the most strikes that can be placed, then
// its neighbours outward.
func (s *search) placeAll(ctx context.Context) error {
	bySize := sorted(len(s.epochs), func(e int) float64 { return -float64(len(s.onsets[e])) })
	seed := -1
	var why error
	for _, e := range bySize {
		if len(s.onsets[e]) < fewest {
			break
		}
		err := s.place(ctx, e, window{math.Inf(-1), math.Inf(1)}, -maxDrift, maxDrift)
		if err == nil {
			seed = e
			break
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if why == nil {
			why = err
		}
	}
	if seed < 0 {
		if why == nil {
			why = fmt.Errorf("no stretch between restarts has %d found strikes", fewest)
		}
		return fmt.Errorf("%w: %w: check that this truth belongs to this session, that time_s is in seconds and that its strikes were found", ErrNoPlace, why)
	}
	for e := seed + 1; e < len(s.epochs); e++ {
		s.placeBeside(ctx, e, seed)
	}
	for e := seed - 1; e >= 0; e-- {
		s.placeBeside(ctx, e, seed)
	}
	return ctx.Err()
}

// placeBeside places an epoch between its placed neighbours, or notes why it
// cannot. Its drift is near the seed's, or just that where its strikes are
// too few to tell. What is ambiguous anywhere in the truth may be clear if
// the pause was short.
func (s *search) placeBeside(ctx context.Context, e, seed int) {
	n := len(s.onsets[e])
	if n == 0 {
		return
	}
	drift := s.lines[seed].drift
	low, high := drift-driftPlay, drift+driftPlay
	switch {
	case !s.own[seed]:
		low, high = -maxDrift, maxDrift
	case n < ownDrift || s.onsets[e][n-1]-s.onsets[e][0] < ownSpanS:
		low, high = drift, drift
	}
	err := fmt.Errorf("it has %d found strikes and needs %d", n, fewestNear)
	w := s.between(e)
	if n >= fewest {
		err = s.place(ctx, e, w, low, high)
	}
	if err != nil && n >= fewestNear {
		if e > seed {
			w.atEnd = min(w.atEnd, w.atStart+nearS)
		} else {
			w.atStart = max(w.atStart, w.atEnd-nearS)
		}
		err = s.place(ctx, e, w, low, high)
	}
	if err != nil {
		s.notes = append(s.notes, fmt.Sprintf("the stretch from %.3f to %.3f s could not be placed: %v",
			seconds(s.epochs[e].StartNs), seconds(s.epochs[e].EndNs), err))
	}
}

// window bounds the lag of the truth's clock at an epoch's start and end.
type window struct{ atStart, atEnd float64 }

// between returns the lags that placed neighbours leave to an epoch: pauses
// are never shorter than zero.
func (s *search) between(e int) window {
	w := window{math.Inf(-1), math.Inf(1)}
	for k := e - 1; k >= 0; k-- {
		if s.placed[k] {
			w.atStart = s.lines[k].lag(seconds(s.epochs[k].EndNs)) - s.tolerance
			break
		}
	}
	for k := e + 1; k < len(s.epochs); k++ {
		if s.placed[k] {
			w.atEnd = s.lines[k].lag(seconds(s.epochs[k].StartNs)) + s.tolerance
			break
		}
	}
	return w
}

// place finds the line of one epoch.
func (s *search) place(ctx context.Context, e int, w window, lowDrift, highDrift float64) error {
	onsets := s.onsets[e]
	var best, next fitted
	for _, start := range s.votes(onsets, w, s.epochs[e], lowDrift, highDrift) {
		if err := ctx.Err(); err != nil {
			return err
		}
		f := s.refine(onsets, start, lowDrift, highDrift)
		if !w.holds(f.line, s.epochs[e]) {
			continue
		}
		same := best.pairs != nil && math.Abs(f.line.lag(start.at)-best.line.lag(start.at)) <= 2*s.tolerance
		switch {
		case f.betterThan(best):
			if !same {
				next = best
			}
			best = f
		case !same && f.betterThan(next):
			next = f
		}
	}
	// By its found strikes, this epoch's share of the truth could match.
	could := math.Min(float64(len(onsets)), float64(len(s.truth))*float64(len(onsets))/float64(s.total))
	got, other := float64(len(best.pairs)), float64(len(next.pairs))
	lead := 2.0
	if w.atEnd-w.atStart <= nearS {
		lead = 1
	}
	switch {
	case len(best.pairs) < min(fewest, len(onsets)) || got < minShare*could:
		return fmt.Errorf("at best %d of %d found strikes match (%d in the truth), where %.0f %% are asked",
			len(best.pairs), len(onsets), len(s.truth), 100*minShare)
	case got < minLead*other || got < other+lead:
		return fmt.Errorf("%d found strikes match at one offset and %d at another, too close to tell: the strikes are too regular or too few",
			len(best.pairs), len(next.pairs))
	}
	s.placed[e], s.lines[e], s.own[e], s.pairs[e] = true, best.line, best.own, best.pairs
	return nil
}

func (w window) holds(l line, e Epoch) bool {
	return l.lag(seconds(e.StartNs)) >= w.atStart && l.lag(seconds(e.EndNs)) <= w.atEnd
}
