package models

import (
	"context"

	"strikerose/models/physics"
)

// Physics fits the bag's equations of motion to the window (see package
// physics). The rig file alone says what to expect: no label teaches it but
// the yaw offset and how certain it is.
type Physics struct {
	WithinMs float64 `json:"within_ms,omitempty"` // after the onset, 0 the fit's own wait

	places *placings // of the strikes that it was fitted on; nil for a detector from a file
}

func (p *Physics) answer(in Input) (complex128, float64, bool) {
	q, h, _, whole := p.tell(in)
	return q, h, whole
}

// Usual spreads of the fit's answers: a strike's own, over these, are its
// difficulty.
const (
	physicsBearingDeg = 2.0
	physicsHeightM    = 0.03
)

func (p *Physics) tell(in Input) (complex128, float64, doubt, bool) {
	place := p.place(in)
	if !place.Whole {
		return place.Toward, place.HeightM, usualDoubt(), false
	}
	return place.Toward, place.HeightM, placeDoubt(place), true
}

// place fits the equations, unless that was done before.
func (p *Physics) place(in Input) physics.Place {
	if p.places == nil {
		return placed(in, p.WithinMs)
	}
	return p.places.of(in)
}

// placeDoubt is the fit's own doubt of its answer.
func placeDoubt(p physics.Place) doubt {
	return doubt{bearing: p.BearingSDDeg / physicsBearingDeg, height: p.HeightSDM / physicsHeightM, flip: p.FlipShare}
}

func (*Physics) features() []string { return []string{"kick"} }

func (p *Physics) waitMs(gyro bool) float64 { return placingMs(gyro, p.WithinMs) }

// cost is that of a strike at 400 Hz with a gyroscope, counted: 6 solutions of
// some 50 samples and 40 operations a sample and stage, 80 rows of 8 unknowns, a
// system of 8 equations and 61 depths.
func (*Physics) cost() Cost { return Cost{Macs: 60000, Numbers: 14} }

func (*Physics) blind(bool) bool { return false }

func physicsRule() recipe {
	r := rule(Info{
		Name:  "physics",
		Doc:   "fits swing, rocking, twist and the blow to the window, from the rig file alone",
		Gives: []string{"bearing", "height"}, UsesGyro: true, WaitMs: physics.WaitMs(false), GyroWaitMs: physics.WaitMs(true),
		NotBoard: "it integrates the bag's motion anew for every strike; pendulum is its form for boards",
	}, &Physics{}, priorCertainty(physicsBearingDeg, physicsHeightM), func() core { return &Physics{} })
	r.candidates = func(ex []Example, o Options) []candidate {
		places := &placings{withinMs: o.WithinMs}
		return []candidate{{name: "rule", fit: func(ctx context.Context, _ []Example, _ uint64) (core, error) {
			return &Physics{WithinMs: o.WithinMs, places: places}, places.learn(ctx, ex)
		}}}
	}
	return r.landing()
}
