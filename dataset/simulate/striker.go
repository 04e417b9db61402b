package simulate

import (
	"fmt"
	"iter"
	"math"
	"math/rand/v2"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// Striker is how a plan is carried out. The zero value throws nothing: it has
// no gaps; start from UsualStriker.
type Striker struct {
	AimSDDeg            float64 // scatter about the middle of the planned face
	AimSDM              float64 // and of the planned band
	LeastGapS, MostGapS float64 // between the blows of no pair
	MissShare           float64 // of planned blows that do not land
	ShovesPerMin        float64 // between blows
	Force               float64 // multiplies every peak; 0: 1
}

// UsualStriker aims to 8 degrees and 4 cm, a choice without source, and strikes
// every two and a half to four and a half seconds, so that the bag still swings from
// earlier blows.
func UsualStriker() Striker {
	return Striker{AimSDDeg: 8, AimSDM: 0.04, LeastGapS: 2.5, MostGapS: 4.5, ShovesPerMin: 0.5}
}

// leastGapS keeps blows apart far enough to be two.
const leastGapS = 0.15

func (s Striker) check() error {
	switch {
	case !finite(s.AimSDDeg, s.AimSDM, s.ShovesPerMin, s.Force):
		return fmt.Errorf("simulate: striker: %+v: give numbers only", s)
	case !(s.LeastGapS >= leastGapS && s.MostGapS >= s.LeastGapS) || math.IsInf(s.MostGapS, 0):
		return fmt.Errorf("simulate: striker: gaps of %g to %g s: give %g s or more, the larger last", s.LeastGapS, s.MostGapS, leastGapS)
	case !(s.MissShare >= 0 && s.MissShare <= 1):
		return fmt.Errorf("simulate: striker: share of blows missed %g is not between 0 and 1", s.MissShare)
	case !(s.AimSDDeg >= 0 && s.AimSDM >= 0 && s.ShovesPerMin >= 0 && s.Force >= 0):
		return fmt.Errorf("simulate: striker: scatter %g degrees and %g m, %g shoves a minute, force %g: none may be below 0",
			s.AimSDDeg, s.AimSDM, s.ShovesPerMin, s.Force)
	}
	return nil
}

// push is what moves the bag: a strike, or a shove.
type push struct {
	Strike
	shove bool
}

// pushes yields everything that moves the bag, by rising time.
func (s *Session) pushes() iter.Seq[push] {
	if s.o.Plan == nil {
		return func(yield func(push) bool) {
			for _, x := range s.o.Exactly {
				if !yield(push{Strike: x}) {
					return
				}
			}
		}
	}
	return func(yield func(push) bool) {
		o := s.o
		rng := rand.New(rand.NewPCG(o.Seed, streamStriker))
		shoves := rand.New(rand.NewPCG(o.Seed, streamShoves))
		at := o.LeadS
		for b := range o.Plan {
			gap := span{o.Striker.LeastGapS, o.Striker.MostGapS}.draw(rng)
			pairGap := pairGapS().draw(rng)
			if b.Pair == "two" {
				gap = pairGap
			} else if p := o.Striker.shove(o.Rig, shoves, at, gap); p.shove && !yield(p) {
				return
			}
			at += gap
			x := o.Striker.strike(o.Rig, b, at, rng)
			if missed := rng.Float64() < o.Striker.MissShare; !missed && !yield(push{Strike: x}) {
				return
			}
		}
	}
}

// strike throws one blow of a plan.
func (s Striker) strike(r *rig.Rig, b Blow, at float64, rng *rand.Rand) Strike {
	k, _ := kindOf(b.Kind)
	from, to, _ := r.BandRange(b.Band)
	x := Strike{TimeS: at, Kind: b.Kind}
	x.BearingDeg = bearing.Wrap360(bearing.FaceCentre(b.Face, r.Faces) + s.AimSDDeg*rng.NormFloat64())
	x.HeightM = min(max((from+to)/2+s.AimSDM*rng.NormFloat64(), 0), r.Bag.LengthM)
	x.Face, x.Band = r.FaceOf(x.BearingDeg), r.BandOf(x.HeightM)
	x.PeakN, x.ContactS = k.peakN.draw(rng), k.contactMs.draw(rng)/1000
	if s.Force > 0 {
		x.PeakN *= s.Force
	}
	x.ObliqueDeg, x.RiseDeg = k.oblique.draw(rng), k.rise.draw(rng)
	if rng.IntN(2) == 0 {
		x.ObliqueDeg = -x.ObliqueDeg
	}
	return x
}

// shove draws whether there is a shove in the pause of gap seconds from at on,
// where there is room for one.
func (s Striker) shove(r *rig.Rig, rng *rand.Rand, at, gap float64) push {
	long := shoveMs().draw(rng) / 1000
	p := push{shove: true, Strike: Strike{
		TimeS: at + 0.5*(gap-long), ContactS: long, PeakN: shoveN().draw(rng),
		BearingDeg: 360 * rng.Float64(), HeightM: r.Bag.LengthM * (0.3 + 0.4*rng.Float64()),
	}}
	p.shove = rng.Float64() < s.ShovesPerMin*gap/60 && gap > 6*long
	return p
}
