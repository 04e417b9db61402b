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
type ComplexRidge struct {
	Form          string         `json:"form"`
	Changes       *Changes       `json:"changes,omitempty"` // of the rig's own weights; nil changes nothing
	Accelerometer *Accelerometer `json:"accelerometer,omitempty"`

	cache ratioCache
}

func newComplexRidge(form string, changes *Changes, a *Accelerometer) *ComplexRidge {
	c := &ComplexRidge{Form: form, Changes: changes, Accelerometer: a}
	c.cache.make = func(k Constants) *Ratio {
		if changes == nil {
			return ownRatio(k, nil, nil, nil)
		}
		r := ownRatio(k, changes.Vectors, changes.Odd, changes.Even)
		r.add(changes, changes.suits(k))
		return r
	}
	return c
}

// Ratio gives the steps and weights for one rig, nil in the accelerometer's
// form. The caller must not change them.
func (c *ComplexRidge) Ratio(r *rig.Rig) *Ratio {
	if c.Form == FormAccelerometer {
		return nil
	}
	return c.cache.of(ConstantsOf(r))
}

func (c *ComplexRidge) answer(in Input) (complex128, float64, bool) {
	if c.Form == FormAccelerometer {
		return c.Accelerometer.answer(in)
	}
	q, h, ok := c.Ratio(in.Rig).Answer(in.Row)
	if !ok && !in.Row.Has("tip") {
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
	names := append(ownVectors(), "twist")
	if c.Changes != nil {
		names = union(union(union(names, c.Changes.Vectors), c.Changes.Odd), c.Changes.Even)
	}
	return names
}

func (c *ComplexRidge) cost() Cost {
	if c.Form == FormAccelerometer {
		return c.Accelerometer.cost()
	}
	nz, no, ne := len(ownVectors()), 1, 0
	if c.Changes != nil {
		nz = len(union(ownVectors(), c.Changes.Vectors))
		no, ne = len(union([]string{"twist"}, c.Changes.Odd)), len(c.Changes.Even)
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

// complexRidgeCandidates lists the forms that the examples allow.
func complexRidgeCandidates(ex []Example) []candidate {
	if !haveGyro(ex) {
		return []candidate{{name: FormAccelerometer, fit: func(ctx context.Context, ex []Example, seed uint64) (core, error) {
			a, err := fitAccelerometer(ctx, ex, seed)
			if err != nil {
				return nil, err
			}
			return newComplexRidge(FormAccelerometer, nil, a), nil
		}}}
	}
	out := []candidate{{name: FormOwn, lands: true, fit: func(context.Context, []Example, uint64) (core, error) {
		return newComplexRidge(FormOwn, nil, nil), nil
	}}}
	if coarse(ex) {
		return out
	}
	changed := func(form string, vectors, odd, even []string) candidate {
		return candidate{name: form, fit: func(ctx context.Context, ex []Example, _ uint64) (core, error) {
			c, err := fitChanges(ctx, ex, vectors, odd, even)
			if err != nil {
				return nil, err
			}
			return newComplexRidge(form, c, nil), nil
		}}
	}
	if len(ex) >= fewFrom {
		out = append(out, changed(FormFew, fewVectors(), []string{"twist"}, []string{"lift"}))
	}
	if len(ex) >= fullFrom {
		out = append(out, changed(FormFull, fullVectors(), fullOdd(), fullEven()))
	}
	return out
}

// haveGyro tells whether every example has rotation rates.
func haveGyro(ex []Example) bool {
	for _, e := range ex {
		if !e.Row.Has("tip") {
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
		prior:      priorCertainty(5, 0.05),
		candidates: complexRidgeCandidates,
		decode:     decodeComplexRidge,
	}
}

func decodeComplexRidge(data []byte) (core, error) {
	var raw struct {
		Form          string         `json:"form"`
		Changes       *Changes       `json:"changes"`
		Accelerometer *Accelerometer `json:"accelerometer"`
	}
	if err := strict(data, &raw); err != nil {
		return nil, err
	}
	c := newComplexRidge(raw.Form, raw.Changes, raw.Accelerometer)
	return c, c.check()
}
