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
	Scores    []Score // errors by cross-validation of each form tried, the chosen one first: its own are those of choosing it as well
}

// Score is a form's mean absolute errors on strikes that were held back.
type Score struct {
	Form          string  `json:"form"`            // what was tried, in the family's own words; empty where there is one form alone
	BearingMAEDeg float64 `json:"bearing_mae_deg"` // mean size of the bearing error in degrees, in [0, 180]
	HeightMAEM    float64 `json:"height_mae_m"`    // mean size of the height error in metres, at least 0
	Flips         float64 `json:"flips"`           // share of bearings more than 120 degrees off, in [0, 1]
	Strikes       int     `json:"strikes"`         // how many strikes were held back, at least 0
}

// Info describes the detector as it was fitted.
func (m *Model) Info() Info { return m.info }

// Parameters returns the family's own parameters, as *ComplexRidge or *Forest;
// every family of Families has such a type, a pair *Paired, and a detector adapted
// to a rig those of what it was adapted from. They must not be changed.
func (m *Model) Parameters() any { return plain(m.core) }

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
	Least      Certainty // no answer is said to be surer than this, the mount apart
}

// CertaintyFor is what is stated for one rig revision: the certainty of all with
// the rig's own factors. For a rig without labels the largest doubt of any rig
// stands; as nothing was measured on it, no answer is surer than without labels
// at all. Where rotation rates are missed, on a rig with too few labels to
// measure anything, a strike may lie nearly anywhere: recordings without a
// gyroscope hardly carry from rig to rig.
//
// How far the mount is turned is uncertain too. Without labels of the rig that
// is what its rig file says (yaw_sd_deg); with few, the standard error of the
// yaw offset that they give; with more, the errors of held-back strikes hold it
// already, as they are those of yaw offsets learned without them.
func (m *Model) CertaintyFor(r *rig.Rig) Stated { return m.stated(r, r.HasGyro()) }

func (m *Model) stated(r *rig.Rig, gyro bool) Stated {
	y, known := find(m.Rigs, r.Key())
	s := Stated{Certainty: m.Certainty}
	s.BearingSDDeg, s.BearingHalf90Deg = s.BearingSDDeg*y.BearingFactor, s.BearingHalf90Deg*y.BearingFactor
	s.HeightSDM, s.HeightHalf90M = s.HeightSDM*y.HeightFactor, s.HeightHalf90M*y.HeightFactor
	if s.Calibrated && !known {
		s.Least = m.prior
	}
	measured := s.Calibrated && known && y.Labels >= leastToCalibrate
	if !measured && m.core.blind(gyro) {
		s.Least = m.blind
	}
	switch {
	case y.YawSDDeg > 0:
		s.MountSDDeg = y.YawSDDeg
	case y.Labels == 0:
		s.MountSDDeg = r.Sensor.YawUncertainDeg()
	case !measured:
		s.MountSDDeg = math.Max(y.Scatter, s.BearingSDDeg) / math.Sqrt(float64(y.Labels))
	}
	return s
}

// Weakest push that counts: below it the reading is noise and sway.
const weakestKickMPS = 0.02

// Estimate answers for one strike. It is a guess where a feature had no value,
// or where the push is weaker than what sway and noise give (0.02 m/s), and
// unsure where it is a guess or the chance of a wrong face is above the risk
// chosen.
func (m *Model) Estimate(in Input) Estimate {
	in.Row = within(in.Row, m.options.WithinMs)
	q, h, told, whole := ask(m.core, in)
	yaw, _ := m.YawDeg(in.Rig.Key())
	deg := bearing.Wrap360(bearing.Of(q) + yaw)
	if math.IsNaN(deg) {
		deg, whole = 0, false
	}
	if math.IsNaN(h) || math.IsInf(h, 0) {
		h, whole = in.Rig.Bag.LengthM/2, false
	}
	h = math.Min(math.Max(h, 0), in.Rig.Bag.LengthM)
	s := m.stated(in.Rig, hasGyro(in.Row))
	e := s.beside(told, in, h)
	e.BearingDeg = deg
	if !whole { // anything is possible
		e.BearingSDDeg = math.Max(e.BearingSDDeg, 100)
		e.BearingHalf90Deg = 180
		e.HeightSDM = math.Max(e.HeightSDM, in.Rig.Bag.LengthM/math.Sqrt(12))
		e.HeightHalf90M = math.Max(e.HeightHalf90M, in.Rig.Bag.LengthM/2)
	}
	e.Guess = !whole || kickMPS(in.Row) < weakestKickMPS
	e.Unsure = e.Guess || s.unsure(e, in.Rig.Faces)
	return e
}

// Usual is what is stated beside a strike of usual difficulty, without bearing
// and height; a board states it of all.
func (s Stated) Usual() Estimate {
	s.Difficulty, s.HeightDifficulty = nil, nil
	return s.beside(usualDoubt(), Input{}, 0)
}

// beside is a height and what is stated beside it and its bearing.
func (s Stated) beside(told doubt, in Input, heightM float64) Estimate {
	b, h := told.bearing*s.Difficulty.scale(in, heightM), told.height*s.HeightDifficulty.scale(in, heightM)
	e := Estimate{
		HeightM:          heightM,
		BearingSDDeg:     math.Hypot(math.Max(s.BearingSDDeg*b, s.Least.BearingSDDeg), s.MountSDDeg),
		BearingHalf90Deg: math.Hypot(math.Max(s.BearingHalf90Deg*b, s.Least.BearingHalf90Deg), normal90*s.MountSDDeg),
		HeightSDM:        math.Max(s.HeightSDM*h, s.Least.HeightSDM),
		HeightHalf90M:    math.Max(s.HeightHalf90M*h, s.Least.HeightHalf90M),
		FlipShare:        math.Min(told.flip+s.FlipShare, mostFlipShare),
	}
	e.BearingSDDeg = math.Hypot(e.BearingSDDeg, flipSDDeg(e.FlipShare))
	e.BearingHalf90Deg = math.Min(e.BearingHalf90Deg*flipWider(told.flip), 180)
	return e
}

// normal90 is how many standard deviations of a normal distribution are half of
// its 90 % interval.
const normal90 = 1.645

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
