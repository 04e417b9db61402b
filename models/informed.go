package models

import (
	"context"
	"errors"
	"fmt"
	"math"

	"strikerose/dataset/bearing"
	"strikerose/models/physics"
)

// Forms of the informed detector.
const (
	FormPhysics = "physics" // the fit of the bag's motion alone
	FormLearned = "learned" // nets that know its answer and the features
)

// Informed answers by the fit of the bag's motion (see package physics) and what
// labels teach of where it errs: small nets that see the fit's answer, its own
// doubt and its rival beside the aligned features turn a first direction on to
// the bearing, right round if need be, and correct the fit's height. With a
// gyroscope and without one they are taught apart. Where there are too few labels
// to gain by, or none but aims, the fit answers alone.
type Informed struct {
	WithinMs      float64       `json:"within_ms,omitempty"` // after the onset, 0 the fit's own wait
	Gyro          *InformedNets `json:"gyro,omitempty"`
	Accelerometer *InformedNets `json:"accelerometer,omitempty"`

	places *placings
}

// InformedNets is what labels teach with a gyroscope or without one.
type InformedNets struct {
	Aligner
	Place  Standard `json:"place"`   // of the numbers that tell the fit's answer
	Nets   []*Net   `json:"nets"`    // averaged; outputs sin, cos, height
	ScaleM float64  `json:"scale_m"` // of the height's output
}

// Size of the nets and how they are taught, settled once for all rigs on the
// simulated recordings: from 8 to 16 units and decays of 0.3 to 1 err alike.
const (
	informedUnits  = 12
	informedDecay  = 0.5
	informedStarts = 4
)

func informedSettings() []Setting {
	return []Setting{
		{Name: settingUnits, Doc: "hidden units of each net", Usual: informedUnits, Least: 1, Most: 64, Whole: true, Try: []float64{8, 12, 16}},
		{Name: settingDecay, Doc: "decay of the nets' weights", Usual: informedDecay, Least: 0.001, Most: 100, Try: []float64{0.2, 0.5, 1}},
		{Name: settingStarts, Doc: "nets whose answers are averaged", Usual: informedStarts, Least: 1, Most: 32, Whole: true, Try: []float64{4, 8}},
	}
}

// informedFrom is from how many labels on nets are tried.
const informedFrom = 40

// informedCandidates lists the forms that the examples allow.
func informedCandidates(ex []Example, o Options) []candidate {
	places := &placings{withinMs: o.WithinMs}
	fit := func(learn bool) func(context.Context, []Example, uint64) (core, error) {
		return func(ctx context.Context, part []Example, seed uint64) (core, error) {
			if err := places.learn(ctx, ex); err != nil {
				return nil, err
			}
			c := &Informed{WithinMs: o.WithinMs, places: places}
			if !learn {
				return c, nil
			}
			o := o
			o.Seed = seed
			return c, c.learn(ctx, part, o)
		}
	}
	with, without := byGyro(ex)
	out := []candidate{{name: FormPhysics, lands: len(without) == 0, fit: fit(false)}}
	if len(with) >= informedFrom && !coarse(with) || len(without) >= informedFrom && !coarse(without) {
		out = append(out, candidate{name: FormLearned, fit: fit(true)})
	}
	return out
}

// learn teaches nets for either kind of rig. Aims must not teach (see coarse): not
// even without a gyroscope, where the fit knows the height better than aims do.
// Where a fold leaves too few of a kind, the fit answers alone.
func (c *Informed) learn(ctx context.Context, ex []Example, o Options) (err error) {
	with, without := byGyro(ex)
	if len(with) >= leastToCalibrate && !coarse(with) {
		if c.Gyro, err = fitInformed(ctx, with, true, c.places, o); err != nil {
			return err
		}
	}
	if len(without) >= leastToCalibrate && !coarse(without) {
		c.Accelerometer, err = fitInformed(ctx, without, false, c.places, o)
	}
	return err
}

func fitInformed(ctx context.Context, ex []Example, gyro bool, places *placings, o Options) (*InformedNets, error) {
	n := &InformedNets{ScaleM: netHeightM}
	v, odd, even := fullVectors(), fullOdd(), fullEven()
	if !gyro {
		v, odd, even = accelVectors(), nil, fullEven()
	}
	frames, err := n.Aligner.learnWithin(ex, gyro, v, odd, even, o)
	if err != nil {
		return nil, err
	}
	told := make([][]float64, len(ex))
	for i, e := range ex {
		told[i] = placeNumbers(places.of(e.Input), frames[i].u, e.Input)
	}
	n.Place = standardOf(told, func(column int) bool { return column < placeOdd })
	var lessons []lesson
	for i, e := range ex {
		f := frames[i]
		n.Place.apply(told[i])
		turn := bearing.Rad(e.BearingDeg) - f.yawRad - math.Atan2(imag(f.u), real(f.u))
		rise := e.HeightM - places.of(e.Input).HeightM
		l := turnLesson(append(f.features, told[i]...), turn, rise, labelWeight(e.BearingSDDeg, 5), labelWeight(e.HeightSDM, 0.035))
		lessons = append(lessons, l, l.reflected(n.reflect(l.in)))
	}
	if n.Nets, err = teachTurns(ctx, lessons, o); err != nil {
		return nil, err
	}
	return n, nil
}

// placeOdd is how many of the numbers that tell the fit's answer change their
// sign in a mirror; they come first. placeColumns is how many there are.
const placeOdd, placeColumns = 3, 14

// placeNumbers tells the fit's answer along the direction u: its direction,
// obliqueness and rival, height over the radius of gyration from the centre of
// mass, what doubts it has, and the sensor's place on the bag.
func placeNumbers(p physics.Place, u complex128, in Input) []float64 {
	c := ConstantsOf(in.Rig)
	above := func(heightM float64) float64 { return (heightM - c.CentreHeightM()) / c.RadiusOfGyrationM }
	const least = 0.01 // keeps logarithms finite
	return []float64{
		across(p.Toward, u), across(p.Rival.Toward, u), math.Sin(bearing.Rad(p.ObliqueDeg)),
		along(p.Toward, u), along(p.Rival.Toward, u), above(p.HeightM), above(p.Rival.HeightM), p.Rival.Behind,
		math.Log(p.BearingSDDeg + least), math.Log(p.HeightSDM + least), p.FlipShare, math.Log(p.Misfit + least), math.Log(p.ImpulseNs + 1), c.geometry(),
	}
}

// reflect returns the inputs of the strike's mirror image.
func (n *InformedNets) reflect(in []float64) []float64 {
	out := n.mirrored(in)
	for i := range placeOdd {
		out[n.Columns()+i] = -out[n.Columns()+i]
	}
	return out
}

func (c *Informed) answer(in Input) (complex128, float64, bool) {
	q, h, _, whole := c.tell(in)
	return q, h, whole
}

// tell answers with the fit's own doubt.
func (c *Informed) tell(in Input) (complex128, float64, doubt, bool) {
	p := c.places.of(in)
	if !p.Whole {
		return p.Toward, p.HeightM, usualDoubt(), false
	}
	d := placeDoubt(p)
	n := c.Accelerometer
	if hasGyro(in.Row) {
		n = c.Gyro
	}
	if n == nil {
		return p.Toward, p.HeightM, d, true
	}
	f := n.Aligner.frame(in)
	told := placeNumbers(p, f.u, in)
	n.Place.apply(told)
	x := append(f.features, told...)
	turn, rise := turnedBy(n.Nets, x, n.reflect(x))
	return f.u * unit(turn), math.Min(math.Max(p.HeightM+rise*n.ScaleM, 0), in.Rig.Bag.LengthM), d, f.whole
}

func (c *Informed) features() []string {
	names := []string{"kick"}
	for _, n := range []*InformedNets{c.Gyro, c.Accelerometer} {
		if n != nil {
			names = union(names, alignedFeatures(&n.Aligner))
		}
	}
	return names
}

func (c *Informed) waitMs(gyro bool) float64 { return placingMs(gyro, c.WithinMs) }

// blind: without rotation rates what labels teach hardly carries to other rigs.
func (*Informed) blind(gyro bool) bool { return !gyro }

func (c *Informed) cost() Cost {
	cost := (&Physics{}).cost()
	for _, n := range []*InformedNets{c.Gyro, c.Accelerometer} {
		if n == nil {
			continue
		}
		a := n.Aligner.alignCost()
		inputs, units := n.Columns()+placeColumns, len(n.Nets[0].Hidden)
		net := units*(inputs+netOutputs) + units + netOutputs
		cost.Macs += a.Macs + placeColumns + 2*len(n.Nets)*net
		cost.Numbers += a.Numbers + 2*placeColumns + len(n.Nets)*net
	}
	return cost
}

func (c *Informed) check() error {
	if !(c.WithinMs >= 0) {
		return fmt.Errorf("a wait of %g ms", c.WithinMs)
	}
	for _, n := range []*InformedNets{c.Gyro, c.Accelerometer} {
		if n == nil {
			continue
		}
		if err := n.Aligner.check(); err != nil {
			return err
		}
		if (n.First == nil) != (n == c.Gyro) || len(n.Nets) == 0 {
			return errors.New("the nets or the first direction's weights are missing")
		}
		if err := n.Place.check(placeColumns); err != nil {
			return err
		}
		for _, net := range n.Nets {
			if net == nil {
				return errors.New("a net is missing")
			}
			if err := net.check(n.Columns()+placeColumns, netOutputs); err != nil {
				return err
			}
		}
	}
	return nil
}

func decodeInformed(data []byte) (core, error) {
	c := &Informed{}
	if err := strict(data, c); err != nil {
		return nil, err
	}
	if err := c.check(); err != nil {
		return nil, err
	}
	c.places = &placings{withinMs: c.WithinMs}
	for _, n := range []*InformedNets{c.Gyro, c.Accelerometer} {
		if n != nil {
			n.Aligner.ready()
		}
	}
	return c, nil
}

func informed() recipe {
	return recipe{
		info: Info{
			Name: "informed", Kind: Fitted,
			Doc:   "the fit of swing, rocking, twist and the blow, and small nets that learn from labels where it errs",
			Gives: []string{"bearing", "height"}, UsesGyro: true, WaitMs: physics.WaitMs(false), GyroWaitMs: physics.WaitMs(true),
			Cost:     Cost{Macs: 70000, Numbers: 4500},
			NotBoard: "it integrates the bag's motion anew for every strike; complex-ridge is the best that a board can run",
		},
		prior: priorCertainty(physicsBearingDeg, physicsHeightM), blind: priorCertainty(informedBlindDeg, informedBlindM),
		settings:   informedSettings(),
		candidates: informedCandidates,
		decode:     decodeInformed,
	}
}

// What is stated without rotation rates on a rig of which nothing was measured:
// round numbers.
const (
	informedBlindDeg = 30.0
	informedBlindM   = 0.15
)
