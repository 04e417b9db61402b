package models

import (
	"fmt"

	"strikerose/dataset/rig"
)

// Constants are the lengths and masses of a rig that detectors compute with.
// Depths are metres below the bag's top edge. They are comparable, so that two
// descriptions that mean the same physics share what follows from them.
type Constants struct {
	LengthM            float64 `json:"length_m"`
	MassKg             float64 `json:"mass_kg"`
	RadiusM            float64 `json:"radius_m"`
	CentreOfMassDepthM float64 `json:"centre_of_mass_depth_m"`
	RadiusOfGyrationM  float64 `json:"radius_of_gyration_m"`
	TwistKgM2          float64 `json:"twist_kgm2"`
	ChainM             float64 `json:"chain_m"`
	StrapM             float64 `json:"strap_m"`
	SensorDepthM       float64 `json:"sensor_depth_m"`
	CoverGiven         bool    `json:"cover_given"` // the twist inertia counts the bag's skin
}

// ConstantsOf reads them from a rig's description.
func ConstantsOf(r *rig.Rig) Constants {
	in := r.Inertia()
	return Constants{
		LengthM:            r.Bag.LengthM,
		MassKg:             r.Bag.MassKg,
		RadiusM:            r.Bag.DiameterM / 2,
		CentreOfMassDepthM: in.CentreOfMassDepthM,
		RadiusOfGyrationM:  in.RadiusOfGyrationM,
		TwistKgM2:          in.TwistKgM2,
		ChainM:             r.Hang.ChainM,
		StrapM:             r.Hang.StrapM,
		SensorDepthM:       r.Sensor.DepthM,
		CoverGiven:         r.Bag.CoverMassKg > 0,
	}
}

// CentreHeightM is the height of the centre of mass above the bag's bottom.
func (c Constants) CentreHeightM() float64 { return c.LengthM - c.CentreOfMassDepthM }

// SensorAboveCentreM is the sensor's height above the centre of mass.
func (c Constants) SensorAboveCentreM() float64 { return c.CentreOfMassDepthM - c.SensorDepthM }

// geometry is the sensor's height above the centre of mass over the radius of
// gyration: what decides how the sensor sees a blow.
func (c Constants) geometry() float64 { return c.SensorAboveCentreM() / c.RadiusOfGyrationM }

// check refuses constants that no formula works with. Rig files are checked
// when they are read; a rig built by hand may not be.
func (c Constants) check() error {
	for _, v := range []struct {
		name  string
		value float64
	}{
		{"bag length", c.LengthM}, {"bag mass", c.MassKg}, {"bag radius", c.RadiusM},
		{"radius of gyration", c.RadiusOfGyrationM}, {"twist inertia", c.TwistKgM2},
	} {
		if !(v.value > 0 && v.value < 1e6) {
			return fmt.Errorf("%s is %g, not a positive number: mend the rig file", v.name, v.value)
		}
	}
	return nil
}
