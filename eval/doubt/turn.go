package doubt

import (
	"math"
	"slices"

	"strikerose/dataset/bearing"
)

// turn says how a session's labels lie against estimates:
// label = deg + sense x estimate.
type turn struct {
	sense  int
	deg    float64 // (-180, 180]
	nats   float64 // by how much this sense fits better than the other
	fit    float64 // log likelihood, against bearings from anywhere
	labels int
}

// pair is a label's bearing and an estimate's, with the spread of their
// difference.
type pair struct{ labelDeg, estimateDeg, sdDeg float64 }

// stray is the share of labels that may lie anywhere while a turn is fitted.
const stray = 0.15

// support is the log likelihood of a turn against bearings from anywhere.
func support(pairs []pair, sense int, deg float64) float64 {
	sum := 0.0
	for _, p := range pairs {
		off := bearing.Diff(p.labelDeg-float64(sense)*p.estimateDeg, deg)
		sum += math.Log(360*(1-stray)*math.Exp(logT(off/p.sdDeg, p.sdDeg)) + stray)
	}
	return sum
}

// fitTurn finds the turn that fits best with one sense, to a quarter degree,
// and its log likelihood against bearings from anywhere.
func fitTurn(pairs []pair, sense int) (deg, logLikelihood float64) {
	best := math.Inf(-1)
	try := func(d float64) {
		if l := support(pairs, sense, d); l > best {
			deg, best = d, l
		}
	}
	for d := -180.0; d < 180; d += 3 {
		try(d)
	}
	for centre, d := deg, -3.0; d <= 3; d += 0.25 {
		try(centre + d)
	}
	return bearing.Wrap180(deg), best
}

// clockwise fits faces that are numbered clockwise.
func clockwise(pairs []pair) turn {
	deg, fit := fitTurn(pairs, +1)
	return turn{sense: +1, deg: deg, fit: fit, labels: len(pairs)}
}

// turnOf fits both senses to a session's labels; anticlockwise must fit much
// better to be believed.
func turnOf(pairs []pair) turn {
	t := clockwise(pairs)
	deg, fit := fitTurn(pairs, -1)
	if t.nats = t.fit - fit; -t.nats > mirrorNats {
		return turn{sense: -1, deg: deg, nats: -t.nats, fit: fit, labels: len(pairs)}
	}
	return t
}

const (
	mirrorNats  = 10 // a sense that fits by so much better is believed: odds of 20000 to 1
	togetherDeg = 15 // turns of sessions that are this near are alike
	fewForTurn  = 12 // labels below which a session has the turn of its rig
)

// common is the turn that most labels of a rig revision share; of equally many
// the smallest. Sessions that are mirrored have no vote unless all are.
func common(turns []turn) float64 {
	var votes []turn
	for _, t := range turns {
		if t.sense > 0 && t.labels >= fewForTurn {
			votes = append(votes, t)
		}
	}
	deg, most := 0.0, 0
	slices.SortStableFunc(votes, func(a, b turn) int {
		return int(math.Copysign(1, math.Abs(a.deg)-math.Abs(b.deg)))
	})
	for _, v := range votes {
		n := 0
		var near, weight []float64
		for _, w := range votes {
			if math.Abs(bearing.Diff(w.deg, v.deg)) <= togetherDeg {
				n += w.labels
				near, weight = append(near, w.deg), append(weight, float64(w.labels))
			}
		}
		if n > most {
			most = n
			mean, _ := bearing.WeightedMean(near, weight)
			deg = bearing.Wrap180(mean)
		}
	}
	return deg
}

// judge splits a session's turn, against the common one of its rig, into whole
// faces and a rest. A right label = common + estimate; so a mirrored label is
// steps x width - right label, a rotated one right label + steps x width.
func (t turn) judge(commonDeg float64, faces int) (steps int, restDeg float64) {
	width := 360 / float64(faces)
	over := bearing.Wrap180(t.deg - float64(t.sense)*commonDeg)
	k := math.Round(over / width)
	steps = ((int(k) % faces) + faces) % faces
	return steps, over - k*width
}

// mended is the bearing of a label whose faces were numbered in this sense from
// a face that many steps away.
func mended(deg float64, sense, steps, faces int) float64 {
	return bearing.Wrap360(float64(sense) * (deg - float64(steps)*360/float64(faces)))
}
