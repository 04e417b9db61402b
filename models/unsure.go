package models

import (
	"fmt"
	"math"

	"strikerose/dataset/bearing"
)

// UsualRisk is the chance of a wrong face from which a strike is unsure, unless
// another is chosen. Where the 90 % interval is as wide as a face, so that a
// strike at the face's middle is on another one time in ten, a strike anywhere
// on the face is so one time in four.
const UsualRisk = 0.25

// mostFlip is the probability of a flip from which a strike is unsure at
// UsualRisk; at another risk it goes with it. A flip is worse than a
// neighbouring face.
const mostFlip = 0.05

// AtRisk returns the detector with its strikes called unsure from another
// chance of a wrong face.
func (m *Model) AtRisk(risk float64) (*Model, error) {
	if err := checkRisk(risk); err != nil {
		return nil, err
	}
	out := *m
	out.Certainty.Risk = risk
	return &out, nil
}

func checkRisk(risk float64) error {
	if !(risk > 0 && risk < 1) {
		return fmt.Errorf("risk %g: give the chance of a wrong face from which a strike is unsure, above 0 and below 1", risk)
	}
	return nil
}

// WrongFaceRisk is the chance of a wrong face from which a strike is unsure.
func (c Certainty) WrongFaceRisk() float64 {
	if c.Risk == 0 {
		return UsualRisk
	}
	return c.Risk
}

// unsure tells whether an estimate carries too much risk of a wrong face.
func (c Certainty) unsure(e Estimate, faces int) bool {
	risk := c.WrongFaceRisk()
	return e.FlipShare > mostFlip/UsualRisk*risk || e.WrongFaceChance(faces) > risk
}

// SureSDDeg is what a board goes by, which holds one threshold and no
// distribution: the bearing's circular standard deviation up to which a strike
// is sure. There the chance of a wrong face is at the risk for a strike that may
// lie anywhere on its face; WrongFaceChance knows how near an edge it is, so
// that the two differ about edges, and agree over many strikes. It is 0 where
// flips alone are too many.
func (c Certainty) SureSDDeg(faces int) float64 {
	risk := c.WrongFaceRisk()
	if c.FlipShare > mostFlip/UsualRisk*risk {
		return 0
	}
	low, high := 0.0, 180.0
	for range 40 {
		middle := (low + high) / 2
		near := bearing.SpreadOf(middle, 0)
		near.FlipShare = c.FlipShare
		if anywhereWrong(near, faces) > risk {
			high = middle
		} else {
			low = middle
		}
	}
	return math.Hypot(low, flipSDDeg(c.FlipShare))
}

// anywhereWrong is the chance of a wrong face, averaged over where on its face
// a strike is said to be: the mean over offsets of what WrongFaceChance gives.
func anywhereWrong(s bearing.Spread, faces int) float64 {
	if faces < 2 {
		return 0
	}
	const steps = 60 // of the face, Simpson's rule
	width := 360 / float64(faces)
	var right float64
	for i := 0; i <= steps; i++ {
		weight := 2.0 + 2*float64(i%2)
		if i == 0 || i == steps {
			weight = 1
		}
		right += weight * s.Within(width*float64(i)/steps) / (3 * steps)
	}
	return 1 - right
}

// flipSDDeg is what a share of flips adds to a circular standard deviation, as
// variances add: the resultant shrinks by 1 - 2 share.
func flipSDDeg(share float64) float64 { return bearing.SDDeg(1 - 2*share) }
