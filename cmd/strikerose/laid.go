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
	Strikes int         `json:"strikes"`         // how many strikes were found, at least 0
	Matched int         `json:"matched"`         // how many entries were matched with one of them, at least 0
	Missed  int         `json:"missed"`          // how many entries have no strike found, at least 0
	Extra   int         `json:"extra"`           // how many strikes found have no entry, at least 0
	InPause int         `json:"in_pause"`        // how many entries fall where the board was off, at least 0
	Outside int         `json:"outside"`         // how many entries lie before the recording or after it, at least 0
	Written int         `json:"journal_lines"`   // how many lines were added to the label journal, at least 0
	Fits    []truth.Fit `json:"fits"`            // how the other clock lies against the session's, a stretch between restarts of the board each
	Notes   []string    `json:"notes,omitempty"` // what to beware of, in words; absent where there is nothing
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
