package models

import (
	"context"

	"strikerose/dataset/rig"
)

// Pendulum answers by the rig's own weights (see Ratio and ownWeights): with
// the apparent gravity held at one, the same equations that physics integrates
// for each strike give fixed weighted sums of features, which a board can
// hold. It needs a gyroscope; without one it guesses by the kick.
type Pendulum struct {
	Own []string `json:"own,omitempty"` // the features that it reads; nil is all that have weights of a rig's own

	cache ratioCache
}

func newPendulum(own []string) *Pendulum {
	p := &Pendulum{Own: own}
	p.cache.make = func(k Constants) *Ratio { return ownRatio(k, own, nil, nil, nil) }
	return p
}

// Ratio gives the steps and weights for one rig. The caller must not change
// them.
func (p *Pendulum) Ratio(r *rig.Rig) *Ratio { return p.cache.of(ConstantsOf(r)) }

func (p *Pendulum) answer(in Input) (complex128, float64, bool) {
	q, h, ok := p.Ratio(in.Rig).Answer(in.Row)
	if !ok && !hasGyro(in.Row) {
		z, _ := vectors(in.Row, []string{"kick"}, nil)
		return -z[0], in.Rig.Bag.LengthM / 2, false
	}
	return q, h, ok
}

func (p *Pendulum) features() []string {
	vectors, odd := splitOwn(p.Own)
	return append(vectors, odd...)
}

// cost: two complex sums, the parts along the direction, two real sums.
func (p *Pendulum) cost() Cost {
	vectors, _ := splitOwn(p.Own)
	n := len(vectors)
	return Cost{Macs: 8*n + 9, Numbers: 3*n + 3}
}

// blind: without rotation rates it guesses, and says so.
func (*Pendulum) blind(bool) bool { return false }

func pendulum() recipe {
	r := rule(Info{
		Name:  "pendulum",
		Doc:   "the rig's own weights: swing, rocking and the blow as fixed sums of features, from the rig file alone",
		Gives: []string{"bearing", "height"}, NeedsGyro: true, UsesGyro: true, WaitMs: 50, Board: true,
	}, newPendulum(nil), priorCertainty(3, 0.04), nil)
	r.candidates = func(_ []Example, o Options) []candidate {
		return []candidate{{name: "rule", fit: func(context.Context, []Example, uint64) (core, error) {
			own, err := o.own()
			return newPendulum(own), err
		}}}
	}
	r.decode = func(data []byte) (core, error) {
		var raw struct {
			Own []string `json:"own"`
		}
		if err := strict(data, &raw); err != nil {
			return nil, err
		}
		return newPendulum(raw.Own), checkOwn(raw.Own)
	}
	return r.landing()
}
