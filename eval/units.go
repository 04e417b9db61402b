package eval

import (
	"math"
	"slices"
)

// Resampling units: sessions where there are at least MinSessions of them,
// else blocks of about BlockStrikes consecutive strikes of a session.
const (
	UnitSession  = "session"
	UnitBlock    = "block"
	MinSessions  = 8
	BlockStrikes = 10
)

// resamplingUnits numbers the unit of each strike, given the session of each in
// order of time. Blocks of one session are equally long within one strike.
func resamplingUnits(sessions []string) (unit []int, units int, kind string) {
	positions := map[string][]int{}
	var order []string
	for i, s := range sessions {
		if positions[s] == nil {
			order = append(order, s)
		}
		positions[s] = append(positions[s], i)
	}
	slices.Sort(order)
	unit = make([]int, len(sessions))
	if len(order) >= MinSessions {
		for u, s := range order {
			for _, i := range positions[s] {
				unit[i] = u
			}
		}
		return unit, len(order), UnitSession
	}
	for _, s := range order {
		own := positions[s]
		blocks := max(1, int(math.Round(float64(len(own))/BlockStrikes)))
		for k, i := range own {
			unit[i] = units + k*blocks/len(own)
		}
		units += blocks
	}
	return unit, units, UnitBlock
}
