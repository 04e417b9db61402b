package main

import (
	"context"

	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/label/truth"
)

// clockOf returns what a truth is laid over: the onsets of a session's strikes, and
// its stretches between restarts.
func clockOf(ctx context.Context, c *corpus.Corpus, s dataset.Session) (onsetsNs []int64, epochs []truth.Epoch, err error) {
	strikes, _, err := c.Strikes(s.Name)
	if err != nil {
		return nil, nil, err
	}
	sig, err := c.Signal(ctx, s.Name)
	if err != nil {
		return nil, nil, err
	}
	onsetsNs = make([]int64, len(strikes))
	for i, strike := range strikes {
		onsetsNs[i] = strike.OnsetNs
	}
	return onsetsNs, truth.Epochs(sig, s.RawPerSecond), nil
}

// laid is what is said of a truth or of notes laid over a session.
type laid struct {
	Strikes int         `json:"strikes"`
	Matched int         `json:"matched"`
	Missed  int         `json:"missed"`   // entries without a strike found
	Extra   int         `json:"extra"`    // strikes found without an entry
	InPause int         `json:"in_pause"` // entries while the board was off
	Outside int         `json:"outside"`  // entries before the recording or after it
	Written int         `json:"journal_lines"`
	Fits    []truth.Fit `json:"fits"`
	Notes   []string    `json:"notes,omitempty"`
}

// laidOver counts a placement over so many strikes found.
func laidOver(p truth.Placement, strikes, written int, notes []string) laid {
	out := laid{Strikes: strikes, Matched: len(p.Pairs), Missed: len(p.Missed), Extra: len(p.Extra), Written: written, Fits: p.Fits, Notes: notes}
	for _, where := range p.Where {
		switch where {
		case truth.InPause:
			out.InPause++
		case truth.Outside:
			out.Outside++
		}
	}
	return out
}
