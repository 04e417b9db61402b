package models

import "strikerose/dataset/rig"

// Numbers of the arithmetic that stand in no parameter and that code for a
// board must share.
const (
	LargestValue   = tooLarge       // features beyond it count as no number
	HeldSD         = heldSD         // aligned features are held to so many standard deviations
	WeakestKickMPS = weakestKickMPS // weaker strikes are unsure
)

// For returns the detector as a board on one rig holds it: of a complex ridge
// with a part for each kind of rig, the part for the rig's own kind alone. A
// gyroscope that falls silent leaves it with the kick's direction.
func (m *Model) For(r *rig.Rig) *Model {
	c, ok := plain(m.core).(*ComplexRidge)
	if !ok || c.Accelerometer == nil || c.Form == FormAccelerometer {
		return m
	}
	part := newComplexRidge(FormAccelerometer, nil, nil, c.Accelerometer)
	if r.HasGyro() {
		part = newComplexRidge(c.Form, c.Own, c.Changes, nil)
	}
	out := *m
	out.core = correctedBy(part, m.Rigs)
	out.info.WaitMs, out.info.GyroWaitMs = waits(out.core, m.options.WithinMs)
	out.info.Cost = out.core.cost()
	return &out
}

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
