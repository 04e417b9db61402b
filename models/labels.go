package models

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"strikerose/features"
)

// Labels that say where a striker aimed rather than where the hand landed.
const (
	coarseBearingDeg = 4.0   // stated uncertainty from which a label counts as an aim
	coarseHeightM    = 0.025 // likewise
	coarseFrom       = 12    // labels, from which bearings that are all face centres show it too
)

// coarse tells whether labels are aims: most state a wide uncertainty, or there
// are no more bearings than faces.
//
// Aims must not teach weights. A blow that lands beside the aim pushes and
// turns the bag in its own way, so the features tell how far it went astray,
// and free weights learn to answer with the aim. What aims do teach is the yaw
// offset, over which they scatter evenly.
func coarse(ex []Example) bool {
	wide := 0
	bearings := map[float64]bool{}
	faces := 0
	for _, e := range ex {
		if e.BearingSDDeg >= coarseBearingDeg || e.HeightSDM >= coarseHeightM {
			wide++
		}
		bearings[e.BearingDeg] = true
		faces = max(faces, e.Rig.Faces)
	}
	return 2*wide > len(ex) || len(ex) >= coarseFrom && len(bearings) <= faces
}

// checked returns a copy of the examples in an order that depends on their
// content alone, so that the order of rows cannot change a fit. Faulty ones are
// errors, all of them told.
func checked(ex []Example) ([]Example, error) {
	var faults []error
	width := len(features.Columns())
	for i, e := range ex {
		where := fmt.Sprintf("example %d of session %q", i+1, e.Session)
		switch {
		case e.Rig == nil:
			faults = append(faults, fmt.Errorf("%s: has no rig", where))
			continue
		case len(e.Row) != width:
			faults = append(faults, fmt.Errorf("%s: has %d features, not %d: extract them again", where, len(e.Row), width))
			continue
		case math.IsNaN(e.BearingDeg) || math.IsInf(e.BearingDeg, 0):
			faults = append(faults, fmt.Errorf("%s: bearing %g is not a number of degrees: leave the strike out or label it", where, e.BearingDeg))
		case math.IsNaN(e.HeightM) || math.IsInf(e.HeightM, 0):
			faults = append(faults, fmt.Errorf("%s: height %g is not a number of metres: leave the strike out or label it", where, e.HeightM))
		case !(e.BearingSDDeg >= 0) || !(e.HeightSDM >= 0):
			faults = append(faults, fmt.Errorf("%s: stated uncertainties %g deg and %g m must be 0 or more", where, e.BearingSDDeg, e.HeightSDM))
		}
		if err := ConstantsOf(e.Rig).check(); err != nil {
			faults = append(faults, fmt.Errorf("%s: rig %s: %w", where, e.Rig.Key(), err))
		}
		if len(faults) >= 10 {
			faults = append(faults, errors.New("and perhaps more"))
			break
		}
	}
	if len(faults) > 0 {
		return nil, errors.Join(faults...)
	}
	out := slices.Clone(ex)
	slices.SortStableFunc(out, func(a, b Example) int {
		return cmp.Or(
			cmp.Compare(a.Session, b.Session),
			cmp.Compare(a.Rig.Key(), b.Rig.Key()),
			slices.Compare(a.Row, b.Row),
			cmp.Compare(a.BearingDeg, b.BearingDeg),
			cmp.Compare(a.HeightM, b.HeightM),
		)
	})
	return out, nil
}
