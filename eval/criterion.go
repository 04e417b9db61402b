package eval

import (
	"cmp"
	"fmt"
	"math"
	"slices"

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
	pair          bool // of two families
	cost          Cost // the dearest on any rig
	n             float64
	criterion     float64
	square        float64 // mean square of what criterion is the mean of
	bearingMAEDeg float64
	heightMAEM    float64
	wrongFace     float64 // share of strikes
	wrongBand     float64
	failed        string // why it could not be fitted; "" where it could
}

// tally sums up a family's answers to cases that all have a score target.
func tally(name string, cases []Case, answers []models.Estimate, costs []Cost) picked {
	n := float64(len(cases))
	p := picked{name: name, cost: costs[0], n: n}
	for _, c := range costs {
		p.cost = dearest(p.cost, c)
	}
	for i, c := range cases {
		s := NewScore(answers[i], *c.Score, c.Rig, []string{"bearing", "height"})
		bearingDeg, heightM := math.Abs(s.BearingErrDeg), math.Abs(s.HeightErrM)
		p.bearingMAEDeg += bearingDeg / n
		p.heightMAEM += heightM / n
		one := Criterion(bearingDeg, heightM, c.Rig.Faces, len(c.Rig.Bands), c.Rig.Bag.LengthM)
		p.criterion += one / n
		p.square += one * one / n
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

// near tells whether p lies within one standard error of q, which ranks before
// it (the one-standard-error rule of Breiman, Friedman, Olshen and Stone 1984,
// section 3.4.3, value from memory).
func (p picked) near(q picked, byAim bool) bool {
	if byAim {
		wrong := math.Min(q.wrongFace+q.wrongBand, 1)
		return p.wrongFace+p.wrongBand <= q.wrongFace+q.wrongBand+math.Sqrt(wrong*(1-wrong)/q.n)
	}
	return p.criterion <= q.criterion+math.Sqrt(math.Max(q.square-q.criterion*q.criterion, 0)/q.n)
}

// handier orders two that are not told apart: what can be exported first, then
// what answers sooner, then what costs less.
func (p picked) handier(q picked) int {
	last := func(is bool) int {
		if is {
			return 1
		}
		return 0
	}
	return cmp.Or(
		cmp.Compare(last(!p.cost.Board), last(!q.cost.Board)),
		cmp.Compare(p.cost.WaitMs, q.cost.WaitMs),
		cmp.Compare(p.cost.whole(), q.cost.whole()),
		cmp.Compare(last(p.pair), last(q.pair)),
	)
}

// ranked returns the positions of those that could be fitted, the one to pick
// first and the others from the best on.
func ranked(values []picked, byAim bool) []int {
	order := make([]int, 0, len(values))
	for k, v := range values {
		if v.failed == "" {
			order = append(order, k)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch {
		case values[i].better(values[j], byAim):
			return -1
		case values[j].better(values[i], byAim):
			return 1
		}
		return 0
	})
	pick := 0
	for at, k := range order {
		if values[k].near(values[order[0]], byAim) && values[k].handier(values[order[pick]]) < 0 {
			pick = at
		}
	}
	if pick > 0 {
		k := order[pick]
		order = slices.Insert(slices.Delete(order, pick, pick+1), 0, k)
	}
	return order
}

// reason says in a sentence why the first in order was picked.
func reason(values []picked, order []int, byAim bool, how string) string {
	describe := func(p picked) string {
		return fmt.Sprintf("%.1f degrees, %.1f cm, %.2f, after %g ms", p.bearingMAEDeg, 100*p.heightMAEM, p.criterion, p.cost.WaitMs)
	}
	best := values[order[0]]
	yields := len(order) > 1 && values[order[1]].better(best, byAim)
	why := "its mean errors are the smallest in halves of a face plus halves of a band"
	if yields {
		why = "its mean errors are hardly larger than any other's in halves of a face plus halves of a band"
	}
	if byAim {
		describe = func(p picked) string {
			return fmt.Sprintf("%.1f %% wrong faces, %.1f %% wrong bands, after %g ms", 100*p.wrongFace, 100*p.wrongBand, p.cost.WaitMs)
		}
		why = "it misses the fewest faces and bands of the plan"
		if yields {
			why = "it misses hardly more faces and bands of the plan than any other"
		}
	}
	s := fmt.Sprintf("%s, because over %s, %s (%s", best.name, how, why, describe(best))
	if len(order) > 1 {
		s += fmt.Sprintf("; next %s with %s", values[order[1]].name, describe(values[order[1]]))
	}
	s += ")"
	if yields {
		s += "; " + best.yielding(values[order[1]])
	}
	if !best.cost.Board {
		s += "; it cannot be exported to a board (strikerose detectors tells which can)"
	}
	return s
}

// yielding says why p goes before one that errs less.
func (p picked) yielding(better picked) string {
	s := better.name + " is better by less than a standard error and "
	switch {
	case p.cost.Board != better.cost.Board:
		return s + "cannot be exported to a board"
	case p.cost.WaitMs != better.cost.WaitMs:
		return s + "answers later"
	}
	return s + "costs more"
}
