package models

import (
	"context"
	"math"

	"strikerose/dataset/bearing"
)

// Accelerometer is the complex-ridge detector's form without a gyroscope.
//
// A first direction is a weighted sum of the vectors, by ridge regression on
// exp(i bearing), weights real so that a mirror image gives the mirror image.
// All vectors are then written along and across it, over their common size, and
// a small net turns the direction on, by the sine and cosine of the turn so
// that it can also turn it round, and gives the height.
type Accelerometer struct {
	Aligner
	Nets   []*Net  `json:"nets"`    // averaged; outputs sin, cos, height
	ScaleM float64 `json:"scale_m"` // of the height's output
}

// Size of the nets and how they are taught, settled once for all rigs.
const (
	netUnits    = 8 // usual, as are starts and decay: see complexRidgeSettings
	netStarts   = 3
	netSteps    = 120
	netDecay    = 0.3
	turnScale   = 0.2  // of the sine's and cosine's errors, in the robust loss
	netHeightM  = 0.04 // likewise of the height's
	netOutputs  = 3
	alignStrong = 1.0 // of the ridge
)

func accelVectors() []string {
	names := []string{"kick", "accel_before"}
	for _, w := range windows65() {
		names = append(names, "accel"+w)
	}
	return append(names, "accel_60_25_before", "accel_150_60_before", "accel_300_150_before")
}

func fitAccelerometer(ctx context.Context, ex []Example, o Options) (*Accelerometer, error) {
	a := &Accelerometer{ScaleM: netHeightM}
	v, odd, even, err := o.lists(o.waited(accelVectors(), nil, fullEven()))
	if err != nil {
		return nil, err
	}
	frames, err := a.Aligner.learnCrossed(ex, false, v, odd, even, o.Seed)
	if err != nil {
		return nil, err
	}
	var lessons []lesson
	for i, e := range ex {
		f := frames[i]
		c := ConstantsOf(e.Rig)
		turn := bearing.Rad(e.BearingDeg) - f.yawRad - math.Atan2(imag(f.u), real(f.u))
		l := turnLesson(append(f.features, c.geometry()), turn, e.HeightM-c.CentreHeightM(), labelWeight(e.BearingSDDeg, 5), labelWeight(e.HeightSDM, 0.035))
		lessons = append(lessons, l, l.reflected(a.mirrored(l.in)))
	}
	if a.Nets, err = teachTurns(ctx, lessons, o); err != nil {
		return nil, err
	}
	return a, nil
}

func (a *Accelerometer) answer(in Input) (complex128, float64, bool) {
	f := a.Aligner.frame(in)
	c := ConstantsOf(in.Rig)
	x := append(f.features, c.geometry())
	turn, rise := turnedBy(a.Nets, x, a.mirrored(x))
	return f.u * unit(turn), math.Min(math.Max(c.CentreHeightM()+rise*a.ScaleM, 0), c.LengthM), f.whole
}

func (a *Accelerometer) features() []string {
	return append(append(append([]string(nil), a.Vectors...), a.Odd...), a.Even...)
}

func (a *Accelerometer) cost() Cost {
	inputs := a.Aligner.Columns() + 1
	units := len(a.Nets[0].Hidden)
	net := units*(inputs+netOutputs) + units + netOutputs
	c := a.Aligner.alignCost()
	return Cost{Macs: c.Macs + 2*len(a.Nets)*net, Numbers: c.Numbers + len(a.Nets)*net}
}
