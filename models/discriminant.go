package models

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/cmplx"

	"strikerose/dataset/bearing"
)

// Discriminant tells by linear discriminant analysis in which class a strike
// lies, and answers with the classes' means weighted by their probabilities: a
// circular mean for the bearing, a plain one for the height.
//
// A bag is round, so what tells one face from another is direction alone. Faces
// are therefore counted from the strike's own first direction, on aligned
// features: the face ahead, those beside it, the one behind. Every strike then
// teaches every face, and turning the recording turns the answer. Nearly all
// strikes lie on the face ahead, so faces are parted into slices, and so are
// heights, counted from the first height (see parted). An answer is the mean of
// a strike's and of its mirror image's.
type Discriminant struct {
	Aligner
	Turn *Classes `json:"turn"` // degrees from the first direction to the bearing
	Rise *Classes `json:"rise"` // metres from the first height
}

// fitDiscriminant analyses the classes, on rotation rates too if all examples
// have them (gyro), with the covariance shrunk toward its diagonal. With at most
// one slice there is one class of each.
func fitDiscriminant(o Options, gyro bool, slices int, shrink float64) func(context.Context, []Example, uint64) (core, error) {
	return func(ctx context.Context, ex []Example, seed uint64) (core, error) {
		d := &Discriminant{}
		v, odd, even := treeFeatures(gyro)
		if !gyro {
			v, odd, even = o.waited(v, odd, even)
		}
		o.Seed = seed
		frames, err := d.Aligner.learnWithin(ex, gyro, v, odd, even, o)
		if err != nil {
			return nil, err
		}
		var x [][]float64
		turn, rise := &classTarget{}, &classTarget{}
		faces := 1
		for i, e := range ex {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			f := frames[i]
			in := d.placed(f, e.Input)
			x = append(x, in, d.mirrored(in))
			toBearing := bearing.Diff(e.BearingDeg, bearing.Of(f.u)+bearing.Deg(f.yawRad))
			turn.add(labelWeight(e.BearingSDDeg, 5), toBearing, -toBearing)
			rise.add(labelWeight(e.HeightSDM, 0.035), e.HeightM-f.heightM, e.HeightM-f.heightM)
			faces = max(faces, e.Rig.Faces)
		}
		turn.part(slices, func(deg float64) int { return int(math.Round(deg * float64(faces) / 360)) })
		rise.part(slices, func(float64) int { return 0 })
		if d.Turn, err = turn.learn(x, shrink, circularMean); err != nil {
			return nil, err
		}
		if d.Rise, err = rise.learn(x, shrink, plainMean); err != nil {
			return nil, err
		}
		return d, nil
	}
}

func (d *Discriminant) answer(in Input) (complex128, float64, bool) {
	f := d.frame(in)
	x := d.placed(f, in)
	y := d.mirrored(x)
	q := f.u * unit(d.Turn.direction(x)+cmplx.Conj(d.Turn.direction(y)))
	h := f.heightM + (d.Rise.number(x)+d.Rise.number(y))/2
	return q, math.Min(math.Max(h, 0), in.Rig.Bag.LengthM), f.whole
}

func (d *Discriminant) features() []string { return alignedFeatures(&d.Aligner) }

func (d *Discriminant) cost() Cost {
	// A sum a class, twice for the mirror image, and its share in the mean.
	c := d.alignCost()
	turn, rise := len(d.Turn.Means), len(d.Rise.Means)
	return Cost{Macs: c.Macs + 2*(turn+rise)*d.treeColumns() + 4*turn + 2*rise, Numbers: c.Numbers + (turn+rise)*(d.treeColumns()+2)}
}

func (d *Discriminant) check() error {
	if err := d.Aligner.check(); err != nil {
		return err
	}
	if d.Turn == nil || d.Rise == nil {
		return errors.New("the classes of bearings or heights are missing")
	}
	for _, c := range []*Classes{d.Turn, d.Rise} {
		if err := c.check(d.treeColumns()); err != nil {
			return err
		}
	}
	return nil
}

// Settings of the discriminant.
const (
	settingShrink = "shrink"
	settingSlices = "slices"
)

func discriminantSettings() []Setting {
	return []Setting{
		{Name: settingShrink, Doc: "how far the covariance is shrunk toward its diagonal, 1 all the way; 0: picked on held-back strikes", Usual: 0, Least: 0, Most: 1, Try: shrinks()},
		{Name: settingSlices, Doc: "most slices of a face, and of the heights", Usual: 9, Least: 2, Most: 100, Whole: true, Try: []float64{5, 9, 15}},
	}
}

// shrinks are what cross-validation picks from, the stiffest first.
func shrinks() []float64 { return []float64{0.5, 0.1, 0.01} }

// discriminantCandidates lists the shrinkages. With a gyroscope aims must not
// teach classes (see coarse): the rig's own weights answer, and a constant rise.
func discriminantCandidates(ex []Example, o Options) []candidate {
	gyro := haveGyro(ex)
	if gyro && coarse(ex) {
		return []candidate{{name: "one class", lands: true, fit: fitDiscriminant(o, gyro, 1, 1)}}
	}
	try := shrinks()
	if s := o.Settings[settingShrink]; s > 0 {
		try = []float64{s}
	}
	var out []candidate
	for _, s := range try {
		out = append(out, candidate{name: fmt.Sprintf("shrunk by %g", s), fit: fitDiscriminant(o, gyro, int(o.Settings[settingSlices]), s)})
	}
	return out
}

func discriminant() recipe {
	return recipe{
		info: Info{
			Name: "discriminant", Kind: Fitted,
			Doc:   "linear discriminant analysis on aligned features: faces counted from the first direction, and heights, in slices",
			Gives: []string{"bearing", "height"}, UsesGyro: true, WaitMs: 65,
			Cost:     Cost{Macs: 3300, Numbers: 1700},
			NotBoard: "no C is written for its classes; complex-ridge or cart can be exported",
		},
		prior: priorCertainty(10, anywhereM), blind: priorCertainty(blindSDDeg, anywhereM),
		settings:   discriminantSettings(),
		candidates: discriminantCandidates,
		decode: func(data []byte) (core, error) {
			d := &Discriminant{}
			if err := strict(data, d); err != nil {
				return nil, err
			}
			if err := d.check(); err != nil {
				return nil, err
			}
			d.Aligner.ready()
			return d, nil
		},
	}
}
