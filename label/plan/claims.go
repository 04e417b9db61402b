package plan

import (
	"math"

	"strikerose/dataset"
	"strikerose/label"
)

// Claims writes an alignment as claims, one for each labelled find. strikes
// are those that the finds were made from, in the same order; faces is the
// rig's number of faces. Faces of an anticlockwise plan are renumbered
// clockwise. Session, author and time are filled in by label.Revise.
func (a Alignment) Claims(entries []Entry, strikes []dataset.Strike, faces int) []label.Claim {
	if len(strikes) != len(a.Finds) {
		panic("plan: strikes and finds differ in number")
	}
	var out []label.Claim
	for j, f := range a.Finds {
		if f.State != Labelled {
			continue
		}
		e := entries[f.Entry]
		face := e.Face
		if a.Sense < 0 {
			face = (faces-(face-1))%faces + 1
		}
		out = append(out, label.Claim{
			OnsetNs: strikes[j].OnsetNs, Source: label.Plan,
			Face: face, Band: e.Band, Kind: e.Kind, Pair: e.Pair, PlanOrder: e.Order,
			Confidence:   math.Round(f.Posterior*1e4) / 1e4,
			BearingSDDeg: label.AimSDDeg, HeightSDM: label.AimSDM,
		})
	}
	return out
}
