package label

import (
	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// Standing returns the claims that no other claim supersedes, retractions
// left out, in order of onset.
func Standing(claims []Claim) []Claim { return nil }

// Revise returns what must be appended to a journal that holds old so that
// the standing claims of the session, source and author of next become just
// next: claims that stand already are kept, the rest are superseded. For
// plans and timed truth the author does not matter: a session has one plan
// and one timed truth. An empty result means that nothing is new.
//
// The claims of next must share session and source; IDs are filled in.
func Revise(old, next []Claim) []Claim { return nil }

// Label is what is claimed about one found strike.
type Label struct {
	Strike    int     // position in the strikes given to Resolve
	Claim     *Claim  // the preferred claim; nil where there is none
	Rivals    []Claim // other standing claims about the strike, by falling preference
	NotStrike bool    // by the preferred claim, or because a complete truth does not list it
}

// Resolve matches standing claims with found strikes, one to one within the
// tolerance for each source and author. prefer is timed, hand, plan (only
// claims of that source count) or best. Claims are reduced to the standing
// ones first. labels has one element a strike; orphans are the claims of the
// chosen sources about a strike that match none: strikes that were missed.
func Resolve(claims []Claim, strikes []dataset.Strike, prefer string, toleranceNs int64) (labels []Label, orphans []Claim) {
	return make([]Label, len(strikes)), nil
}

func placeOn(c Claim, r *rig.Rig) Place { return Place{} }
