package eval

import (
	"math"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/models"
)

// NewScore scores an estimate against where a strike landed on a rig. What the
// truth does not say, or the detector does not give (gives lists "bearing" and
// "height"), is NaN. A bearing that is not a number although the detector
// gives bearings counts as wrong by 180 degrees, a height likewise as wrong by
// the bag's length, so that silence never pays.
func NewScore(e models.Estimate, truth Target, r *rig.Rig, gives []string) Score {
	s := noScore()
	for _, what := range gives {
		switch what {
		case "bearing":
			s.scoreBearing(e, truth, r)
		case "height":
			s.scoreHeight(e, truth, r)
		}
	}
	return s
}

// noScore is the score of a strike that there is no answer for.
func noScore() Score {
	nan := math.NaN()
	return Score{nan, nan, nan, nan, nan, nan, nan, nan, nan, nan}
}

func (s *Score) scoreBearing(e models.Estimate, truth Target, r *rig.Rig) {
	if math.IsNaN(truth.BearingDeg) {
		return
	}
	if math.IsNaN(e.BearingDeg) || math.IsInf(e.BearingDeg, 0) {
		s.BearingErrDeg, s.RightFace, s.BearingInside, s.BearingCRPSDeg = 180, 0, 0, 180
		return
	}
	s.BearingErrDeg = bearing.Diff(e.BearingDeg, truth.BearingDeg)
	s.RightFace = indicator(r.FaceOf(e.BearingDeg) == r.FaceOf(truth.BearingDeg))
	if stated(e.BearingHalf90Deg) {
		s.BearingHalfDeg = e.BearingHalf90Deg
		s.BearingInside = indicator(math.Abs(s.BearingErrDeg) <= e.BearingHalf90Deg)
	}
	if stated(e.BearingSDDeg) {
		s.BearingCRPSDeg = CircularCRPS(s.BearingErrDeg, e.Bearing())
	}
}

func (s *Score) scoreHeight(e models.Estimate, truth Target, r *rig.Rig) {
	if math.IsNaN(truth.HeightM) {
		return
	}
	s.LengthM = r.Bag.LengthM
	if math.IsNaN(e.HeightM) || math.IsInf(e.HeightM, 0) {
		s.HeightErrM, s.RightBand, s.HeightInside = r.Bag.LengthM, 0, 0
		return
	}
	s.HeightErrM = e.HeightM - truth.HeightM
	s.RightBand = indicator(r.BandOf(e.HeightM) == r.BandOf(truth.HeightM))
	if stated(e.HeightHalf90M) {
		s.HeightHalfM = e.HeightHalf90M
		s.HeightInside = indicator(math.Abs(s.HeightErrM) <= e.HeightHalf90M)
	}
}

// stated tells whether a detector states this part of its certainty at all.
func stated(x float64) bool { return x > 0 && !math.IsInf(x, 0) }

// CircularCRPS is the circular continuous ranked probability score, in
// degrees, of a stated distribution whose centre is off by errDeg: E d(X, y) -
// E d(X, X') / 2 with d the angular distance (Grimit, Gneiting, Berrocal and
// Johnson 2006, Quarterly Journal of the Royal Meteorological Society
// 132:2925-2942, equation 7). Since d(t) = pi/2 - (4/pi) sum over odd n of
// cos(n t)/n^2, it is a sum over the distribution's moments m(n), means of
// cos(n t): pi/4 + (4/pi) sum over odd n of (m(n)^2/2 - m(n) cos(n err))/n^2. 0
// is perfect; a concentration beyond a million, a spread of less than 0.06
// degrees to either side, counts as none.
func CircularCRPS(errDeg float64, stated bearing.Spread) float64 {
	err := math.Abs(bearing.Rad(bearing.Wrap180(errDeg)))
	if stated.Kappa > 1e6 {
		// Both directions without spread, half a turn apart.
		p := stated.FlipShare
		return bearing.Deg((1-p)*err + p*(math.Pi-err) - p*(1-p)*math.Pi)
	}
	sum := math.Pi / 4
	for k, m := range stated.Moments(15 + int(9*math.Sqrt(stated.Kappa))) { // until they are below rounding
		if n := float64(k + 1); k%2 == 0 {
			sum += 4 / (math.Pi * n * n) * (m*m/2 - m*math.Cos(n*err))
		}
	}
	return bearing.Deg(sum)
}
