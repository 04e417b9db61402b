package models

import "strikerose/dataset/rig"

// Numbers of the arithmetic that stand in no parameter and that code for a
// board must share.
const (
	LargestValue   = tooLarge       // features beyond it count as no number
	HeldSD         = heldSD         // aligned features are held to so many standard deviations
	MountSDDeg     = mountSDDeg     // added for a rig whose mount was not learned
	WeakestKickMPS = weakestKickMPS // weaker strikes are unsure
)

// OwnRatio gives the rig's own weights where the first direction comes from
// them, nil where it is learned. The caller must not change them.
func (a *Aligner) OwnRatio(r *rig.Rig) *Ratio {
	if a.First != nil {
		return nil
	}
	return a.cache.of(ConstantsOf(r))
}

// Geometry is the net's last input: the sensor's height above the centre of
// mass over the radius of gyration.
func (a *Accelerometer) Geometry(r *rig.Rig) float64 { return ConstantsOf(r).geometry() }
