package models

import (
	"context"
	"math"

	"strikerose/dataset/bearing"
)

// tried is a base with forms, and its errors on own strikes held back.
type tried struct {
	base            base
	bearing, height form
	missDeg, missM  []float64
	scale, scaleM   []float64
}

func (t tried) trial() Trial {
	missed := make([]residual, len(t.missDeg))
	for i := range missed {
		missed[i] = residual{bearingDeg: t.missDeg[i], heightM: t.missM[i]}
	}
	return Trial{
		Base: t.base.name, Detector: t.base.model.info.Name, Bearing: t.bearing.name, Height: t.height.name,
		Simulated: t.base.simulated || t.bearing.simulated || t.height.simulated, Score: score(t.base.name, missed),
	}
}

// lessons of others than the own labels may be left out to see what they gain.
type allowed struct{ simulated, others bool }

func (a allowed) takes(simulated, others bool) bool {
	return (a.simulated || !simulated) && (a.others || !others)
}

// choose tries every base with every form and keeps the best.
func (a *Adapted) choose(ctx context.Context, bases []base, to Target) (tried, error) {
	everything := make([]held, len(bases))
	for i, b := range bases {
		var err error
		if everything[i], err = holdBack(ctx, b, to); err != nil {
			return tried{}, err
		}
	}
	pick := func(of allowed) tried {
		var best tried
		for i, h := range everything {
			t := h.best(of)
			if i == 0 || of.takes(h.base.simulated, h.base.others) && best.beatenBy(t) {
				best = t
			}
		}
		return best
	}
	best := pick(allowed{true, true})
	chosen := best.trial()
	for _, h := range everything {
		trial := h.best(allowed{true, true}).trial()
		trial.Chosen = trial.Base == chosen.Base
		a.Trials = append(a.Trials, trial)
	}
	gain := func(without allowed) float64 { return 1 - chosen.Score.worth(pick(without).trial().Score, true)/2 }
	if len(to.Simulated) > 0 && len(to.Own) >= leastToCorrect {
		a.SimulatedGain = gain(allowed{false, true})
	}
	if len(to.Others) > 0 && len(to.Own) >= leastToCorrect {
		a.OthersGain = gain(allowed{true, false})
	}
	return best, nil
}

// held is a base with the errors of every form on own strikes held back.
type held struct {
	base              base
	bearings, heights []form
	missDeg, missM    [][]float64 // of each form
	scale, scaleM     []float64   // of the strikes' own difficulty, see residual
}

// best is the base with its best forms of those allowed.
func (h held) best(of allowed) tried {
	pick := func(forms []form, miss [][]float64) int {
		best := 0
		for k, f := range forms {
			if of.takes(f.simulated, f.others) && better(miss[best], miss[k], sureness(f.simulated)) {
				best = k
			}
		}
		return best
	}
	b, m := pick(h.bearings, h.missDeg), pick(h.heights, h.missM)
	return tried{
		base: h.base, bearing: h.bearings[b], height: h.heights[m],
		missDeg: h.missDeg[b], missM: h.missM[m], scale: h.scale, scaleM: h.scaleM,
	}
}

// holdBack holds own strikes back in turn and answers them by every form.
func holdBack(ctx context.Context, b base, to Target) (held, error) {
	h := held{base: b}
	var err error
	if h.bearings, h.heights, err = formsFor(b, to); err != nil {
		return h, err
	}
	own := to.Own
	folds := min(len(own), mostHeldBack)
	if b.again != nil {
		folds = againFolds
	}
	all := answers(plain(b.model.core), own)
	c := b.model.Certainty
	for _, l := range all {
		h.scale = append(h.scale, l.blow.doubt.bearing*c.Difficulty.scale(l.Input, l.blow.heightM))
		h.scaleM = append(h.scaleM, l.blow.doubt.height*c.HeightDifficulty.scale(l.Input, l.blow.heightM))
	}
	for range h.bearings {
		h.missDeg = append(h.missDeg, make([]float64, len(own)))
	}
	for range h.heights {
		h.missM = append(h.missM, make([]float64, len(own)))
	}
	for fold := range folds {
		if err := ctx.Err(); err != nil {
			return h, err
		}
		seen := all
		if b.again != nil {
			var rest []Example
			for i, e := range own {
				if i%folds != fold {
					rest = append(rest, e)
				}
			}
			m, err := b.again(ctx, rest)
			if err != nil {
				return h, err
			}
			seen = answers(m.core, own)
		}
		if err := h.fold(seen, fold, folds); err != nil {
			return h, err
		}
	}
	return h, nil
}

// fold learns every form on what one fold leaves and notes the errors in it.
func (h *held) fold(all []taught, fold, folds int) error {
	var rest []taught
	for i, l := range all {
		if i%folds != fold {
			rest = append(rest, l)
		}
	}
	for k, f := range h.bearings {
		c, err := learnCorrection(rest, f.terms, nil, f.start)
		if err != nil {
			return err
		}
		yaw, _ := learnYaw(rest, c)
		for i := fold; i < len(all); i += folds {
			h.missDeg[k][i] = bearing.Diff(all[i].missDeg(c), yaw)
		}
	}
	for k, f := range h.heights {
		c, err := learnCorrection(rest, nil, f.terms, f.start)
		if err != nil {
			return err
		}
		for i := fold; i < len(all); i += folds {
			_, m := c.apply(all[i].blow)
			h.missM[k][i] = all[i].HeightM - m
		}
	}
	return nil
}

// sureness is by how many standard errors what was learned must be better.
// Nobody struck what was simulated: it must prove itself.
func sureness(simulated bool) float64 {
	if simulated {
		return 2
	}
	return 1
}

// better tells whether errors b are smaller than a in size, by more than some
// standard errors of the mean difference.
func better(a, b []float64, errors float64) bool {
	var sum, sum2 float64
	n := float64(len(a))
	for i := range a {
		d := math.Abs(a[i]) - math.Abs(b[i])
		sum, sum2 = sum+d, sum2+d*d
	}
	mean := sum / n
	return mean > 0 && mean > errors*math.Sqrt(math.Max(sum2/n-mean*mean, 0)/n)
}

// beatenBy tells the same of bearing and height together, each over the mean
// size of t's errors.
func (t tried) beatenBy(o tried) bool {
	mean := func(x []float64) float64 {
		var s float64
		for _, v := range x {
			s += math.Abs(v) / float64(len(x))
		}
		return math.Max(s, 1e-9)
	}
	b, h := mean(t.missDeg), mean(t.missM)
	together := func(x tried) []float64 {
		out := make([]float64, len(x.missDeg))
		for i := range out {
			out[i] = math.Abs(x.missDeg[i])/b + math.Abs(x.missM[i])/h
		}
		return out
	}
	return better(together(t), together(o), sureness(o.trial().Simulated))
}
