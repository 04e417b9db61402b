package ringdown

import (
	"fmt"
	"math"

	"strikerose/dataset/rig"
)

// Comparison is one number as found beside what the rig file makes of it.
type Comparison struct {
	// What is what was measured: the frequency or decay of swing, rocking or twist, or e
	// = c + k2/c, which says where the sensor sits.
	What       string   `json:"what"`
	Unit       string   `json:"unit"`                 // unit of found and computed, one of "Hz", s or m
	Found      Value    `json:"found"`                // as measured
	Computed   *float64 `json:"computed,omitempty"`   // from the rig file's masses and lengths, in the same unit; absent where they do not tell it
	Difference *float64 `json:"difference,omitempty"` // found over computed less one; of e found less computed, metres; absent where nothing is computed
	// Beyond is whether the whole interval differs by more than the amplitude of usual
	// strikes and the stiff, straight bag of the computation explain.
	Beyond bool `json:"beyond"`
}

// How far what is found lies from what a right rig file computes. Choices: on
// simulated recordings with right rig files swing came out 0.9 % low at most,
// rocking 1.9 to 2.9 % low, as amplitude lowers it, and e within 1 mm.
const (
	swingFrom, swingTo     = -0.025, 0.02
	rockingFrom, rockingTo = -0.05, 0.02
	leverTolM              = 0.015
)

// Compare lays what was found beside what the rig's masses and lengths compute,
// and says in words what in the rig file to look at where they disagree. The
// rig's own measured motion is not used.
func Compare(f Found, m rig.Mechanics) (all []Comparison, advice []string) {
	m.Motion = rig.Motion{}
	swing, rocking := m.Modes()
	e := m.CentreM + m.GyrationM*m.GyrationM/m.CentreM
	relative := func(what string, found Value, computed, from, to float64) bool {
		d := found.Value/computed - 1
		beyond := found.Low > computed*(1+to) || found.High < computed*(1+from)
		all = append(all, Comparison{What: what, Unit: "Hz", Found: found, Computed: &computed, Difference: &d, Beyond: beyond})
		return beyond
	}
	alone := func(what, unit string, found *Value) {
		if found != nil {
			all = append(all, Comparison{What: what, Unit: unit, Found: *found})
		}
	}
	swingOff := relative("swing", f.Swing.Hz, swing.Hz, swingFrom, swingTo)
	alone("swing decay", "s", f.Swing.DecayS)
	rockingOff := relative("rocking", f.Rocking.Hz, rocking.Hz, rockingFrom, rockingTo)
	alone("rocking decay", "s", f.Rocking.DecayS)
	if f.Twist != nil {
		alone("twist", "Hz", &f.Twist.Hz)
		alone("twist decay", "s", f.Twist.DecayS)
	}
	leverOff := false
	if l := f.LeverM; l != nil {
		found := Value{Value: m.SensorM - l.Value, Low: m.SensorM - l.High, High: m.SensorM - l.Low}
		d := found.Value - e
		leverOff = found.Low > e+leverTolM || found.High < e-leverTolM
		all = append(all, Comparison{What: "e", Unit: "m", Found: found, Computed: &e, Difference: &d, Beyond: leverOff})
	}
	switch {
	case swingOff:
		advice = append(advice, fmt.Sprintf("the swing is that of a chain of %.2f m, with all else right, and not of %.2f m: measure hang.chain_m and hang.strap_m",
			chainFor(m, f.Swing.Hz.Value), m.ChainM))
	case rockingOff && leverOff:
		advice = append(advice, "rocking and e both disagree where the swing does not: the mass lies elsewhere in the bag; look at [core], bag.centre_of_mass_depth_m and bag.radius_of_gyration_m")
	case rockingOff:
		advice = append(advice, "only rocking disagrees: look at bag.radius_of_gyration_m, at [core] and at hang.strap_m")
	case leverOff:
		advice = append(advice, fmt.Sprintf("the modes agree and e does not: the sensor seems to sit at a depth of %.3f m below the bag's top edge and not at %.3f m: measure sensor.depth_m",
			f.LeverM.Value+e-m.StrapM, m.SensorM-m.StrapM))
	}
	return all, advice
}

// chainFor is the chain with which the bag would swing at a frequency.
func chainFor(m rig.Mechanics, hz float64) float64 {
	short, long := 0.001, 50.0
	for range 60 {
		m.ChainM = math.Sqrt(short * long)
		if swing, _ := m.Modes(); swing.Hz > hz {
			short = m.ChainM
		} else {
			long = m.ChainM
		}
	}
	return m.ChainM
}

// Motion is what was found as a rig file holds it, rounded to what it can be
// good for. What was not told stays as was.
func (f Found) Motion(was rig.Motion) rig.Motion {
	set := func(to *float64, v *Value, digits float64) {
		if v != nil && v.Value > 0 {
			size := math.Pow(10, digits-1-math.Floor(math.Log10(v.Value)))
			*to = math.Round(v.Value*size) / size
		}
	}
	m := was
	set(&m.SwingHz, &f.Swing.Hz, 4)
	set(&m.SwingDecayS, f.Swing.DecayS, 3)
	set(&m.RockingHz, &f.Rocking.Hz, 4)
	set(&m.RockingDecayS, f.Rocking.DecayS, 3)
	if f.Twist != nil {
		set(&m.TwistHz, &f.Twist.Hz, 4)
		set(&m.TwistDecayS, f.Twist.DecayS, 3)
	}
	return m
}
