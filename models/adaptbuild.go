package models

import (
	"fmt"
	"math"
	"slices"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// build makes the detector of what was chosen.
func (a *Adapted) build(from *Model, best tried, to Target) error {
	m := *best.base.model
	m.core = plain(m.core)
	key := to.Rig.Key()
	m.Rigs = slices.DeleteFunc(slices.Clone(m.Rigs), func(y RigYaw) bool { return y.Rig == key })
	unknown, _ := find(m.Rigs, key)
	y := RigYaw{
		Rig: key, Constants: ConstantsOf(to.Rig), Labels: len(to.Own),
		BearingFactor: unknown.BearingFactor, HeightFactor: unknown.HeightFactor,
	}
	all := answers(m.core, to.Own)
	if len(all) > 0 {
		b, err := learnCorrection(all, best.bearing.terms, nil, best.bearing.start)
		if err != nil {
			return err
		}
		h, err := learnCorrection(all, nil, best.height.terms, best.height.start)
		if err != nil {
			return err
		}
		if len(best.bearing.terms)+len(best.height.terms) > 0 {
			y.Correction = &Correction{BearingTerms: best.bearing.terms, BearingDeg: b.BearingDeg, HeightTerms: best.height.terms, HeightM: h.HeightM}
		}
		y.YawDeg, y.Scatter = learnYaw(all, y.Correction)
	}
	a.mount(&y, from, &m, to)
	y.certainty(&m, best, to.Own)
	if a.YawFrom != YawNone {
		m.Rigs = append(m.Rigs, y)
	}
	m.core = correctedBy(m.core, m.Rigs)
	for _, t := range slices.Backward(a.Trials) { // before those of the training
		if !t.Chosen {
			m.Scores = slices.Insert(slices.Clone(m.Scores), 0, t.Score)
		}
	}
	if len(a.Trials) > 0 {
		m.Scores = slices.Insert(slices.Clone(m.Scores), 0, a.Chosen.Score)
	}
	if r, ok := recipeByName(m.info.Name); ok {
		m.info = r.describe(m.core, m.options.WithinMs, m.Certainty)
	}
	a.Detector = &m
	return nil
}

// mount settles the yaw offset and how well it is known. Labels of an earlier
// revision whose sensor is mounted alike say it to within remountSDDeg; where
// the own labels are few, both count by their variances.
func (a *Adapted) mount(y *RigYaw, from, m *Model, to Target) {
	own := math.Inf(1)
	a.YawFrom, a.YawSDDeg = YawNone, to.Rig.Sensor.YawUncertainDeg()
	if y.Labels > 0 {
		// A few labels' own scatter is an accident: a usual one counts with it.
		scatter := math.Sqrt((priorStrikes*usualBearingDeg*usualBearingDeg + float64(y.Labels)*y.Scatter*y.Scatter) / float64(priorStrikes+y.Labels))
		own = scatter / math.Sqrt(float64(y.Labels))
		if coarse(to.Own) {
			own = math.Hypot(own, aimLeanSDDeg/math.Sqrt(float64(sessions(to.Own))))
		}
		a.YawFrom, a.YawSDDeg = YawOwn, own
	}
	if y.Labels >= leastToChoose {
		return
	}
	earlier, sd, ok := earlierYaw(from, m, to)
	switch {
	case !ok:
	case y.Labels == 0:
		y.YawDeg, y.YawSDDeg = earlier, sd
		a.YawFrom, a.YawSDDeg = YawEarlier, sd
	default:
		w := own * own / (own*own + sd*sd)
		y.YawDeg = bearing.Wrap180(y.YawDeg + w*bearing.Diff(earlier, y.YawDeg))
		a.YawFrom, a.YawSDDeg = YawBoth, own*sd/math.Hypot(own, sd)
		y.YawSDDeg = a.YawSDDeg
	}
}

// earlierYaw is the yaw offset that earlier revisions of the target suggest.
func earlierYaw(from, m *Model, to Target) (yawDeg, sdDeg float64, ok bool) {
	alike := func(r *rig.Rig) bool { return r.Key() != to.Rig.Key() && sameMount(r, to.Rig) }
	var known []RigYaw
	for _, r := range to.Earlier {
		if y, there := find(from.Rigs, r.Key()); there && y.Labels > 0 && alike(r) {
			known = append(known, y)
		}
	}
	if len(known) == 0 {
		var ex []Example
		for _, e := range to.Others {
			if alike(e.Rig) {
				ex = append(ex, e)
			}
		}
		known = yaws(ex, together(m.core, ex))
	}
	if len(known) == 0 {
		return 0, 0, false
	}
	var sum, weight float64
	for _, y := range known {
		w := 1 / (remountSDDeg*remountSDDeg + y.Scatter*y.Scatter/float64(y.Labels))
		sum += w * bearing.Diff(y.YawDeg, known[0].YawDeg)
		weight += w
	}
	return bearing.Wrap180(known[0].YawDeg + sum/weight), 1 / math.Sqrt(weight), true
}

// certainty sets the rig's factors: what the family states of a rig without
// labels counts as priorStrikes strikes, or the certainty brought along where
// that is wider, and own ones that were held back count beside it. What was
// measured on other rigs does not hold here, and few strikes show too little of
// the largest errors. Their errors hold what the yaw offset may be off; where none
// were held back, what is stated adds it.
func (y *RigYaw) certainty(m *Model, best tried, own []Example) {
	c, n := &m.Certainty, len(best.missDeg)
	if n == 0 {
		return
	}
	factor := func(miss, scale []float64, sd, before float64) float64 {
		sum := priorStrikes * before * before
		for i, v := range miss {
			z := math.Min(math.Abs(v)/(sd*scale[i]), 4) // a flip is no spread
			sum += z * z
		}
		return math.Sqrt(sum / float64(priorStrikes+n))
	}
	if c.BearingSDDeg > 0 && c.HeightSDM > 0 {
		y.BearingFactor = factor(best.missDeg, best.scale, c.BearingSDDeg, math.Max(y.BearingFactor, m.prior.BearingSDDeg/c.BearingSDDeg))
		y.HeightFactor = factor(best.missM, best.scaleM, c.HeightSDM, math.Max(y.HeightFactor, m.prior.HeightSDM/c.HeightSDM))
	}
	if !c.Calibrated && n >= leastToCalibrate {
		c.Calibrated, c.Strikes, c.Sessions = true, n, sessions(own)
		c.How = fmt.Sprintf("as without labels, set right by %d strikes of %s held back in turn", n, y.Rig)
	}
}

// sessions counts those of examples.
func sessions(ex []Example) int {
	seen := map[string]bool{}
	for _, e := range ex {
		seen[e.Session] = true
	}
	return len(seen)
}
