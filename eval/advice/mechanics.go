package advice

import (
	"math"

	"strikerose/dataset/rig"
	"strikerose/eval/bound"
)

func (s *study) modes() []Mode {
	swing, rocking := s.mechanics.Modes()
	var out []Mode
	for _, m := range []struct {
		mode   rig.Mode
		decayS float64 // measured, else 0
		from   string  // of a frequency that was not measured
	}{
		{swing, s.mechanics.Motion.SwingDecayS, Computed},
		{rocking, s.mechanics.Motion.RockingDecayS, Computed},
		{s.mechanics.Twist(), s.mechanics.Motion.TwistDecayS, Usual},
	} {
		v := Mode{Name: m.mode.Name, Hz: m.mode.Hz, PeriodS: 1 / m.mode.Hz, DecayS: m.mode.DecayS, From: m.from, DecayFrom: Usual}
		if m.mode.Measured {
			v.From = Measured
		}
		if m.decayS > 0 {
			v.DecayFrom = Measured
		}
		out = append(out, v)
	}
	return out
}

func (s *study) mass() Mass {
	in := s.rig.Inertia()
	return Mass{CentreHeightM: s.rig.Bag.LengthM - in.CentreOfMassDepthM, CentreDepthM: in.CentreOfMassDepthM,
		GyrationM: in.RadiusOfGyrationM, TwistKgM2: in.TwistKgM2, Estimated: in.Estimated}
}

func (s *study) dead() Dead {
	m := s.mechanics
	var d Dead
	if h, onBag := m.DeadHeight(); !math.IsNaN(h) {
		d.HeightM, d.OnBag = &h, onBag
	}
	least := -weakShare / m.MassKg
	flip := flips(m)
	d.FlipFromM, d.FlipToM = flip.from, flip.to
	d.FlipShare = (d.FlipToM - d.FlipFromM) / m.LengthM
	d.WeakFromM, d.WeakToM = within(m, least, -least)
	d.DoubtM = bound.UsualRigPrior().CentreM
	higher, lower := m, m
	higher.CentreM -= d.DoubtM
	lower.CentreM += d.DoubtM
	d.DoubtFromM, d.DoubtToM = between(flips(higher), flips(lower))
	return d
}

// stretch is a stretch of heights in metres; equal ends are none.
type stretch struct{ from, to float64 }

// flips is where blows kick the sensor the wrong way round.
func flips(m rig.Mechanics) stretch {
	from, to := within(m, math.Inf(-1), 0)
	return stretch{from, to}
}

// between is the stretch from the least to the most of what lies in one of two
// stretches and not in both. Each begins or ends at an end of the bag, or is
// empty.
func between(a, b stretch) (fromM, toM float64) {
	switch {
	case a == b:
		return 0, 0
	case a.from == a.to:
		return b.from, b.to
	case b.from == b.to:
		return a.from, a.to
	case a.from == b.from:
		return min(a.to, b.to), max(a.to, b.to)
	case a.to == b.to:
		return min(a.from, b.from), max(a.from, b.from)
	}
	return min(a.from, b.from), max(a.to, b.to) // at opposite ends
}

// within returns the stretch of heights on the bag at which a blow gives the
// sensor an accelerance between two values; equal ends where there is none.
func within(m rig.Mechanics, least, most float64) (fromM, toM float64) {
	bottom, top := m.Accelerance(m.DepthM(0), m.SensorM), m.Accelerance(m.DepthM(m.LengthM), m.SensorM)
	at := func(accelerance float64) float64 { // linear in height
		if top == bottom {
			return math.Inf(1)
		}
		return (accelerance - bottom) / (top - bottom) * m.LengthM
	}
	if top == bottom {
		if bottom > least && bottom < most {
			return 0, m.LengthM
		}
		return 0, 0
	}
	a, b := at(least), at(most)
	fromM, toM = max(0, min(a, b)), min(m.LengthM, max(a, b))
	if fromM >= toM {
		return 0, 0
	}
	return fromM, toM
}

// clippedShare is the share of heights at which the hard blow passes a range.
func (s *study) clippedShare(m rig.Mechanics, rangeG float64) float64 {
	limit := rangeG * rig.StandardGravityMPS2 / s.sheet.Blow.PeakN
	from, to := within(m, -limit, limit)
	return 1 - (to-from)/m.LengthM
}
