package eval

import (
	"math"
	"slices"

	"strikerose/models"
)

// bestHalves returns the positions of what errs least in bearing and of what errs
// least in height, and whether the two are worth a pair of their own.
func bestHalves(values []picked, families []models.Family, byAim bool, maxWaitMs float64, gyro bool) (bearing, height int, ok bool) {
	bearing, height = -1, -1
	less := func(k, best int, aim, size func(picked) float64) bool {
		if best < 0 {
			return true
		}
		if byAim && aim(values[k]) != aim(values[best]) {
			return aim(values[k]) < aim(values[best])
		}
		return size(values[k]) < size(values[best])
	}
	for k, v := range values {
		if _, own := models.FamilyByName(families[k].Name); !own || v.failed != "" || families[k].Wait(gyro) > maxWaitMs {
			continue // only this program's own can be paired; what is cut has limits of its own
		}
		if less(k, bearing, func(p picked) float64 { return p.wrongFace }, func(p picked) float64 { return p.bearingMAEDeg }) {
			bearing = k
		}
		if slices.Contains(families[k].Gives, "height") && less(k, height, func(p picked) float64 { return p.wrongBand }, func(p picked) float64 { return p.heightMAEM }) {
			height = k
		}
	}
	return bearing, height, bearing >= 0 && bearing != height
}

// tallyPair sums up the pair of two families from the answers that they gave
// already.
func tallyPair(name string, cases []Case, run *folded, bearing, height int) picked {
	answers, costs := make([]models.Estimate, len(cases)), make([]Cost, len(cases))
	for i := range cases {
		answers[i] = run.answers[bearing][i]
		answers[i].HeightM = run.answers[height][i].HeightM
		b, h := run.cost[bearing][i], run.cost[height][i]
		costs[i] = Cost{
			Macs: b.Macs + h.Macs, Numbers: b.Numbers + h.Numbers, Bytes: b.Bytes + h.Bytes,
			WaitMs: math.Max(b.WaitMs, h.WaitMs), NotBoard: "it is two detectors in one",
		}
	}
	p := tally(name, cases, answers, costs)
	p.pair = true
	return p
}
