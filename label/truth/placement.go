package truth

import (
	"fmt"
	"math"
	"slices"

	"strikerose/label"
)

// Pair is a truth entry matched with a found onset, by positions.
type Pair struct{ Entry, Onset int }

// Places of entries.
const (
	InEpoch = "in epoch" // on the session's clock
	InPause = "in pause" // while the board was off, or in an epoch that could not be placed
	Outside = "outside"  // before the recording's start or after its end
)

// Placement is a truth laid over a session.
type Placement struct {
	Fits    []Fit // one an epoch
	Pairs   []Pair
	Where   []string // of each entry
	OnsetNs []int64  // of each entry in an epoch, on the session's clock
	Missed  []int    // entries in an epoch without an onset
	Extra   []int    // onsets without an entry
	Notes   []string // what could not be placed
}

// placement writes up what was found.
func (s *search) placement() (Placement, error) {
	n := len(s.truth)
	p := Placement{Where: make([]string, n), OnsetNs: make([]int64, n), Notes: s.notes}
	matchedOnset := make([]bool, s.total)
	matchedEntry := make([]bool, n)
	within := 0
	for e, epoch := range s.epochs {
		f := Fit{Epoch: epoch, Onsets: len(s.onsets[e]), Placed: s.placed[e]}
		if f.Placed {
			l := s.lines[e]
			f.DriftPPM, f.Borrowed = l.drift*1e6, !s.own[e]
			f.OffsetS = l.offset - l.drift*l.at
			var residuals []float64
			for _, pair := range s.pairs[e] {
				k, j := pair[0], pair[1]
				if matchedEntry[s.order[k]] { // by the epoch before, across a restart of hardly a pause
					continue
				}
				f.Pairs++
				residuals = append(residuals, l.session(s.truth[k])-s.onsets[e][j])
				p.Pairs = append(p.Pairs, Pair{s.order[k], s.ids[e][j]})
				matchedEntry[s.order[k]], matchedOnset[s.ids[e][j]] = true, true
				p.put(s.order[k], l.session(s.truth[k]))
			}
			f.SpreadMs = 1e3 * spread(residuals)
			for k, T := range s.truth {
				t, i := l.session(T), s.order[k]
				if p.Where[i] == "" && t >= seconds(epoch.StartNs) && t <= seconds(epoch.EndNs) {
					p.put(i, t)
				}
			}
		}
		p.Fits = append(p.Fits, f)
	}
	first := slices.Index(s.placed, true)
	last := len(s.placed) - 1
	for !s.placed[last] {
		last--
	}
	for k, T := range s.truth {
		i := s.order[k]
		switch {
		case p.Where[i] != "":
			within++
			if !matchedEntry[i] {
				p.Missed = append(p.Missed, i)
			}
		case first == 0 && T < s.lines[0].truth(seconds(s.epochs[0].StartNs)),
			last == len(s.epochs)-1 && T > s.lines[last].truth(seconds(s.epochs[last].EndNs)):
			p.Where[i] = Outside
		default:
			p.Where[i] = InPause
		}
	}
	for j, matched := range matchedOnset {
		if !matched {
			p.Extra = append(p.Extra, j)
		}
	}
	if got, could := len(p.Pairs), min(within, s.total); float64(got) < minShare*float64(could) {
		return Placement{}, fmt.Errorf("%w: %d of %d strikes that could match do, where %.0f %% are asked: check that this truth belongs to this session",
			ErrNoPlace, got, could, 100*minShare)
	}
	return p, nil
}

func (p *Placement) put(entry int, t float64) {
	p.Where[entry], p.OnsetNs[entry] = InEpoch, int64(math.Round(t*1e9))
}

// Claims writes placed truth as claims, one for each entry on the session's
// clock. With complete, it also says of each placed stretch that nothing else
// in it was a strike. Session, author and time are filled in by label.Revise.
func (p Placement) Claims(entries []Entry, complete bool) []label.Claim {
	var out []label.Claim
	for i, e := range entries {
		if p.Where[i] != InEpoch {
			continue
		}
		out = append(out, label.Claim{
			OnsetNs: p.OnsetNs[i], Source: label.Timed,
			BearingDeg: &e.BearingDeg, HeightM: &e.HeightM, Face: e.Face, Band: e.Band, Kind: e.Kind,
			BearingSDDeg: e.BearingSDDeg, HeightSDM: e.HeightSDM, Confidence: 1,
		})
	}
	if complete {
		for _, f := range p.Fits {
			if f.Placed {
				out = append(out, label.Claim{OnsetNs: f.Epoch.StartNs, EndNs: f.Epoch.EndNs, Source: label.Timed, Complete: true})
			}
		}
	}
	return out
}
