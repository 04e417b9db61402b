package models

import (
	"fmt"
	"math"
	"slices"

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
	// YawSDDeg is how far off the offset may be where it does not come from the
	// rig's own labels alone but from another revision's; 0 elsewhere.
	YawSDDeg float64 `json:"yaw_sd_deg,omitempty"`
	// Correction is what Adapt learned beyond the yaw offset; nil for nothing.
	Correction *Correction `json:"correction,omitempty"`
}

// check refuses what no fit writes.
func (y RigYaw) check() error {
	if !(math.Abs(y.YawDeg) <= 180) {
		return fmt.Errorf("yaw_deg %g is not within 180 degrees", y.YawDeg)
	}
	if y.Labels < 0 || !(y.Scatter >= 0) {
		return fmt.Errorf("%d labels that scatter by %g degrees", y.Labels, y.Scatter)
	}
	if !(y.BearingFactor > 0 && y.HeightFactor > 0) || math.IsInf(y.BearingFactor+y.HeightFactor, 0) {
		return fmt.Errorf("factors %g and %g on the certainty must be above 0", y.BearingFactor, y.HeightFactor)
	}
	if !(y.YawSDDeg >= 0) {
		return fmt.Errorf("yaw_sd_deg %g is below 0", y.YawSDDeg)
	}
	if y.Correction != nil {
		return y.Correction.check()
	}
	return nil
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

// What revisions of one rig have in common. A sensor moved within the same bag,
// to a rig file of the same yaw_deg, stays turned much as it was, and a
// striker's aim leans one way all evening, so that aims of a single session fix
// a yaw no better than that. Common practice, no source; on simulated
// recordings a moved sensor turned by 0.8 degrees and the aims of a session
// leaned by 1.6 (root mean square).
const (
	remountSDDeg = 1.0
	aimLeanSDDeg = 2.0
)

// shareYaw draws the yaw offsets of one rig's revisions together as far as
// their labels leave them open: the posterior means of a normal model with the
// revisions scattered by remountSDDeg about an unknown centre, each offset
// known to sdDeg (Lindley and Smith 1972, from memory). Both slices are
// indexed by revision; offsets and result are in degrees.
func shareYaw(yawDeg, sdDeg []float64) []float64 {
	const between = remountSDDeg * remountSDDeg
	var sum, weight float64
	for i, y := range yawDeg {
		w := 1 / (between + sdDeg[i]*sdDeg[i])
		sum += w * bearing.Diff(y, yawDeg[0]) // on the circle, about the first
		weight += w
	}
	centre := sum / weight
	out := make([]float64, len(yawDeg))
	for i, y := range yawDeg {
		own := sdDeg[i] * sdDeg[i]
		toCentre := own / (own + between)
		out[i] = bearing.Wrap180(y + toCentre*bearing.Diff(yawDeg[0]+centre, y))
	}
	return out
}

// shareAmongRevisions applies shareYaw to the revisions of each rig. sessions
// are the sessions of labels that are aims, per revision; precise labels know
// their yaw and keep it.
func shareAmongRevisions(out []RigYaw, names []string, sessions []map[string]bool) {
	for i, name := range names {
		if slices.Index(names, name) != i {
			continue // shared with the first of its revisions
		}
		var of []int
		var yaw, sd []float64
		for j := i; j < len(out); j++ {
			if names[j] != name {
				continue
			}
			of = append(of, j)
			yaw = append(yaw, out[j].YawDeg)
			lean := 0.0
			if n := len(sessions[j]); n > 0 {
				lean = aimLeanSDDeg / math.Sqrt(float64(n))
			}
			sd = append(sd, math.Hypot(lean, out[j].Scatter/math.Sqrt(float64(out[j].Labels))))
		}
		for k, y := range shareYaw(yaw, sd) {
			out[of[k]].YawDeg = y
		}
	}
}

// yaws learns the yaw offset of each rig revision among the examples from what a
// core answers to each, in the order of their keys' first appearance.
func yaws(ex []Example, replies []reply) []RigYaw {
	var out []RigYaw
	var differences, weights [][]float64
	var names []string          // of the rigs, without revision
	var aimed []map[string]bool // sessions whose labels are aims
	at := map[string]int{}
	aims := coarse(ex)
	for n, e := range ex {
		k := e.Rig.Key()
		i, ok := at[k]
		if !ok {
			i = len(out)
			at[k] = i
			out = append(out, RigYaw{Rig: k, Constants: ConstantsOf(e.Rig), BearingFactor: 1, HeightFactor: 1})
			differences, weights = append(differences, nil), append(weights, nil)
			names, aimed = append(names, e.Rig.Name), append(aimed, map[string]bool{})
		}
		if aims {
			aimed[i][e.Session] = true
		}
		differences[i] = append(differences[i], bearing.Diff(e.BearingDeg, bearing.Of(replies[n].q)))
		weights[i] = append(weights[i], labelWeight(e.BearingSDDeg, labelBearingDeg))
		out[i].Labels++
	}
	for i := range out {
		out[i].YawDeg, out[i].Scatter = yawOffset(differences[i], weights[i])
	}
	if aims {
		shareAmongRevisions(out, names, aimed)
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
