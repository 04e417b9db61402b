package doubt

import (
	"math"
	"slices"

	"strikerose/dataset/bearing"
)

// calibrate turns an opinion into the frame of the labels, session by session,
// and measures by medians how far it may be trusted on each rig revision.
func (b *bench) calibrate(op *opinion) {
	op.readings = make([]reading, len(b.subjects))
	whole := map[string]float64{}
	for key, of := range b.byRevision() {
		whole[key] = clockwise(b.pairs(op, of, 0)).deg
	}
	partner := make([]int, len(b.subjects)) // the strike that a label belongs to, -1 for none
	for _, of := range b.bySession() {
		t, shift := b.lie(op, of, clockwise)
		deg := t.deg
		if t.labels < fewForTurn {
			deg = whole[b.subjects[of[0]].Rig.Key()]
		}
		for p, i := range of {
			partner[i] = -1
			if q := p + shift; q >= 0 && q < len(of) && op.there[of[q]] {
				partner[i] = of[q]
			}
			e := op.estimates[i]
			op.readings[i] = reading{bearingDeg: bearing.Wrap360(e.BearingDeg + deg), heightM: e.HeightM,
				bearingSDDeg: e.BearingSDDeg, heightSDM: e.HeightSDM, factorB: 1, factorH: 1}
		}
	}
	for key, of := range b.byRevision() {
		b.measure(op, key, of, partner)
	}
}

// measure finds the factors and height biases of one rig revision, from its
// labels and the readings of the strikes that they belong to.
func (b *bench) measure(op *opinion, key string, of, partner []int) {
	heights := map[string][]float64{}
	var zB, zH, offDeg, offM []float64
	for _, i := range of {
		if partner[i] < 0 {
			continue
		}
		p, l := op.readings[partner[i]], b.subjects[i].label
		if !math.IsNaN(l.heightM) {
			heights[l.band] = append(heights[l.band], p.heightM-l.heightM)
		}
	}
	bias := map[string]float64{}
	for name, off := range heights {
		n := float64(len(off))
		bias[name] = median(off) * n / (n + 5)
	}
	for _, i := range of {
		if partner[i] < 0 {
			continue
		}
		p, l := op.readings[partner[i]], b.subjects[i].label
		if !math.IsNaN(l.bearingDeg) {
			off := math.Abs(bearing.Diff(p.bearingDeg, l.bearingDeg))
			offDeg = append(offDeg, off)
			zB = append(zB, off/math.Min(math.Hypot(l.bearingSDDeg, p.bearingSDDeg), mostSpreadDeg))
		}
		if !math.IsNaN(l.heightM) {
			off := math.Abs(p.heightM - bias[l.band] - l.heightM)
			offM = append(offM, off)
			zH = append(zH, off/math.Hypot(l.heightSDM, p.heightSDM))
		}
	}
	for _, i := range of {
		op.readings[i].factorB, op.readings[i].factorH, op.readings[i].biasM = factor(zB), factor(zH), bias
	}
	b.report.Opinions = append(b.report.Opinions, Opinion{Rig: key, Detector: op.name, Labels: len(of), BearingDeg: median(offDeg), HeightM: median(offM)})
}

// factor is by how much differences are wider than stated, drawn toward 1 by
// the worth of ten labels.
func factor(z []float64) float64 {
	m := median(z) / medianT
	if !(m > 0) {
		return 1
	}
	n := float64(len(z))
	return math.Exp(math.Log(math.Min(math.Max(m, 0.3), 20)) * n / (n + 10))
}

// median of no numbers is NaN.
func median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	s := slices.Sorted(slices.Values(x))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}
