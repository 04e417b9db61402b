package doubt

import (
	"math"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// logT is the log density of a Student t distribution with four degrees of
// freedom: 3/8 (1 + z^2/4)^(-5/2) over its scale.
func logT(z, scale float64) float64 {
	return math.Log(0.375/scale) - 2.5*math.Log1p(z*z/4)
}

// medianT is the median size of a variable with that distribution and scale 1.
const medianT = 0.7407

// reading is an estimate made ready for comparing with labels: turned into the
// labels' frame, the stated spreads times the measured factors.
type reading struct {
	bearingDeg, heightM     float64
	bearingSDDeg, heightSDM float64
	factorB, factorH        float64
	biasM                   map[string]float64 // by the label's band: estimate less label
}

// agree is the log density of a label's bearing and height given the reading,
// for a label that is right. What the label does not say has no part.
func (p reading) agree(l mark) float64 {
	return p.agreeBearing(l) + p.agreeHeight(l)
}

func (p reading) agreeBearing(l mark) float64 {
	if math.IsNaN(l.bearingDeg) {
		return 0
	}
	s := math.Min(p.factorB*math.Hypot(l.bearingSDDeg, p.bearingSDDeg), mostSpreadDeg)
	return logT(bearing.Diff(p.bearingDeg, l.bearingDeg)/s, s)
}

// mostSpreadDeg is the standard deviation of a uniform direction.
const mostSpreadDeg = 104.0

func (p reading) agreeHeight(l mark) float64 {
	if math.IsNaN(l.heightM) {
		return 0
	}
	s := p.factorH * math.Hypot(l.heightSDM, p.heightSDM)
	return logT((p.heightM-p.biasM[l.band]-l.heightM)/s, s)
}

// mark is where a label says that a strike landed, NaN where it does not.
type mark struct {
	bearingDeg, heightM     float64
	bearingSDDeg, heightSDM float64
	band                    string
}

// Faults of one label.
const (
	right = iota
	face
	opposite
	band
	both
	anything
	faults
)

// shares are the probabilities of the faults.
type shares [faults]float64

// usual are the prior's pseudo-counts: as if of twenty labels one were wrong.
func usual() shares { return shares{19, 0.3, 0.2, 0.3, 0.1, 0.1} }

func (s shares) normal() shares {
	sum := 0.0
	for _, v := range s {
		sum += v
	}
	for i := range s {
		s[i] /= sum
	}
	return s
}

// foreign are the shares among labels that belong to another strike: right by
// luck alone.
func foreign(r *rig.Rig) shares {
	f, b := float64(max(r.Faces, 2)), float64(max(len(r.Bands), 1))
	s := shares{right: 1, opposite: 1, face: f - 2, band: b - 1, both: (f - 1) * (b - 1), anything: 0.01 * f * b}
	return s.normal()
}

// densities are the densities of a label under each fault, given an opinion.
type densities [faults]float64

// against works out the densities of a label under each fault. A label with
// another face or band is compared as if it were moved there. What the label
// does not say cannot be at fault.
func (p reading) against(l mark, r *rig.Rig) densities {
	var d densities
	bRight, hRight := math.Exp(p.agreeBearing(l)), math.Exp(p.agreeHeight(l))
	bOpposite, bOther, bAny := bRight, bRight, 1.0
	if !math.IsNaN(l.bearingDeg) {
		width := 360 / float64(r.Faces)
		sum, n := 0.0, 0
		for k := 1; k < r.Faces; k++ {
			turn := float64(k) * width
			if math.Abs(turn-180) < width/4 {
				continue // the opposite one
			}
			sum += math.Exp(p.agreeBearing(l.turned(turn)))
			n++
		}
		bOther = sum / float64(max(n, 1))
		bOpposite = math.Exp(p.agreeBearing(l.turned(180)))
		bAny = 1.0 / 360
	}
	hOther, hAny := hRight, 1.0
	if !math.IsNaN(l.heightM) && len(r.Bands) > 1 {
		sum, n := 0.0, 0
		from, to, _ := r.BandRange(l.band)
		for _, b := range r.Bands {
			if b.Name == l.band {
				continue
			}
			otherFrom, otherTo, _ := r.BandRange(b.Name)
			moved := l
			moved.heightM += (otherFrom + otherTo - from - to) / 2
			moved.band = b.Name
			sum += math.Exp(p.agreeHeight(moved))
			n++
		}
		hOther = sum / float64(max(n, 1))
		hAny = 1 / r.Bag.LengthM
	}
	d[right] = bRight * hRight
	d[anything] = bAny * hAny
	saysFace, saysBand := !math.IsNaN(l.bearingDeg), !math.IsNaN(l.heightM) && len(r.Bands) > 1
	if saysFace {
		d[face], d[opposite] = bOther*hRight, bOpposite*hRight
	}
	if saysBand {
		d[band] = bRight * hOther
	}
	if saysFace && saysBand {
		faces := float64(max(r.Faces-1, 1))
		d[both] = ((faces-1)*bOther + bOpposite) / faces * hOther
	}
	return d
}

func (l mark) turned(deg float64) mark {
	l.bearingDeg = bearing.Wrap360(l.bearingDeg + deg)
	return l
}

// mix weighs the opinions' densities.
func mix(of []densities, weights []float64) densities {
	var d densities
	for k := range of {
		for f := range d {
			d[f] += weights[k] * of[k][f]
		}
	}
	return d
}

// total is the density of a label whose faults have these shares.
func (d densities) total(s shares) float64 {
	sum := 1e-300
	for f := range d {
		sum += s[f] * d[f]
	}
	return sum
}
