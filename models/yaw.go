package models

import (
	"math"

	"strikerose/dataset/bearing"
)

// RigYaw is what labels taught of one rig revision: how far the sensor's mount
// is turned from what the rig file says.
type RigYaw struct {
	Rig       string    `json:"rig"`
	YawDeg    float64   `json:"yaw_deg"`     // added to every bearing, clockwise
	Labels    int       `json:"labels"`      // that it was learned from; 0: not learned, 0 degrees
	Scatter   float64   `json:"scatter_deg"` // circular standard deviation of truth less estimate
	Constants Constants `json:"constants"`
}

// strayDeg is how far from the mean a difference may lie to count in the yaw
// offset: wrong plan entries and flips lie further.
const strayDeg = 45

// yawOffset is the weighted circular mean of truth less estimate, in degrees,
// those within strayDeg of it alone. Nil weights count all alike.
func yawOffset(differences, weights []float64) (yawDeg, scatterDeg float64) {
	if len(differences) == 0 {
		return 0, 0
	}
	mean, r := bearing.WeightedMean(differences, weights)
	for range 5 {
		var near, w []float64
		for i, d := range differences {
			if math.Abs(bearing.Diff(d, mean)) <= strayDeg {
				near = append(near, d)
				if weights != nil {
					w = append(w, weights[i])
				}
			}
		}
		if len(near) == 0 || 2*len(near) < len(differences) {
			break // nothing to tell stray from true: the plain mean stays
		}
		mean, r = bearing.WeightedMean(near, w)
	}
	return bearing.Wrap180(mean), bearing.SDDeg(r)
}

// yaws learns the yaw offset of each rig revision among the examples, in the
// order of their keys' first appearance.
func yaws(c core, ex []Example) []RigYaw {
	var out []RigYaw
	var differences, weights [][]float64
	at := map[string]int{}
	for _, e := range ex {
		k := e.Rig.Key()
		i, ok := at[k]
		if !ok {
			i = len(out)
			at[k] = i
			out = append(out, RigYaw{Rig: k, Constants: ConstantsOf(e.Rig)})
			differences, weights = append(differences, nil), append(weights, nil)
		}
		q, _, _ := c.answer(e.Input)
		differences[i] = append(differences[i], bearing.Diff(e.BearingDeg, bearing.Of(q)))
		weights[i] = append(weights[i], labelWeight(e.BearingSDDeg, labelBearingDeg))
		out[i].Labels++
	}
	for i := range out {
		out[i].YawDeg, out[i].Scatter = yawOffset(differences[i], weights[i])
	}
	return out
}

// find returns the yaw offset of a rig, 0 where none was learned.
func find(ys []RigYaw, key string) (yawDeg float64, known bool) {
	for _, y := range ys {
		if y.Rig == key {
			return y.YawDeg, true
		}
	}
	return 0, false
}
