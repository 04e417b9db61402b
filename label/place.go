package label

import (
	"cmp"
	"math"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// Scatter of strikes that were aimed at the middle of a face and of a band: what
// a plan, or who names but face and band, does not say about where the hand landed.
// Common practice, no source.
const (
	AimSDDeg = 8.0
	AimSDM   = 0.04
)

// Place is where a claim says that a strike landed.
type Place struct {
	Face       int     // 0 where the claim does not say
	Band       string  // "" where the claim does not say
	BearingDeg float64 // NaN where the claim does not say
	HeightM    float64 // NaN where the claim does not say

	BearingSDDeg, HeightSDM float64 // 0 where the claim states a bearing or height without one
}

// PlaceOn works out where a claim says that the strike landed on a rig. A claim
// without a bearing stands for its face's centre, one without a height for its
// band's middle, each with the scatter of aim unless the claim states its own; a
// claim without face or band has them worked out from bearing and height. Faces and
// bands that the rig does not have give no bearing and no height.
func (c Claim) PlaceOn(r *rig.Rig) Place {
	p := Place{
		Face: c.Face, Band: c.Band, BearingDeg: math.NaN(), HeightM: math.NaN(),
		BearingSDDeg: c.BearingSDDeg, HeightSDM: c.HeightSDM,
	}
	if c.BearingDeg != nil {
		p.BearingDeg = bearing.Wrap360(*c.BearingDeg)
		if p.Face == 0 {
			p.Face = r.FaceOf(p.BearingDeg)
		}
	} else if p.Face >= 1 && p.Face <= r.Faces {
		p.BearingDeg = bearing.FaceCentre(p.Face, r.Faces)
		p.BearingSDDeg = cmp.Or(p.BearingSDDeg, AimSDDeg)
	}
	if c.HeightM != nil {
		p.HeightM = *c.HeightM
		if p.Band == "" {
			p.Band = r.BandOf(p.HeightM)
		}
	} else if from, to, ok := r.BandRange(p.Band); ok {
		p.HeightM = (from + to) / 2
		p.HeightSDM = cmp.Or(p.HeightSDM, AimSDM)
	}
	return p
}
