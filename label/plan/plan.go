// Package plan reads the order of strikes that a session was meant to have,
// which has no times, and aligns it with the strikes that were found.
//
// # Model
//
// Along plan and finds, one step at a time, the striker either carries out
// the next entry (match), leaves it out or misses the bag (miss), or strikes
// without one (extra; false finds are extras too). Sessions may start after
// the plan's first entries, end before its last ones, and begin or end with
// strikes that are in no plan. What a match looks like:
//
//   - The push came from bearing offset + sense x width x (face - 1), where
//     the offset is an unknown constant turn (mount yaw) and the sense is +1
//     for faces numbered clockwise; von Mises scatter, one concentration for
//     hooks and one for the rest; 5 % fall anywhere.
//   - Strikes beyond the dead height push the other way first, so each band
//     has a share of flipped pushes.
//   - Features that go with height are Gaussian for each band and for taps
//     apart. They are correlated, so their log likelihood counts 0.4 times,
//     within +-6.
//   - A find within half a second of the last is the second hit of a double
//     one, seldom anything else.
//   - Where the plan says when its strikes were called out, a strike follows
//     its call by one shift of the clocks and a reaction that scatters by 0.35
//     s. The shift is the one by which most strikes follow a call; where it
//     fits fewer than half of them, the calls do not count.
//
// All parameters are learned from the session itself by expectation
// maximisation over all alignments (the forward-backward algorithm of a pair
// hidden Markov model: Durbin, Eddy, Krogh and Mitchison, Biological Sequence
// Analysis, 1998, chapter 4), from 24 starts. A find is labelled where the
// posterior of one entry is 0.9 or more, and refused as ambiguous elsewhere.
//
// # What it cannot know
//
// An offset with flip shares f and the offset turned by 180 degrees with
// shares 1 - f explain the same pushes equally well. Labels do not suffer, but
// the offset must not be read as a mount yaw unless the rig's geometry says
// which bands flip. By convention the solution with fewer flipped strikes is
// given.
//
// # What it refuses
//
// A plan that fits no better than the same strikes in random order is refused
// as that of another session ([ErrChance]). Faces that fit as numbered
// anticlockwise are refused unless asked for ([ErrAnticlockwise]), since a
// plan's faces are numbered clockwise: the axes of the rig file may be wrong.
package plan

import (
	"context"
	"errors"
	"fmt"
	"math"

	"strikerose/dataset/bearing"
)

// Find is what the alignment needs to know of a found strike.
type Find struct {
	TimeS          float64   // onset, seconds, in rising order
	PushBearingDeg float64   // where the push came from, up to an unknown constant turn; NaN where unknown
	Height         []float64 // features that go with height; equally many for all finds, NaN where unknown
}

// Options of the alignment.
type Options struct {
	Faces         int     // of the rig; 0 means the largest face in the plan, at least 2
	Seed          uint64  // of the random orders that the fit is compared with
	MinPosterior  float64 // to be labelled; 0 means 0.9
	Anticlockwise bool    // accept faces numbered anticlockwise
	AnyOrder      bool    // do not compare with random orders
}

// States of a find.
const (
	Labelled  = "labelled"  // belongs to an entry of the plan
	Ambiguous = "ambiguous" // may belong to several entries, or to none: refused
	Extra     = "extra"     // belongs to none
)

// Assignment says which entry a find belongs to.
type Assignment struct {
	State     string
	Entry     int     // position of the likeliest entry; -1 where none is the likeliest
	Posterior float64 // probability of just that
}

// BandFlip is the share of a band's strikes whose push points the other way.
type BandFlip struct {
	Band  string
	Share float64
}

// Alignment is a plan laid over the finds of a session.
type Alignment struct {
	Finds  []Assignment // one a find
	Missed []int        // positions of entries that are likely to have no find

	Sense         int     // +1 faces numbered clockwise, -1 anticlockwise
	OffsetDeg     float64 // constant turn of the pushes against the faces, in (-180, 180]; see the package comment
	Bands         []BandFlip
	StraightSDDeg float64 // scatter of the pushes about the faces' centres
	HookSDDeg     float64
	MissRate      float64 // of the steps within plan and session
	ExtraRate     float64

	LogRatio  float64 // log likelihood against pushes from anywhere, in nats
	SenseNats float64 // by how much the sense given is likelier than the other
	Chance    Chance
}

// OtherFace tells whether the strikes lie nearer to other faces of the rig than
// to those that the plan names: a turn of more than half a face. A half turn
// is left aside, since the pushes cannot tell it from flips. The fit does not
// mind, but either the plan's faces or the rig file's yaw are then off.
func (a *Alignment) OtherFace(faces int) bool {
	aside := math.Abs(bearing.Wrap180(2*a.OffsetDeg)) / 2
	return faces > 0 && aside > 180/float64(faces)
}

// ErrChance marks an alignment that fits no better than random order does.
var ErrChance = errors.New("plan: it fits no better than the same strikes in random order")

// ErrAnticlockwise marks one that fits only with faces numbered anticlockwise.
var ErrAnticlockwise = errors.New("plan: the faces fit as numbered anticlockwise")

// most is the largest product of entries and finds that is aligned at once.
const most = 25_000_000

// longerBy is how many times as many entries as finds a plan may have that is
// longer than any that is made (mostPlanned): the search for where in it the
// session lies would take minutes.
const longerBy = 4

// senseNats is how much likelier anticlockwise numbering must be to be
// believed: odds of 400 to 1.
const senseNats = 6.0

// Align lays a plan over the finds of a session. Entries come in the order of
// the plan, finds in the order of time. An alignment that is refused is
// returned beside the error, for inspection.
func Align(ctx context.Context, entries []Entry, finds []Find, o Options) (Alignment, error) {
	if err := check(entries, finds); err != nil {
		return Alignment{}, err
	}
	if o.MinPosterior == 0 {
		o.MinPosterior = 0.9
	}
	if o.Faces == 0 {
		o.Faces = 2
		for _, e := range entries {
			o.Faces = max(o.Faces, e.Face)
		}
	}
	m := newModel(entries, finds, o.Faces)
	clockwise, err := m.search(ctx, +1, thorough())
	if err != nil {
		return Alignment{}, err
	}
	anticlockwise, err := m.search(ctx, -1, thorough())
	if err != nil {
		return Alignment{}, err
	}
	best, other := clockwise, anticlockwise
	if anticlockwise.logRatio > clockwise.logRatio+senseNats {
		best, other = anticlockwise, clockwise
	}
	a := m.describe(best, o.MinPosterior)
	a.SenseNats = best.logRatio - other.logRatio
	if !o.AnyOrder {
		if a.Chance, err = m.compareWithChance(ctx, entries, best, o.Seed); err != nil {
			return Alignment{}, err
		}
		if !a.Chance.Better() {
			return a, fmt.Errorf("%w (%s): check that this plan belongs to this session, and that its strikes were found", ErrChance, a.Chance)
		}
	}
	if a.Sense < 0 && !o.Anticlockwise {
		return a, fmt.Errorf("%w, 1e%.0f times as likely: a plan's faces are numbered clockwise seen from above; correct the sensor's axes in the rig file, or the numbers in the plan", ErrAnticlockwise, a.SenseNats/math.Ln10)
	}
	return a, nil
}

func check(entries []Entry, finds []Find) error {
	switch {
	case len(entries) == 0:
		return errors.New("plan: it has no strikes to align")
	case len(finds) == 0:
		return errors.New("plan: no strikes were found that it could be aligned with: find strikes first")
	case len(entries) > mostPlanned && len(entries) > longerBy*len(finds):
		return fmt.Errorf("plan: %d entries against %d finds: where there are more than %d, they may be at most %d times as many as the finds: give the part of the plan that belongs to this session", len(entries), len(finds), mostPlanned, longerBy)
	case len(entries) > most/len(finds):
		return fmt.Errorf("plan: %d entries and %d finds are too many to align at once: split the session", len(entries), len(finds))
	}
	for i, e := range entries {
		if e.Face < 1 {
			return fmt.Errorf("plan: entry %d: face %d is below 1", i+1, e.Face)
		}
	}
	for j, f := range finds {
		if len(f.Height) != len(finds[0].Height) {
			return fmt.Errorf("plan: find %d has %d height features, the first has %d: give all the same", j+1, len(f.Height), len(finds[0].Height))
		}
		if j > 0 && !(f.TimeS >= finds[j-1].TimeS) {
			return fmt.Errorf("plan: find %d at %g s comes after one at %g s: sort the finds by time", j+1, f.TimeS, finds[j-1].TimeS)
		}
	}
	return nil
}

// describe turns fitted parameters into an alignment.
func (m *model) describe(p params, minPosterior float64) Alignment {
	post := m.posteriors(p)
	a := Alignment{
		Finds: make([]Assignment, len(m.finds)), Sense: p.sense,
		StraightSDDeg: sdOf(p.kappa[0]), HookSDDeg: sdOf(p.kappa[1]),
		MissRate: p.miss, ExtraRate: p.extra,
		LogRatio: p.logRatio,
	}
	for j, f := range post.finds {
		as := Assignment{State: Ambiguous, Entry: f.entry, Posterior: f.posterior}
		if f.extra >= f.posterior {
			as.Entry, as.Posterior = -1, f.extra
		}
		if as.Posterior >= minPosterior {
			as.State = Labelled
			if as.Entry < 0 {
				as.State = Extra
			}
		}
		a.Finds[j] = as
	}
	for i, matched := range post.matched {
		if matched < 0.5 {
			a.Missed = append(a.Missed, i)
		}
	}
	// Of the two equal descriptions, give the one with fewer flipped strikes.
	flipped, all := 0.0, 0.0
	for b, share := range p.flip {
		flipped += share * post.band[b]
		all += post.band[b]
	}
	offset, turned := p.offsetDeg, flipped > all/2
	if turned {
		offset += 180
	}
	a.OffsetDeg = bearing.Wrap180(offset)
	for b, name := range m.bands {
		share := p.flip[b]
		if turned {
			share = 1 - share
		}
		a.Bands = append(a.Bands, BandFlip{Band: name, Share: share})
	}
	return a
}

func sdOf(kappa float64) float64 {
	return bearing.SDDeg(bearing.A1(kappa))
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
