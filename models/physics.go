package models

import "strikerose/models/physics"

// Physics fits the bag's equations of motion to the window (see package
// physics). The rig file alone says what to expect: no label teaches it but
// the yaw offset and how certain it is.
type Physics struct{}

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

func (*Physics) tell(in Input) (complex128, float64, doubt, bool) {
	d := usualDoubt()
	if in.Window == nil {
		z, _ := vectors(in.Row, []string{"kick"}, nil)
		return -z[0], in.Rig.Bag.LengthM / 2, d, false
	}
	place := physics.NewBag(in.Rig).Place(in.Window)
	if !place.Whole {
		return place.Toward, place.HeightM, d, false
	}
	d.bearing, d.height = place.BearingSDDeg/physicsBearingDeg, place.HeightSDM/physicsHeightM
	d.flip = place.FlipShare
	return place.Toward, place.HeightM, d, true
}

func (*Physics) features() []string { return []string{"kick"} }

func (*Physics) waitMs(gyro bool) float64 { return physics.WaitMs(gyro) }

// cost is that of a strike at 400 Hz with a gyroscope, counted: 6 solutions of
// some 50 samples and 40 operations a sample and stage, 80 rows of 8 unknowns, a
// system of 8 equations and 61 depths.
func (*Physics) cost() Cost { return Cost{Macs: 60000, Numbers: 14} }

func (*Physics) blind(bool) bool { return false }

func physicsRule() recipe {
	return rule(Info{
		Name:  "physics",
		Doc:   "fits swing, rocking, twist and the blow to the window, from the rig file alone",
		Gives: []string{"bearing", "height"}, UsesGyro: true, WaitMs: physics.WaitMs(false), GyroWaitMs: physics.WaitMs(true),
		NotBoard: "it integrates the bag's motion anew for every strike; pendulum is its form for boards",
	}, &Physics{}, priorCertainty(physicsBearingDeg, physicsHeightM), func() core { return &Physics{} }).landing()
}
