package rig

import "math"

// Inertia is how a bag's mass is spread, in metres and kilogram square metres.
type Inertia struct {
	CentreOfMassDepthM float64 // below the bag's top edge
	RadiusOfGyrationM  float64 // about the centre of mass, for turning about a horizontal axis
	TwistKgM2          float64 // moment of inertia about the bag's own axis
	Estimated          bool    // centre of mass or radius of gyration came from core and filling, not from the file
}

// Inertia returns how the bag's mass is spread. A centre of mass or radius of
// gyration given in the file wins; the rest follows from the parts: a solid
// cylinder for the core, a thin tube of the bag's length and diameter for the
// cover, and what is left of the mass spread evenly over what is left of the
// bag's cylinder. Moments of inertia are the textbook ones, moved to the
// common centre of mass by the parallel-axis theorem. The rig must be valid.
func (r *Rig) Inertia() Inertia {
	b, filling := r.Bag, r.Bag.MassKg-r.Bag.CoverMassKg
	parts := []body{tube(b.CoverMassKg, b.LengthM, b.DiameterM)}
	if c := r.Core; c != nil {
		// Filling of even density around a hole of the core's shape: a whole
		// cylinder of that density, and a core of it taken away.
		share := c.LengthM * c.DiameterM * c.DiameterM / (b.LengthM * b.DiameterM * b.DiameterM)
		filling = (filling - c.MassKg) / (1 - share)
		parts = append(parts,
			solid(c.MassKg, c.LengthM, c.DiameterM, c.TopDepthM),
			solid(-filling*share, c.LengthM, c.DiameterM, c.TopDepthM))
	}
	parts = append(parts, solid(filling, b.LengthM, b.DiameterM, 0))
	all := join(parts)

	in := Inertia{
		CentreOfMassDepthM: all.depthM,
		RadiusOfGyrationM:  math.Sqrt(all.acrossKgM2 / all.massKg),
		TwistKgM2:          all.alongKgM2,
		Estimated:          r.Bag.CentreOfMassDepthM == nil || r.Bag.RadiusOfGyrationM == nil,
	}
	if d := r.Bag.CentreOfMassDepthM; d != nil {
		in.CentreOfMassDepthM = *d
	}
	if k := r.Bag.RadiusOfGyrationM; k != nil {
		in.RadiusOfGyrationM = *k
	}
	return in
}

// body is a mass on the bag's axis with its moments of inertia about its own
// centre of mass. A hole is a body of negative mass.
type body struct{ massKg, depthM, acrossKgM2, alongKgM2 float64 }

// solid is a cylinder whose top end lies at topM below the bag's top edge.
func solid(massKg, lengthM, diameterM, topM float64) body {
	r2 := diameterM * diameterM / 4
	return body{
		massKg:     massKg,
		depthM:     topM + lengthM/2,
		acrossKgM2: massKg * (r2/4 + lengthM*lengthM/12),
		alongKgM2:  massKg * r2 / 2,
	}
}

// tube is a thin cylindrical shell, open at both ends, over the bag's length.
func tube(massKg, lengthM, diameterM float64) body {
	r2 := diameterM * diameterM / 4
	return body{
		massKg:     massKg,
		depthM:     lengthM / 2,
		acrossKgM2: massKg * (r2/2 + lengthM*lengthM/12),
		alongKgM2:  massKg * r2,
	}
}

// join returns the body that some bodies on one axis make together.
func join(parts []body) body {
	var all body
	for _, p := range parts {
		all.massKg += p.massKg
		all.depthM += p.massKg * p.depthM
		all.alongKgM2 += p.alongKgM2
	}
	all.depthM /= all.massKg
	for _, p := range parts {
		d := p.depthM - all.depthM
		all.acrossKgM2 += p.acrossKgM2 + p.massKg*d*d
	}
	return all
}
