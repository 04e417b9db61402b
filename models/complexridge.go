package models

import (
	"context"

	"strikerose/dataset/rig"
)

// Forms of the complex-ridge detector.
const (
	FormOwn           = "own"           // gyroscope: the rig's own weights
	FormFew           = "few"           // gyroscope: six vectors, twist and lift changed by labels
	FormFull          = "full"          // gyroscope: every vector of the first 65 ms changed by labels
	FormAccelerometer = "accelerometer" // no gyroscope: complex ridge and a small net
)

// ComplexRidge writes every horizontal vector as a complex number and forms
// the direction as a weighted sum of them; what it then knows of the strike it
// expresses along that direction. With a gyroscope the weights start from the
// rig's constants (see Ratio) and labels change them; without one the weights
// come from labels and a small net turns the direction on (see Accelerometer).
// Trained on rigs of both kinds, it holds both and answers each by its own.
type ComplexRidge struct {
	Form          string         `json:"form"`
	Own           []string       `json:"own,omitempty"`     // features that the rig's own weights read; nil: all of them
	Changes       *Changes       `json:"changes,omitempty"` // of the rig's own weights; nil changes nothing
	Accelerometer *Accelerometer `json:"accelerometer,omitempty"`

	cache ratioCache
}

func newComplexRidge(form string, own []string, changes *Changes, a *Accelerometer) *ComplexRidge {
	c := &ComplexRidge{Form: form, Own: own, Changes: changes, Accelerometer: a}
	c.cache.make = func(k Constants) *Ratio {
		if changes == nil {
			return ownRatio(k, own, nil, nil, nil)
		}
		r := ownRatio(k, own, changes.Vectors, changes.Odd, changes.Even)
		r.add(changes, changes.suits(k))
		return r
	}
	return c
}

// Ratio gives the steps and weights for one rig, nil where Accelerometer
// answers for it. The caller must not change them.
func (c *ComplexRidge) Ratio(r *rig.Rig) *Ratio {
	if c.Form == FormAccelerometer || c.Accelerometer != nil && !r.HasGyro() {
		return nil
	}
	return c.cache.of(ConstantsOf(r))
}

func (c *ComplexRidge) answer(in Input) (complex128, float64, bool) {
	if c.Form == FormAccelerometer || c.Accelerometer != nil && !hasGyro(in.Row) {
		return c.Accelerometer.answer(in)
	}
	q, h, ok := c.cache.of(ConstantsOf(in.Rig)).Answer(in.Row)
	if !ok && !hasGyro(in.Row) {
		// Trained with a gyroscope, asked without: the kick's direction is left.
		z, _ := vectors(in.Row, []string{"kick"}, nil)
		return -z[0], in.Rig.Bag.LengthM / 2, false
	}
	return q, h, ok
}

func (c *ComplexRidge) features() []string {
	if c.Form == FormAccelerometer {
		return c.Accelerometer.features()
	}
	vectors, odd := splitOwn(c.Own)
	names := append(vectors, odd...)
	if c.Changes != nil {
		names = union(union(union(names, c.Changes.Vectors), c.Changes.Odd), c.Changes.Even)
	}
	if c.Accelerometer != nil {
		names = union(names, c.Accelerometer.features())
	}
	return names
}

func (c *ComplexRidge) blind(gyro bool) bool {
	return c.Form == FormAccelerometer || c.Accelerometer != nil && !gyro
}

// needsGyro tells whether no label without rotation rates taught it.
func (c *ComplexRidge) needsGyro() bool { return c.Accelerometer == nil && readRates(c.features()) }

func (c *ComplexRidge) cost() Cost {
	if c.Form == FormAccelerometer {
		return c.Accelerometer.cost()
	}
	vectors, odd := splitOwn(c.Own)
	nz, no, ne := len(vectors), len(odd), 0
	if c.Changes != nil {
		nz = len(union(vectors, c.Changes.Vectors))
		no, ne = len(union(odd, c.Changes.Odd)), len(c.Changes.Even)
	}
	// Two complex sums, the parts along the direction, two real sums.
	return Cost{Macs: 2*2*nz + no + ne + 2*nz + 2*(nz+ne) + 8, Numbers: 4*nz + no + 3*ne + 4}
}

// fullVectors and the like are the features of the full form: the first 65 ms
// and what came before.
func fullVectors() []string {
	names := []string{"kick", "tip", "accel_before", "rock_before"}
	for _, w := range windows65() {
		names = append(names, "accel"+w, "rock"+w)
	}
	for _, b := range []string{"_60_25_before", "_150_60_before", "_300_150_before"} {
		names = append(names, "accel"+b, "rock"+b)
	}
	return names
}

func fullOdd() []string {
	names := []string{"twist"}
	for _, w := range windows65() {
		names = append(names, "spin"+w)
	}
	return names
}

func fullEven() []string {
	names := []string{"lift"}
	for _, w := range windows65() {
		names = append(names, "vertical"+w)
	}
	return names
}

func windows65() []string {
	return []string{"_m1_4", "_4_8", "_8_12", "_12_18", "_18_25", "_25_35", "_35_50", "_50_65"}
}

func fewVectors() []string {
	return []string{"kick", "tip", "accel_before", "rock_before", "accel_50_65", "rock_50_65"}
}

// Labels below which a form has too many weights to be worth trying.
const (
	fewFrom  = 40
	fullFrom = 80
)

// complexRidgeCandidates lists the forms that the examples allow. Strikes with
// and without gyroscope teach a part each.
func complexRidgeCandidates(ex []Example, o Options) []candidate {
	with, without := byGyro(ex)
	if len(with) == 0 {
		return []candidate{{name: FormAccelerometer, fit: fitComplexRidge(o, FormAccelerometer, nil, nil, nil)}}
	}
	out := []candidate{{name: FormOwn, lands: len(without) == 0, fit: fitComplexRidge(o, FormOwn, nil, nil, nil)}}
	if coarse(with) {
		return out
	}
	for _, form := range []struct {
		name               string
		from               int
		vectors, odd, even []string
	}{
		{FormFew, fewFrom, fewVectors(), []string{"twist"}, []string{"lift"}},
		{FormFull, fullFrom, fullVectors(), fullOdd(), fullEven()},
	} {
		v, odd, even := o.inTime(form.vectors), o.inTime(form.odd), o.cut(form.even)
		if len(with) >= form.from && len(v) > 0 {
			out = append(out, candidate{name: form.name, fit: fitComplexRidge(o, form.name, v, odd, even)})
		}
	}
	return out
}

// fitComplexRidge fits one form. Where a fold holds back every strike with
// gyroscope, or every one without, the other part is all there is.
func fitComplexRidge(o Options, form string, vectors, odd, even []string) func(context.Context, []Example, uint64) (core, error) {
	return func(ctx context.Context, ex []Example, seed uint64) (core, error) {
		with, without := byGyro(ex)
		var a *Accelerometer
		var c *Changes
		var err error
		if len(without) > 0 {
			o.Seed = seed
			if a, err = fitAccelerometer(ctx, without, o); err != nil {
				return nil, err
			}
		}
		if len(with) == 0 {
			return newComplexRidge(FormAccelerometer, nil, nil, a), nil
		}
		own, err := o.own()
		if err != nil {
			return nil, err
		}
		if form != FormOwn {
			if c, err = fitChanges(ctx, with, own, vectors, odd, even, o.Settings[settingPull]); err != nil {
				return nil, err
			}
		}
		return newComplexRidge(form, own, c, a), nil
	}
}

// Settings of the complex ridge.
const (
	settingPull   = "pull"
	settingUnits  = "units"
	settingDecay  = "decay"
	settingStarts = "starts"
)

func complexRidgeSettings() []Setting {
	return []Setting{
		{Name: settingPull, Doc: "factor on the pull toward the rig's own weights", Usual: 1, Least: 0.001, Most: 1000, Try: []float64{0.1, 0.3, 1, 3, 10}, NeedsGyro: true},
		{Name: settingUnits, Doc: "hidden units of each net", Usual: netUnits, Least: 1, Most: 64, Whole: true, Try: []float64{4, 8, 16}, NoGyro: true},
		{Name: settingDecay, Doc: "decay of the nets' weights", Usual: netDecay, Least: 0.001, Most: 100, Try: []float64{0.1, 0.3, 1}, NoGyro: true},
		{Name: settingStarts, Doc: "nets whose answers are averaged", Usual: netStarts, Least: 1, Most: 32, Whole: true, Try: []float64{1, 3}, NoGyro: true},
	}
}

// byGyro parts the examples into those with rotation rates and those without.
func byGyro(ex []Example) (with, without []Example) {
	for _, e := range ex {
		if hasGyro(e.Row) {
			with = append(with, e)
		} else {
			without = append(without, e)
		}
	}
	return with, without
}

// haveGyro tells whether every example has rotation rates.
func haveGyro(ex []Example) bool {
	for _, e := range ex {
		if !hasGyro(e.Row) {
			return false
		}
	}
	return len(ex) > 0
}

func complexRidge() recipe {
	return recipe{
		info: Info{
			Name: "complex-ridge", Kind: Fitted,
			Doc:   "weighted sums of all horizontal vectors as complex numbers, from the rig's own weights; without a gyroscope a small net on aligned features",
			Gives: []string{"bearing", "height"}, UsesGyro: true, WaitMs: 65,
			Cost: Cost{Macs: 270, Numbers: 160}, Board: true,
		},
		prior: priorCertainty(5, 0.05), blind: priorCertainty(blindSDDeg, anywhereM),
		settings:   complexRidgeSettings(),
		candidates: complexRidgeCandidates,
		decode:     decodeComplexRidge,
	}
}

func decodeComplexRidge(data []byte) (core, error) {
	var raw struct {
		Form          string         `json:"form"`
		Own           []string       `json:"own"`
		Changes       *Changes       `json:"changes"`
		Accelerometer *Accelerometer `json:"accelerometer"`
	}
	if err := strict(data, &raw); err != nil {
		return nil, err
	}
	c := newComplexRidge(raw.Form, raw.Own, raw.Changes, raw.Accelerometer)
	return c, c.check()
}
