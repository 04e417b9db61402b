package rig

import "math"

// Plane is a bag's small motion in one vertical plane at one instant, in the
// coordinates of Mechanics: the lower pivot's displacement y and the bag's
// angle q, with their rates.
type Plane struct {
	PivotM, AngleRad    float64
	PivotMPS, TurnRadps float64
}

// Struck returns the motion right after a blow of an impulse in N s, at a depth,
// to a bag that hung at rest.
func (m Mechanics) Struck(impulseNs, blowM float64) Plane {
	pivot, turn := m.Kick(blowM)
	return Plane{PivotMPS: impulseNs * pivot, TurnRadps: impulseNs * turn}
}

// Free is the small motion of a bag that is left to itself: the sum of swing
// and rocking, each a sine that dies away. It is exact at any time, not
// stepped. A mode rings at its Hz, whatever its decay: damping is part of a
// measured frequency, and would lower a computed one by less than a thousandth
// where the bag rocks four times or more within the decay.
type Free struct {
	mechanics Mechanics
	parts     [2]ring
}

// ring is the course of one mode: exp(-t/decay) (cosine cos wt + sine sin wt)
// times the mode's shape.
type ring struct {
	mode         Mode
	cosine, sine float64
}

// Free returns the motion that follows a state.
func (m Mechanics) Free(from Plane) Free {
	f := Free{mechanics: m}
	swing, rocking := m.Modes()
	yy, yq, qq := m.inertia()
	for i, mode := range []Mode{swing, rocking} {
		// Shapes are orthonormal in the inertia: a part is found by projection.
		y, q := yy*mode.PivotShape+yq*mode.AngleShape, yq*mode.PivotShape+qq*mode.AngleShape
		size, rate := y*from.PivotM+q*from.AngleRad, y*from.PivotMPS+q*from.TurnRadps
		f.parts[i] = ring{mode: mode, cosine: size, sine: (rate + size/mode.DecayS) / mode.Omega()}
	}
	return f
}

// at returns how far the mode is out, with its first and second derivative.
func (r ring) at(tS float64) (size, rate, growth float64) {
	w, d := r.mode.Omega(), 1/r.mode.DecayS
	sin, cos := math.Sincos(w * tS)
	fall := math.Exp(-d * tS)
	size = fall * (r.cosine*cos + r.sine*sin)
	quarter := fall * (r.sine*cos - r.cosine*sin)
	return size, w*quarter - d*size, (d*d-w*w)*size - 2*d*w*quarter
}

// At returns the motion a time after the start.
func (f Free) At(tS float64) Plane {
	var p Plane
	for _, r := range f.parts {
		size, rate, _ := r.at(tS)
		p.PivotM += size * r.mode.PivotShape
		p.AngleRad += size * r.mode.AngleShape
		p.PivotMPS += rate * r.mode.PivotShape
		p.TurnRadps += rate * r.mode.AngleShape
	}
	return p
}

// Reading returns what a sensor at a depth reads a time after the start: the
// specific force across the bag in m/s2 (the sensor's acceleration and g times
// the bag's angle), positive toward growing y, and the rate of turning in
// rad/s.
func (f Free) Reading(tS, depthM float64) (forceMPS2, turnRadps float64) {
	for _, r := range f.parts {
		size, rate, growth := r.at(tS)
		forceMPS2 += growth*r.mode.At(depthM) + StandardGravityMPS2*size*r.mode.AngleShape
		turnRadps += rate * r.mode.AngleShape
	}
	return forceMPS2, turnRadps
}

// Amplitude is how far a mode carries the bag, before damping takes from it.
type Amplitude struct {
	BagRad   float64 // the bag's angle against the vertical
	ChainRad float64 // the chain's
	BottomM  float64 // displacement of the middle of the bag's bottom
}

// Amplitudes returns how far swing and rocking carry the bag, all positive.
func (f Free) Amplitudes() (swing, rocking Amplitude) {
	return f.amplitude(f.parts[0]), f.amplitude(f.parts[1])
}

func (f Free) amplitude(r ring) Amplitude {
	size := math.Hypot(r.cosine, r.sine)
	return Amplitude{
		BagRad:   size * math.Abs(r.mode.AngleShape),
		ChainRad: size * math.Abs(r.mode.PivotShape) / f.mechanics.ChainM,
		BottomM:  size * math.Abs(r.mode.At(f.mechanics.DepthM(0))),
	}
}
