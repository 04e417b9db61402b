package simulate

import (
	"cmp"
	"errors"
	"fmt"
	"iter"
	"math"
	"math/rand/v2"
	"slices"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// Blow is one entry of a plan.
type Blow struct {
	Order int
	Face  int
	Band  string
	Kind  string // straight, hook, uppercut, tap
	Pair  string // one, two (the second of a double hit) or ""
}

// Strike is one blow as it lands: the truth. Its force is a half-sine,
// PeakN sin(pi t / ContactS), at a fixed direction.
type Strike struct {
	TimeS      float64 // of first contact, on the true clock
	BearingDeg float64 // where it lands, against the bag's own marks, [0, 360)
	HeightM    float64 // above the bag's bottom edge
	Face       int     // that it lands on
	Band, Kind string

	PeakN    float64
	ContactS float64
	// ObliqueDeg is the angle delta between where the blow lands and where it
	// pushes from: the push comes from bearing BearingDeg - ObliqueDeg, so that
	// a part sin(delta) of it runs along growing bearing and turns the bag by
	// its torque -R F sin(delta) about the vertical.
	ObliqueDeg float64
	RiseDeg    float64 // of the force above the horizontal
}

// ImpulseNs is the horizontal impulse.
func (s Strike) ImpulseNs() float64 {
	return 2 / math.Pi * s.PeakN * math.Cos(bearing.Rad(s.RiseDeg)) * s.ContactS
}

// span is a range of values, drawn from evenly.
type span struct{ from, to float64 }

func (r span) draw(rng *rand.Rand) float64 { return r.from + (r.to-r.from)*rng.Float64() }

// kind is how a kind of strike is thrown.
type kind struct {
	peakN     span
	contactMs span
	oblique   span // degrees, to either side
	rise      span // degrees
}

// kindOf returns how a kind is thrown. Peak forces reach from the means of whole
// bouts, 867 to 1149 N (Pierce et al. 2006, J Quant Anal Sports), to those of
// single full blows at dummies: straight 3427 (SD 811) N (Walilko, Viano & Bir
// 2005, Br J Sports Med 39:710), lead straight 1035 to 1508 N (Liu et al. 2022,
// Front Physiol 13:1015154), hook 4405 (SD 2318) N (Viano et al. 2005,
// Neurosurgery 57:1154), of which a round at the bag holds few. Uppercuts are
// taken to be as hard as straights, taps a tenth of it. Contact times are an
// assumption without source for a bag: 12 ms follows from 2.9 kg x 9.14 m/s and
// the peak of Walilko et al., and a bag is softer than a dummy. The angles are
// assumptions without source too.
func kindOf(name string) (kind, bool) {
	switch name {
	case "straight":
		return kind{span{900, 3000}, span{12, 20}, span{0, 5}, span{-5, 5}}, true
	case "hook":
		return kind{span{900, 3500}, span{12, 20}, span{12, 30}, span{-5, 5}}, true
	case "uppercut":
		return kind{span{900, 3000}, span{12, 20}, span{0, 8}, span{20, 45}}, true
	case "tap":
		return kind{span{150, 400}, span{12, 20}, span{0, 5}, span{-5, 5}}, true
	}
	return kind{}, false
}

// How long the second of a double hit follows the first. An assumption without
// source.
func pairGapS() span { return span{0.180, 0.350} }

// How hard and how long a shove is. Assumptions without source.
func shoveN() span  { return span{100, 300} }
func shoveMs() span { return span{80, 160} }

// Mix is the shares of kinds in a random plan; straights are the rest. Pairs
// is the share of strikes that a double hit takes up.
type Mix struct{ Hooks, Uppercuts, Taps, Pairs float64 }

// UsualMix is a choice without source.
func UsualMix() Mix { return Mix{Hooks: 0.25, Uppercuts: 0.1, Taps: 0.05, Pairs: 0.2} }

// Check refuses shares that are none.
func (m Mix) Check() error {
	for _, s := range []float64{m.Hooks, m.Uppercuts, m.Taps, m.Pairs, m.Hooks + m.Uppercuts + m.Taps} {
		if !(s >= 0 && s <= 1) {
			return fmt.Errorf("shares of hooks %g, uppercuts %g, taps %g and of double hits %g: each, and the first three together, must lie between 0 and 1",
				m.Hooks, m.Uppercuts, m.Taps, m.Pairs)
		}
	}
	return nil
}

// RandomPlan draws a plan of n blows in which every face and band comes up
// equally often, to within one, in an order without pattern.
func RandomPlan(r *rig.Rig, n int, m Mix, seed uint64) []Blow {
	rng := rand.New(rand.NewPCG(seed, streamPlan))
	plan := make([]Blow, n)
	places := r.Faces * len(r.Bands)
	var left []int
	for i := range plan {
		if len(left) == 0 {
			left = rng.Perm(places)
		}
		place := left[len(left)-1]
		left = left[:len(left)-1]
		plan[i] = Blow{Order: i + 1, Face: 1 + place%r.Faces, Band: r.Bands[place/r.Faces].Name, Kind: m.draw(rng)}
	}
	for i := 0; i+1 < n; i++ {
		if rng.Float64() < m.Pairs/(2-m.Pairs) { // so that the share of strikes is Pairs
			plan[i].Pair, plan[i+1].Pair = "one", "two"
			i++
		}
	}
	return plan
}

func (m Mix) draw(rng *rand.Rand) string {
	u := rng.Float64()
	switch {
	case u < m.Hooks:
		return "hook"
	case u < m.Hooks+m.Uppercuts:
		return "uppercut"
	case u < m.Hooks+m.Uppercuts+m.Taps:
		return "tap"
	}
	return "straight"
}

// checkPlan refuses blows that the rig has no place for.
func checkPlan(r *rig.Rig, plan iter.Seq[Blow]) error {
	n := 0
	for b := range plan {
		n++
		_, _, band := r.BandRange(b.Band)
		if _, known := kindOf(b.Kind); !known || !band || b.Face < 1 || b.Face > r.Faces {
			return fmt.Errorf("simulate: blow %d of the plan (face %d, band %q, kind %q) cannot be thrown at rig %s: name one of its %d faces, one of its bands, and straight, hook, uppercut or tap",
				n, b.Face, b.Band, b.Kind, r.Key(), r.Faces)
		}
	}
	return nil
}

// checkExact refuses strikes that are no strikes.
func checkExact(strikes []Strike) error {
	if !slices.IsSortedFunc(strikes, func(a, b Strike) int { return cmp.Compare(a.TimeS, b.TimeS) }) {
		return errors.New("simulate: exact strikes are not in order of time: sort them")
	}
	for i, s := range strikes {
		if !finite(s.TimeS, s.BearingDeg, s.HeightM, s.PeakN, s.ContactS, s.ObliqueDeg, s.RiseDeg) {
			return fmt.Errorf("simulate: exact strike %d: %+v: give numbers only", i+1, s)
		}
		if s.TimeS < 0 || !(s.ContactS > 0) {
			return fmt.Errorf("simulate: exact strike %d at %g s with a contact of %g s: give a time of 0 or more and a contact above 0", i+1, s.TimeS, s.ContactS)
		}
	}
	return nil
}
