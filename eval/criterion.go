package eval

import (
	"fmt"
	"math"

	"strikerose/label"
	"strikerose/models"
)

// Criterion is what TrainAuto ranks by: the mean bearing error in halves of a
// face plus the mean height error in halves of a band (the rig's mean band).
// At 1 for either part a typical error reaches the edge of what was struck.
// Common practice, no source.
func Criterion(bearingMAEDeg, heightMAEM float64, faces, bands int, lengthM float64) float64 {
	return bearingMAEDeg/(180/float64(faces)) + heightMAEM/(lengthM/float64(bands)/2)
}

// mostlyAims tells whether most labels come from a plan. A plan says which face
// and band were meant, not where the hand landed: mean errors against its
// centres and middles would favour a detector that answers nothing but centres
// and middles, so only right and wrong are counted.
func mostlyAims(cases []Case) bool {
	plans := 0
	for _, c := range cases {
		if c.Train.Source == label.Plan {
			plans++
		}
	}
	return 2*plans > len(cases)
}

// picked is what cross-validation found of one family.
type picked struct {
	name          string
	criterion     float64
	bearingMAEDeg float64
	heightMAEM    float64
	wrongFace     float64 // share of strikes
	wrongBand     float64
	failed        string // why it could not be fitted; "" where it could
}

// tally sums up a family's answers to cases that all have a score target.
func tally(name string, cases []Case, answers []models.Estimate) picked {
	p := picked{name: name}
	n := float64(len(cases))
	for i, c := range cases {
		s := NewScore(answers[i], *c.Score, c.Rig, []string{"bearing", "height"})
		bearingDeg, heightM := math.Abs(s.BearingErrDeg), math.Abs(s.HeightErrM)
		p.bearingMAEDeg += bearingDeg / n
		p.heightMAEM += heightM / n
		p.criterion += Criterion(bearingDeg, heightM, c.Rig.Faces, len(c.Rig.Bands), c.Rig.Bag.LengthM) / n
		p.wrongFace += (1 - s.RightFace) / n
		p.wrongBand += (1 - s.RightBand) / n
	}
	return p
}

// better tells whether p ranks before q; among aims that are equally often met
// the criterion decides.
func (p picked) better(q picked, byAim bool) bool {
	const same = 1e-9
	if wrong, other := p.wrongFace+p.wrongBand, q.wrongFace+q.wrongBand; byAim && math.Abs(wrong-other) > same {
		return wrong < other
	}
	return p.criterion < q.criterion
}

// ranked returns the positions of the best and the second best, -1 where there
// is none.
func ranked(values []picked, byAim bool) (best, second int) {
	best, second = -1, -1
	for k, v := range values {
		switch {
		case v.failed != "":
		case best < 0 || v.better(values[best], byAim):
			best, second = k, best
		case second < 0 || v.better(values[second], byAim):
			second = k
		}
	}
	return best, second
}

// reason says in a sentence why the best was picked.
func reason(values []picked, best, second int, byAim bool, how string) string {
	describe := func(p picked) string {
		return fmt.Sprintf("%.1f degrees, %.1f cm, %.2f", p.bearingMAEDeg, 100*p.heightMAEM, p.criterion)
	}
	why := "its mean errors are the smallest in halves of a face plus halves of a band"
	if byAim {
		describe = func(p picked) string {
			return fmt.Sprintf("%.1f %% wrong faces, %.1f %% wrong bands", 100*p.wrongFace, 100*p.wrongBand)
		}
		why = "it misses the fewest faces and bands of the plan"
	}
	s := fmt.Sprintf("%s, because over %s %s (%s", values[best].name, how, why, describe(values[best]))
	if second >= 0 {
		s += fmt.Sprintf("; next %s with %s", values[second].name, describe(values[second]))
	}
	return s + ")"
}
