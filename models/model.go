package models

import (
	"math"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/features"
)

// Model is a detector of any family: a core that answers, the yaw offset of
// each rig revision that it was trained on, and how certain it is.
type Model struct {
	info      Info
	options   Options // that it was fitted with, every setting named
	core      core
	prior     Certainty // of the family, see recipe
	blind     Certainty
	Rigs      []RigYaw
	Certainty Certainty
	Scores    []Score // errors by cross-validation of each form tried, the chosen one first
}

// Score is a form's mean absolute errors on strikes that were held back.
type Score struct {
	Form          string  `json:"form"`
	BearingMAEDeg float64 `json:"bearing_mae_deg"`
	HeightMAEM    float64 `json:"height_mae_m"`
	Flips         float64 `json:"flips"` // share of bearings more than 120 degrees off
	Strikes       int     `json:"strikes"`
}

// Info describes the detector as it was fitted.
func (m *Model) Info() Info { return m.info }

// Parameters returns the family's own parameters: *PeakArctangent,
// *KickDirection, *PrincipalAxis, *ComplexRidge, *Nearest, *Cart, *Forest or
// *Boosted. They must not be changed.
func (m *Model) Parameters() any { return m.core }

// YawDeg is the yaw offset of a rig revision, added to every bearing; known is
// false, and the offset 0, for a rig without labels.
func (m *Model) YawDeg(rigKey string) (deg float64, known bool) {
	y, known := find(m.Rigs, rigKey)
	return y.YawDeg, known
}

// Stated is what is said beside the answers on one rig.
type Stated struct {
	Certainty            // of a strike of usual difficulty
	MountSDDeg float64   // added to the bearing's figures, as variances add; 0 for none
	Least      Certainty // no answer is said to be surer than this
}

// CertaintyFor is what is stated for one rig revision: the certainty of all with
// the rig's own factors. For a rig without labels the largest doubt of any rig
// stands, and its mount's unknown turn comes on top; as nothing was measured on
// it, no answer is surer than without labels at all. Where rotation rates are
// missed, on a rig with too few labels to measure anything, a strike may lie
// nearly anywhere: recordings without a gyroscope hardly carry from rig to rig.
func (m *Model) CertaintyFor(r *rig.Rig) Stated { return m.stated(r.Key(), r.HasGyro()) }

func (m *Model) stated(rigKey string, gyro bool) Stated {
	y, known := find(m.Rigs, rigKey)
	s := Stated{Certainty: m.Certainty}
	s.BearingSDDeg, s.BearingHalf90Deg = s.BearingSDDeg*y.BearingFactor, s.BearingHalf90Deg*y.BearingFactor
	s.HeightSDM, s.HeightHalf90M = s.HeightSDM*y.HeightFactor, s.HeightHalf90M*y.HeightFactor
	if s.Calibrated && !known {
		s.MountSDDeg, s.Least = mountSDDeg, m.prior
	}
	if measured := s.Calibrated && known && y.Labels >= leastToCalibrate; !measured && m.core.blind(gyro) {
		s.Least = m.blind
	}
	return s
}

// An untrained rig's mount may be turned by some degrees, which no measured
// certainty holds: this is added to its standard deviation.
const mountSDDeg = 3.0

// mostFlip is the probability of a flip from which a strike is unsure.
const mostFlip = 0.05

// mayFlip widens what is stated of the bearing by the probability of a flip: the
// standard deviation is that of the mixture of two opposite directions of equal
// spread, and the interval leaves out one in ten of both together.
func (e *Estimate) mayFlip(share float64) {
	if !(share > 0) {
		return
	}
	r := math.Exp(-math.Pow(bearing.Rad(e.BearingSDDeg), 2) / 2)
	e.BearingSDDeg = bearing.SDDeg(math.Max(r*math.Abs(1-2*share), 1e-6))
	if share >= 1-share90 {
		e.BearingHalf90Deg = 180
		return
	}
	// As if normal: the quantile for the share of the near side alone.
	wider := math.Erfinv(share90/(1-share)) / math.Erfinv(share90)
	e.BearingHalf90Deg *= wider
}

// Weakest push that counts: below it the reading is noise and sway.
const weakestKickMPS = 0.02

// Estimate answers for one strike. It is unsure where half the bearing's 90 %
// interval is wider than half a face, where a feature had no value, or where
// the push is weaker than what sway and noise give (0.02 m/s).
func (m *Model) Estimate(in Input) Estimate {
	in.Row = within(in.Row, m.options.WithinMs)
	q, h, doubt, whole := ask(m.core, in)
	yaw, _ := m.YawDeg(in.Rig.Key())
	certainty := m.stated(in.Rig.Key(), hasGyro(in.Row))
	deg := bearing.Wrap360(bearing.Of(q) + yaw)
	if math.IsNaN(deg) {
		deg, whole = 0, false
	}
	if math.IsNaN(h) || math.IsInf(h, 0) {
		h, whole = in.Rig.Bag.LengthM/2, false
	}
	s := certainty.Difficulty.scale(in.Row) * doubt.bearing
	e := Estimate{
		BearingDeg: deg, BearingSDDeg: certainty.BearingSDDeg * s, BearingHalf90Deg: certainty.BearingHalf90Deg * s,
		HeightM: h, HeightSDM: certainty.HeightSDM * doubt.height, HeightHalf90M: certainty.HeightHalf90M * doubt.height,
	}
	least := certainty.Least
	e.BearingSDDeg = math.Max(math.Hypot(e.BearingSDDeg, certainty.MountSDDeg), least.BearingSDDeg)
	e.BearingHalf90Deg = math.Max(math.Hypot(e.BearingHalf90Deg, 1.645*certainty.MountSDDeg), least.BearingHalf90Deg)
	e.HeightSDM, e.HeightHalf90M = math.Max(e.HeightSDM, least.HeightSDM), math.Max(e.HeightHalf90M, least.HeightHalf90M)
	e.mayFlip(doubt.flip)
	if !whole { // a guess: anything is possible
		e.BearingSDDeg = math.Max(e.BearingSDDeg, 100)
		e.BearingHalf90Deg = 180
		e.HeightSDM = math.Max(e.HeightSDM, in.Rig.Bag.LengthM/math.Sqrt(12))
		e.HeightHalf90M = math.Max(e.HeightHalf90M, in.Rig.Bag.LengthM/2)
	}
	e.BearingHalf90Deg = math.Min(e.BearingHalf90Deg, 180)
	faces := max(in.Rig.Faces, 1)
	e.Unsure = !whole || doubt.flip > mostFlip || e.BearingHalf90Deg > 180/float64(faces) || kickMPS(in.Row) < weakestKickMPS
	return e
}

// kickMPS is how hard the strike moved the bag: the larger of kick and, with a
// gyroscope, the centre of mass's share.
func kickMPS(row features.Row) float64 {
	if !row.Has("kick") { // cut off before the end of the contact
		z, _ := vectors(row, []string{"first_motion"}, nil)
		return math.Sqrt(size2(z[0]))
	}
	z, _ := vectors(row, []string{"kick", "centre_kick"}, nil)
	return math.Sqrt(max(size2(z[0]), size2(z[1])))
}
