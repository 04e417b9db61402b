package bound

import (
	"fmt"
	"math"

	"strikerose/dataset/rig"
)

// RigPrior is how well the rig's constants are known: standard deviations of
// Gaussian priors. A field that is 0 is known exactly.
type RigPrior struct {
	CentreM    float64 // depth of the centre of mass
	GyrationM  float64 // radius of gyration
	ChainM     float64 // length of the chain
	SensorM    float64 // depth of the sensor
	DecayShare float64 // decay times of both modes, as a share of each
}

// UsualRigPrior is how well a careful owner with a tape measure knows a rig.
// Choices without source.
func UsualRigPrior() RigPrior {
	return RigPrior{CentreM: 0.02, GyrationM: 0.01, ChainM: 0.01, SensorM: 0.01, DecayShare: 0.3}
}

// constant is one uncertain constant of a rig: its prior's standard deviation
// and how to move a rig's mechanics by a number of these.
type constant struct {
	sd   float64
	move func(m *rig.Mechanics, by float64)
}

// constants lists what is uncertain.
func (p *RigPrior) constants() []constant {
	if p == nil {
		return nil
	}
	all := []constant{
		{p.CentreM, func(m *rig.Mechanics, by float64) { m.CentreM += by }},
		{p.GyrationM, func(m *rig.Mechanics, by float64) { m.GyrationM += by }},
		{p.ChainM, func(m *rig.Mechanics, by float64) { m.ChainM += by }},
		{p.SensorM, func(m *rig.Mechanics, by float64) { m.SensorM += by }},
		{p.DecayShare, func(m *rig.Mechanics, by float64) {
			swing, _ := m.Modes()
			m.Motion.SwingDecayS = swing.DecayS * (1 + by)
		}},
		{p.DecayShare, func(m *rig.Mechanics, by float64) {
			_, rocking := m.Modes()
			m.Motion.RockingDecayS = rocking.DecayS * (1 + by)
		}},
	}
	var some []constant
	for _, c := range all {
		if c.sd > 0 {
			some = append(some, c)
		}
	}
	return some
}

func (p *RigPrior) check(m rig.Mechanics) error {
	for _, x := range []struct {
		name      string
		sd, below float64
	}{
		{"centre of mass", p.CentreM, m.LengthM}, {"radius of gyration", p.GyrationM, m.GyrationM},
		{"chain", p.ChainM, m.ChainM}, {"sensor depth", p.SensorM, m.LengthM}, {"decay times", p.DecayShare, math.Inf(1)},
	} {
		if !(x.sd >= 0 && x.sd < x.below) {
			return fmt.Errorf("bound: prior on the %s has sd %g: give a number from 0 to below %g", x.name, x.sd, x.below)
		}
	}
	return nil
}
