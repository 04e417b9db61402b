package models

import (
	"math"

	"strikerose/dataset/bearing"
)

// RigYaw is what labels taught of one rig revision: how far the sensor's mount
// is turned from what the rig file says, and how its errors compare with those
// of all rigs together.
type RigYaw struct {
	Rig       string    `json:"rig"`
	YawDeg    float64   `json:"yaw_deg"`     // added to every bearing, clockwise
	Labels    int       `json:"labels"`      // that it was learned from; 0: not learned, 0 degrees
	Scatter   float64   `json:"scatter_deg"` // circular standard deviation of truth less estimate
	Constants Constants `json:"constants"`
	// Factors on the stated certainty, 1 for a rig as usual.
	BearingFactor float64 `json:"bearing_factor"`
	HeightFactor  float64 `json:"height_factor"`
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
			out = append(out, RigYaw{Rig: k, Constants: ConstantsOf(e.Rig), BearingFactor: 1, HeightFactor: 1})
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

// find returns what was learned of a rig. Of one without labels nothing was:
// no yaw, and the largest doubt that any rig has.
func find(ys []RigYaw, key string) (y RigYaw, known bool) {
	y.BearingFactor, y.HeightFactor = 1, 1
	for _, o := range ys {
		if o.Rig == key {
			return o, true
		}
		y.BearingFactor = math.Max(y.BearingFactor, o.BearingFactor)
		y.HeightFactor = math.Max(y.HeightFactor, o.HeightFactor)
	}
	return y, false
}
