// Package plan reads the order of strikes that a session was meant to have,
// which has no times, and aligns it with the strikes that were found.
package plan

import (
	"context"
	"errors"
	"io"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/label"
)

// Entry is one strike of a plan.
type Entry struct {
	Order int // as the file says
	Face  int
	Band  string
	Kind  string // straight, hook, uppercut or tap
	Pair  string // one, two or ""
}

// Read reads a plan: CSV with a header, columns order, face, band, kind and
// optionally pair.
func Read(r io.Reader, name string, rg *rig.Rig) ([]Entry, error) { return nil, errors.New("not yet") }

// Find is what the alignment needs to know of a found strike.
type Find struct {
	TimeS          float64   // onset, seconds
	PushBearingDeg float64   // direction that the push came from, with an unknown constant turn
	Height         []float64 // features that go with height, may be empty; equally long for all finds; NaN where unknown
}

// Options of the alignment.
type Options struct {
	Faces         int      // of the rig
	Bands         []string // of the rig, from the bottom
	Seed          uint64
	MinPosterior  float64 // to be labelled; 0 means 0.9
	Anticlockwise bool    // accept a solution with faces numbered anticlockwise
}

// States of a find.
const (
	Labelled  = "labelled"  // belongs to an entry of the plan
	Ambiguous = "ambiguous" // could belong to several, or to none: refused
	Extra     = "extra"     // belongs to none
)

// Assignment says which entry a find belongs to.
type Assignment struct {
	State     string
	Entry     int     // position in the entries: the likeliest one, -1 where the likeliest is none
	Posterior float64 // probability of that
}

// Alignment is a plan laid over the finds of a session.
type Alignment struct {
	Finds         []Assignment // one a find
	Missed        []int        // positions of entries that were not struck or not found
	Sense         int          // +1 faces numbered clockwise, -1 anticlockwise
	OffsetDeg     float64      // constant turn of the push bearings against the faces; see the package comment
	Bands         []BandFlip
	StraightSDDeg float64
	HookSDDeg     float64
	MissRate      float64
	ExtraRate     float64
	GainNats      float64 // log likelihood above that of chance, per find
	Warnings      []string
}

// BandFlip is the share of a band's strikes whose first push points the other way.
type BandFlip struct {
	Band  string
	Share float64
}

// Align lays a plan over the finds of a session.
func Align(ctx context.Context, entries []Entry, finds []Find, o Options) (Alignment, error) {
	return Alignment{}, errors.New("not yet")
}

// Claims writes an alignment as claims about a session's strikes, one for
// each labelled find. strikes are those that the finds were made from.
func (a Alignment) Claims(entries []Entry, strikes []dataset.Strike, session, author string) []label.Claim {
	return nil
}
