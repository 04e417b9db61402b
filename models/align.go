package models

import (
	"errors"
	"fmt"
	"math"

	"strikerose/dataset/bearing"
)

// Aligner finds a first direction and writes a strike's features in the frame
// along it, so that every face teaches every other: vectors as their parts
// along and across, all over the strike's size, standardised and held to some
// standard deviations.
//
// With a gyroscope the direction is that of the rig's own weights; without one
// it is a learned weighted sum of the vectors.
type Aligner struct {
	Vectors []string  `json:"vectors"`
	Odd     []string  `json:"odd,omitempty"`
	Even    []string  `json:"even"`
	Size    []float64 `json:"size"`            // usual size of each vector
	First   []float64 `json:"first,omitempty"` // weights over Size; nil: the rig's own weights
	Own     []string  `json:"own,omitempty"`   // features that those read; nil: all of them
	Mean    []float64 `json:"mean"`            // of each aligned feature
	Spread  []float64 `json:"spread"`

	cache *ratioCache
}

// heldSD bounds an aligned feature, in standard deviations.
const heldSD = 4.0

// frame is a strike seen along its first direction.
type frame struct {
	u        complex128 // unit vector: first direction
	features []float64  // along and across of each vector, odd, even
	whole    bool
	heightM  float64 // by the rig's own weights; the centre of mass where they do not answer
	yawRad   float64 // of the rig, while learning
}

// Columns is the number of aligned features.
func (a *Aligner) Columns() int { return 2*len(a.Vectors) + len(a.Odd) + len(a.Even) }

// blind tells that the direction does without rotation rates.
func (a *Aligner) blind(bool) bool { return a.First != nil }

// needsGyro tells whether it learned where there were rotation rates.
func (a *Aligner) needsGyro() bool { return readRates(alignedFeatures(a)) }

// alignCost is what an answer takes up to the aligned features.
func (a *Aligner) alignCost() Cost {
	n := len(a.Vectors)
	// Of each vector: its parts over the usual size and their squares, then the
	// parts along and across; one multiplication to standardise each feature.
	c := Cost{Macs: 8*n + a.Columns(), Numbers: n + 2*a.Columns()}
	if a.First != nil {
		return Cost{Macs: c.Macs + 2*n, Numbers: c.Numbers + n}
	}
	vectors, odd := splitOwn(a.Own)
	own := len(vectors)
	return Cost{Macs: c.Macs + 2*own + 3*len(odd), Numbers: c.Numbers + own + len(odd)} // and the twist's part
}

// odd tells whether an aligned feature changes its sign in a mirror.
func (a *Aligner) odd(i int) bool {
	if i < 2*len(a.Vectors) {
		return i%2 == 1
	}
	return i < 2*len(a.Vectors)+len(a.Odd)
}

// mirrored returns the inputs of the strike's mirror image: aligned features, and
// after them what a mirror does not change.
func (a *Aligner) mirrored(in []float64) []float64 {
	out := append([]float64(nil), in...)
	for i := range a.Columns() {
		if a.odd(i) {
			out[i] = -out[i]
		}
	}
	return out
}

// raw gives the direction and the aligned features before standardising.
func (a *Aligner) raw(in Input) frame {
	z, ok1 := vectors(in.Row, a.Vectors, nil)
	odd, ok2 := scalars(in.Row, a.Odd, nil)
	even, ok3 := scalars(in.Row, a.Even, nil)
	f := frame{whole: ok1 && ok2 && ok3}
	var size float64
	for k, v := range z {
		size += size2(v) / (a.Size[k] * a.Size[k])
	}
	size = math.Sqrt(size / float64(len(z)))
	if a.First == nil {
		q, h, ok := a.own(in).Answer(in.Row)
		f.u, f.heightM, f.whole = unit(q), h, f.whole && ok
	} else {
		var u complex128
		for k, v := range z {
			u += complex(a.First[k]/a.Size[k], 0) * v
		}
		f.u = unit(u)
		f.heightM = ConstantsOf(in.Rig).CentreHeightM()
	}
	if !(size > 0) {
		size, f.whole = 1, false
	}
	for k, v := range z {
		s := a.Size[k] * size
		f.features = append(f.features, along(v, f.u)/s, across(v, f.u)/s)
	}
	for _, v := range odd {
		f.features = append(f.features, v/size)
	}
	for _, v := range even {
		f.features = append(f.features, v/size)
	}
	return f
}

// frame gives the direction and the standardised features. It does not change
// the aligner.
func (a *Aligner) frame(in Input) frame {
	f := a.raw(in)
	Standard{a.Mean, a.Spread}.apply(f.features)
	return f
}

func (a *Aligner) own(in Input) *Ratio { return a.cache.of(ConstantsOf(in.Rig)) }

// ready prepares the cache of the rigs' own weights.
func (a *Aligner) ready() {
	a.cache = &ratioCache{make: func(c Constants) *Ratio { return ownRatio(c, a.Own, nil, nil, nil) }}
}

// learnCrossed learns the direction and the scales and returns every example's
// frame. With gyro, which all examples must have, the direction is that of the
// rig's own weights. Where it is learned, an example's own frame comes from a
// direction learned without its fold: one that has seen the answer would show
// the next stage errors smaller than it will meet.
func (a *Aligner) learnCrossed(ex []Example, gyro bool, vectorNames, oddNames, evenNames []string, seed uint64) ([]frame, error) {
	if len(ex) == 0 {
		return nil, errors.New("align: no examples")
	}
	a.Vectors, a.Odd, a.Even = vectorNames, oddNames, evenNames
	a.Size = make([]float64, len(vectorNames))
	for _, e := range ex {
		z, _ := vectors(e.Row, vectorNames, nil)
		for k, v := range z {
			a.Size[k] += size2(v) / float64(len(ex))
		}
	}
	for k := range a.Size {
		a.Size[k] = math.Sqrt(a.Size[k]) + 1e-9
	}
	a.ready()
	frames := make([]frame, len(ex))
	if gyro {
		for i, e := range ex {
			frames[i] = a.raw(e.Input)
		}
		setYaw(frames, ex)
		a.learnScales(frames)
		return frames, nil
	}
	of, n, _ := folds(ex, seed)
	for f := range n {
		train, _ := split(ex, of, f)
		part := *a
		if err := part.learnFirst(train); err != nil {
			return nil, err
		}
		for i, e := range ex {
			if of[i] == f {
				frames[i] = part.raw(e.Input)
			}
		}
	}
	if err := a.learnFirst(ex); err != nil {
		return nil, err
	}
	all := make([]frame, len(ex))
	for i, e := range ex {
		all[i] = a.raw(e.Input)
	}
	setYaw(all, ex)
	if n == 0 {
		frames = all
	}
	for i := range frames {
		frames[i].yawRad = all[i].yawRad
	}
	a.learnScales(frames)
	return frames, nil
}

// learnWithin is learnCrossed on what the options allow of the lists.
func (a *Aligner) learnWithin(ex []Example, gyro bool, vectorNames, oddNames, evenNames []string, o Options) ([]frame, error) {
	v, odd, even, err := o.lists(vectorNames, oddNames, evenNames)
	if err != nil {
		return nil, err
	}
	if gyro {
		if a.Own, err = o.own(); err != nil {
			return nil, err
		}
	}
	return a.learnCrossed(ex, gyro, v, odd, even, o.Seed)
}

// learnFirst fits the first direction's weights: ridge regression of
// exp(i bearing) on the vectors over the strike's size, real weights, the
// bearing turned back by each rig's yaw, which three rounds settle.
func (a *Aligner) learnFirst(ex []Example) error {
	scaled := make([][]complex128, len(ex))
	for i, e := range ex {
		z, _ := vectors(e.Row, a.Vectors, nil)
		var size float64
		for k := range z {
			z[k] /= complex(a.Size[k], 0)
			size += size2(z[k])
		}
		if size = math.Sqrt(size / float64(len(z))); size > 0 {
			for k := range z {
				z[k] /= complex(size, 0)
			}
		}
		scaled[i] = z
	}
	yaw := map[string]float64{}
	for range 3 {
		var rows [][]float64
		var target []float64
		for i, e := range ex {
			root := math.Sqrt(labelWeight(e.BearingSDDeg, 5))
			to := bearing.Unit(e.BearingDeg - yaw[e.Rig.Key()])
			re, im := make([]float64, len(a.Vectors)), make([]float64, len(a.Vectors))
			for k, v := range scaled[i] {
				re[k], im[k] = root*real(v), root*imag(v)
			}
			rows = append(rows, re, im)
			target = append(target, root*real(to), root*imag(to))
		}
		w, err := ridge(rows, target, alignStrong)
		if err != nil {
			return fmt.Errorf("align: %w", err)
		}
		a.First = w
		differences := map[string][]float64{}
		for i, e := range ex {
			var u complex128
			for k, v := range scaled[i] {
				u += complex(w[k], 0) * v
			}
			differences[e.Rig.Key()] = append(differences[e.Rig.Key()], bearing.Diff(e.BearingDeg, bearing.Of(u)))
		}
		for k, d := range differences {
			yaw[k], _ = yawOffset(d, nil)
		}
	}
	return nil
}

// setYaw gives every frame its rig's yaw as its first direction sees it.
func setYaw(frames []frame, ex []Example) {
	differences := map[string][]float64{}
	for i, e := range ex {
		differences[e.Rig.Key()] = append(differences[e.Rig.Key()], bearing.Diff(e.BearingDeg, bearing.Of(frames[i].u)))
	}
	yaw := map[string]float64{}
	for k, d := range differences {
		yaw[k], _ = yawOffset(d, nil)
	}
	for i, e := range ex {
		frames[i].yawRad = bearing.Rad(yaw[e.Rig.Key()])
	}
}

// learnScales learns mean and spread of the aligned features, odd ones about 0
// so that mirror images stay mirror images, and standardises the frames.
func (a *Aligner) learnScales(frames []frame) {
	rows := make([][]float64, len(frames))
	for i, f := range frames {
		rows[i] = f.features
	}
	s := standardOf(rows, a.odd)
	a.Mean, a.Spread = s.Mean, s.Spread
	for _, row := range rows {
		s.apply(row)
	}
}

func (a *Aligner) check() error {
	if err := checkLists(a.Vectors, a.Odd, a.Even); err != nil {
		return err
	}
	if err := checkOwn(a.Own); err != nil {
		return err
	}
	if len(a.Vectors) == 0 || len(a.Size) != len(a.Vectors) || a.First != nil && len(a.First) != len(a.Vectors) ||
		len(a.Mean) != a.Columns() || len(a.Spread) != a.Columns() {
		return fmt.Errorf("aligned features: %d vectors with %d sizes, %d weights, %d means and %d spreads do not fit together",
			len(a.Vectors), len(a.Size), len(a.First), len(a.Mean), len(a.Spread))
	}
	for _, s := range append(append([]float64(nil), a.Size...), a.Spread...) {
		if !(s > 0) {
			return fmt.Errorf("aligned features: a scale of %g is not positive", s)
		}
	}
	return nil
}
