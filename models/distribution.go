package models

import (
	"math"

	"strikerose/dataset/bearing"
)

// Bearing is the distribution that an estimate states of the bearing, about
// BearingDeg: von Mises about it and, with the share of flips, about its
// opposite, together of the circular standard deviation stated.
func (e Estimate) Bearing() bearing.Spread {
	return bearing.SpreadOf(e.BearingSDDeg, e.FlipShare)
}

// Height is the distribution that an estimate states of the height.
func (e Estimate) Height() Normal { return Normal{MeanM: e.HeightM, SDM: e.HeightSDM} }

// Normal is a normal distribution of a height in metres.
type Normal struct{ MeanM, SDM float64 }

// Density is the probability per metre at a height.
func (n Normal) Density(heightM float64) float64 {
	z := (heightM - n.MeanM) / n.SDM
	return math.Exp(-z*z/2) / (n.SDM * math.Sqrt(2*math.Pi))
}

// CDF is the probability of a height of at most heightM.
func (n Normal) CDF(heightM float64) float64 {
	return math.Erfc((n.MeanM-heightM)/(n.SDM*math.Sqrt2)) / 2
}

// Quantile is the height that CDF gives a probability for.
func (n Normal) Quantile(p float64) float64 {
	return n.MeanM - n.SDM*math.Sqrt2*math.Erfcinv(2*p)
}

// HalfM is the half-width of the interval about the mean that holds a share of
// the probability.
func (n Normal) HalfM(share float64) float64 { return n.SDM * math.Sqrt2 * math.Erfinv(share) }

// WrongFaceChance is the stated probability that the strike landed on another
// face, of so many, than the one that BearingDeg lies on.
func (e Estimate) WrongFaceChance(faces int) float64 {
	if faces < 2 {
		return 0
	}
	half := 180 / float64(faces)
	off := bearing.Diff(e.BearingDeg, bearing.FaceCentre(bearing.FaceOf(e.BearingDeg, faces), faces))
	s := e.Bearing() // the same on both sides, so half of what lies within an edge's distance is before that edge
	return 1 - (s.Within(half-off)+s.Within(half+off))/2
}
