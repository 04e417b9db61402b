package models

import (
	"context"
	"math"
)

// The rules answer by geometry. Labels teach them the yaw offset of a rig and
// how certain they are, nothing else.

// PeakArctangent takes the largest push: the bearing is against it. Past the
// dead height the sensor kicks the other way, and the bearing flips.
type PeakArctangent struct{}

func (*PeakArctangent) answer(in Input) (complex128, float64, bool) {
	z, ok := vectors(in.Row, []string{"peak"}, nil)
	return -z[0], in.Rig.Bag.LengthM / 2, ok && z[0] != 0
}
func (*PeakArctangent) features() []string { return []string{"peak"} }
func (*PeakArctangent) cost() Cost         { return Cost{Macs: 2, Numbers: 1} }
func (*PeakArctangent) blind(bool) bool    { return false }

// KickDirection takes the velocity change over the contact: the bearing is
// against it. With a gyroscope the change is carried to the centre of mass,
// which no height of a strike makes vanish; the twist says how far the push
// passed the axis, and the tip how far from the centre of mass it was.
type KickDirection struct{}

func (*KickDirection) answer(in Input) (complex128, float64, bool) {
	z, ok := vectors(in.Row, []string{"kick"}, nil)
	push, height := -z[0], in.Rig.Bag.LengthM/2
	if in.Row.Has("centre_kick", "oblique", "lever") {
		c, ok2 := vectors(in.Row, []string{"centre_kick"}, nil)
		s, ok3 := scalars(in.Row, []string{"oblique", "lever"}, nil)
		k := ConstantsOf(in.Rig)
		sin, cos := math.Sincos(-math.Asin(math.Min(math.Max(s[0], -0.6), 0.6)))
		push = -c[0] * complex(cos, sin)
		height = math.Min(math.Max(k.CentreHeightM()+s[1], 0), k.LengthM)
		ok = ok && ok2 && ok3
	}
	return push, height, ok && push != 0
}
func (*KickDirection) features() []string {
	return []string{"kick", "centre_kick", "oblique", "lever"}
}
func (*KickDirection) cost() Cost           { return Cost{Macs: 12, Numbers: 5} }
func (*KickDirection) blind(gyro bool) bool { return !gyro }

// PrincipalAxis takes the line along which the bag shakes most during contact,
// and the first motion to tell its ends apart.
type PrincipalAxis struct{}

func (*PrincipalAxis) answer(in Input) (complex128, float64, bool) {
	z, ok := vectors(in.Row, []string{"principal_axis"}, nil)
	return -z[0], in.Rig.Bag.LengthM / 2, ok && z[0] != 0
}
func (*PrincipalAxis) features() []string { return []string{"principal_axis"} }
func (*PrincipalAxis) cost() Cost         { return Cost{Macs: 2, Numbers: 1} }
func (*PrincipalAxis) blind(bool) bool    { return false }

// rule makes a recipe whose one form needs no fit.
func rule(info Info, c core, prior Certainty, empty func() core) recipe {
	info.Kind = Rule
	info.Cost = c.cost()
	return recipe{
		info: info, prior: prior, blind: priorCertainty(60, anywhereM),
		candidates: func([]Example, Options) []candidate {
			return []candidate{{name: "rule", fit: func(context.Context, []Example, uint64) (core, error) { return c, nil }}}
		},
		decode: func(data []byte) (core, error) {
			out := empty()
			return out, strict(data, out)
		},
	}
}

// landing makes a rule's recipe say that, with a gyroscope, the rule answers
// where the hand landed.
func (r recipe) landing() recipe {
	plain := r.candidates
	r.candidates = func(ex []Example, o Options) []candidate {
		list := plain(ex, o)
		for i := range list {
			list[i].lands = haveGyro(ex)
		}
		return list
	}
	return r
}

func peakArctangent() recipe {
	return rule(Info{
		Name:  "peak-arctangent",
		Doc:   "against the largest push: arctangent of its two parts",
		Gives: []string{"bearing"}, WaitMs: 32, Board: true,
	}, &PeakArctangent{}, priorCertainty(60, anywhereM), func() core { return &PeakArctangent{} })
}

func kickDirection() recipe {
	return rule(Info{
		Name:  "kick-direction",
		Doc:   "against the velocity change over the contact; with a gyroscope that of the centre of mass, with height",
		Gives: []string{"bearing", "height"}, UsesGyro: true, WaitMs: 32, Board: true,
	}, &KickDirection{}, priorCertainty(15, 0.12), func() core { return &KickDirection{} })
}

func principalAxis() recipe {
	return rule(Info{
		Name:  "principal-axis",
		Doc:   "against the line of strongest shaking, its end told by the first motion",
		Gives: []string{"bearing"}, WaitMs: 32,
		NotBoard: "no C is written for it",
	}, &PrincipalAxis{}, priorCertainty(60, anywhereM), func() core { return &PrincipalAxis{} })
}
