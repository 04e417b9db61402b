package models

import (
	"context"
	"math"
	"math/rand/v2"

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
		turn := bearing.Rad(e.BearingDeg) - f.yawRad - math.Atan2(imag(f.u), real(f.u))
		sin, cos := math.Sincos(turn)
		wb, wh := labelWeight(e.BearingSDDeg, 5), labelWeight(e.HeightSDM, 0.035)
		l := lesson{
			in:     append(f.features, ConstantsOf(e.Rig).geometry()),
			want:   []float64{sin / turnScale, cos / turnScale, (e.HeightM - ConstantsOf(e.Rig).CentreHeightM()) / netHeightM},
			weight: []float64{wb, wb, wh},
		}
		m := l
		m.in = a.mirrored(l.in)
		m.want = []float64{-l.want[0], l.want[1], l.want[2]}
		lessons = append(lessons, l, m)
	}
	for s := range int(o.Settings[settingStarts]) {
		n, err := teach(ctx, lessons, int(o.Settings[settingUnits]), o.Settings[settingDecay], netSteps, rand.New(rand.NewPCG(o.Seed, uint64(100+s))))
		if err != nil {
			return nil, err
		}
		a.Nets = append(a.Nets, n)
	}
	return a, nil
}

func (a *Accelerometer) answer(in Input) (complex128, float64, bool) {
	f := a.Aligner.frame(in)
	x := append(f.features, ConstantsOf(in.Rig).geometry())
	y := a.mirrored(x)
	var sin, cos, height float64
	out := make([]float64, netOutputs)
	for _, n := range a.Nets {
		// The mean of an answer and of its mirror image's keeps the symmetry.
		n.answer(x, out)
		sin, cos, height = sin+out[0], cos+out[1], height+out[2]
		n.answer(y, out)
		sin, cos, height = sin-out[0], cos+out[1], height+out[2]
	}
	c := ConstantsOf(in.Rig)
	h := c.CentreHeightM() + height/float64(2*len(a.Nets))*a.ScaleM
	q := f.u * unit(complex(cos, sin))
	return q, math.Min(math.Max(h, 0), c.LengthM), f.whole
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
