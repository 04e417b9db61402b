package models

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"sync"

	"strikerose/dataset/bearing"
)

// Perceptron answers with small nets. Where there are rotation rates, the rig's
// own weights give a first direction and height, and the nets correct both on
// aligned features (see Corrector); without them it answers as the complex ridge
// does (see Accelerometer). Trained on rigs of both kinds, it holds both and
// answers each by its own.
type Perceptron struct {
	Gyroscope     *Corrector     `json:"gyroscope,omitempty"`
	Accelerometer *Accelerometer `json:"accelerometer,omitempty"`
}

// Corrector corrects the answer of the rig's own weights by the mean of small
// nets. They see the strike's aligned features, the first height and the sensor's
// height over the centre of mass; an answer is the mean of a strike's and of its
// mirror image's. Without nets the first answer stands.
type Corrector struct {
	Aligner
	Nets    []*Net  `json:"nets"`     // averaged; outputs turn, rise
	TurnRad float64 `json:"turn_rad"` // of the turn's output
	RiseM   float64 `json:"rise_m"`   // of the height's output
}

// Scales of the errors in the robust loss: what the rig's own weights leave is of
// their size, so that flips and slips among the labels count little.
const (
	correctedTurnRad = 0.04
	correctedRiseM   = 0.02
	correctedOutputs = 2
)

// Forms of the perceptron with a gyroscope: no net, a net on twelve features, and
// one on all of the first 65 ms.
const (
	formTwelve = "twelve"
	formNone   = "none"
)

// twelveTo is how many labels make trying the twelve a waste: on simulated
// recordings all features were better from 270 labels on.
const twelveTo = 600

func perceptronFeatures(form string) (vectors, odd, even []string) {
	if form == FormFull {
		return treeFeatures(true)
	}
	return []string{"kick", "tip", "accel_before", "accel_150_60_before", "accel_m1_4", "rock_m1_4", "rock_8_12", "accel_50_65", "rock_50_65"},
		[]string{"twist", "spin_50_65"}, []string{"lift"}
}

func fitCorrector(ctx context.Context, ex []Example, o Options, form string) (*Corrector, error) {
	c := &Corrector{TurnRad: correctedTurnRad, RiseM: correctedRiseM, Nets: []*Net{}}
	v, odd, even := perceptronFeatures(form)
	frames, err := c.Aligner.learnWithin(ex, true, v, odd, even, o)
	if err != nil || form == formNone {
		return c, err
	}
	var lessons []lesson
	for i, e := range ex {
		f := frames[i]
		turn := bearing.Rad(bearing.Diff(e.BearingDeg, bearing.Of(f.u)+bearing.Deg(f.yawRad)))
		l := lesson{
			in:     c.placed(f, e.Input),
			want:   []float64{turn / c.TurnRad, (e.HeightM - f.heightM) / c.RiseM},
			weight: []float64{labelWeight(e.BearingSDDeg, 5), labelWeight(e.HeightSDM, 0.035)},
		}
		m := l
		m.in = c.mirrored(l.in)
		m.want = []float64{-l.want[0], l.want[1]}
		lessons = append(lessons, l, m)
	}
	c.Nets, err = teachAtOnce(ctx, lessons, o)
	return c, err
}

// teachAtOnce teaches the nets that the settings ask for, all at the same time,
// each from a start of its own.
func teachAtOnce(ctx context.Context, lessons []lesson, o Options) ([]*Net, error) {
	nets := make([]*Net, int(o.Settings[settingStarts]))
	faults := make([]error, len(nets))
	var wg sync.WaitGroup
	for s := range nets {
		wg.Go(func() {
			rng := rand.New(rand.NewPCG(o.Seed, uint64(200+s)))
			nets[s], faults[s] = teach(ctx, lessons, int(o.Settings[settingUnits]), o.Settings[settingDecay], netSteps, rng)
		})
	}
	wg.Wait()
	return nets, cmp.Or(faults...)
}

func (c *Corrector) answer(in Input) (complex128, float64, bool) {
	f := c.frame(in)
	x := c.placed(f, in)
	y := c.mirrored(x)
	var turn, rise float64
	out := make([]float64, correctedOutputs)
	share := 1 / float64(2*max(len(c.Nets), 1))
	for _, n := range c.Nets {
		n.answer(x, out)
		turn, rise = turn+share*out[0], rise+share*out[1]
		n.answer(y, out)
		turn, rise = turn-share*out[0], rise+share*out[1]
	}
	h := f.heightM + rise*c.RiseM
	return f.u * bearing.Unit(bearing.Deg(turn*c.TurnRad)), math.Min(math.Max(h, 0), in.Rig.Bag.LengthM), f.whole
}

func (c *Corrector) cost() Cost {
	cost := c.alignCost()
	for _, n := range c.Nets {
		weights := n.weights()
		cost.Macs, cost.Numbers = cost.Macs+2*weights, cost.Numbers+weights
	}
	return cost
}

func (c *Corrector) check() error {
	if err := c.Aligner.check(); err != nil {
		return err
	}
	if c.First != nil || !(c.TurnRad > 0 && c.RiseM > 0) {
		return fmt.Errorf("%d first weights beside the rig's own, and scales of %g and %g", len(c.First), c.TurnRad, c.RiseM)
	}
	for _, n := range c.Nets {
		if n == nil {
			return errors.New("a net is missing")
		}
		if err := n.check(c.treeColumns(), correctedOutputs); err != nil {
			return err
		}
	}
	return nil
}

// fitPerceptron fits one form, to strikes with rotation rates and to those
// without apart.
func fitPerceptron(o Options, form string) func(context.Context, []Example, uint64) (core, error) {
	return func(ctx context.Context, ex []Example, seed uint64) (core, error) {
		o.Seed = seed
		p := &Perceptron{}
		with, without := byGyro(ex)
		var err error
		if len(with) > 0 {
			if p.Gyroscope, err = fitCorrector(ctx, with, o, form); err != nil {
				return nil, err
			}
		}
		if len(without) > 0 {
			if p.Accelerometer, err = fitAccelerometer(ctx, without, o); err != nil {
				return nil, err
			}
		}
		return p, nil
	}
}

func (p *Perceptron) answer(in Input) (complex128, float64, bool) {
	if p.blind(hasGyro(in.Row)) {
		return p.Accelerometer.answer(in)
	}
	return p.Gyroscope.answer(in)
}

func (p *Perceptron) blind(gyro bool) bool {
	return p.Gyroscope == nil || p.Accelerometer != nil && !gyro
}

// needsGyro tells whether no label without rotation rates taught it.
func (p *Perceptron) needsGyro() bool { return p.Accelerometer == nil && readRates(p.features()) }

func (p *Perceptron) features() []string {
	var out []string
	if p.Gyroscope != nil {
		out = alignedFeatures(&p.Gyroscope.Aligner)
	}
	if p.Accelerometer != nil {
		out = union(out, p.Accelerometer.features())
	}
	return out
}

// cost is that of the dearer part, and the numbers of both.
func (p *Perceptron) cost() Cost {
	var c Cost
	if p.Gyroscope != nil {
		c = p.Gyroscope.cost()
	}
	if p.Accelerometer != nil {
		a := p.Accelerometer.cost()
		c = Cost{Macs: max(c.Macs, a.Macs), Numbers: c.Numbers + a.Numbers}
	}
	return c
}

func (p *Perceptron) check() error {
	if p.Gyroscope == nil && p.Accelerometer == nil {
		return errors.New("there is neither a part with a gyroscope nor one without")
	}
	if p.Gyroscope != nil {
		if err := p.Gyroscope.check(); err != nil {
			return err
		}
	}
	if p.Accelerometer != nil {
		return p.Accelerometer.check()
	}
	return nil
}

func (p *Perceptron) ready() {
	if p.Gyroscope != nil {
		p.Gyroscope.ready()
	}
}

// nets lists the nets of both parts.
func (p *Perceptron) nets() []*Net {
	var out []*Net
	if p.Gyroscope != nil {
		out = append(out, p.Gyroscope.Nets...)
	}
	if p.Accelerometer != nil {
		out = append(out, p.Accelerometer.Nets...)
	}
	return out
}

func perceptronSettings() []Setting {
	return []Setting{
		{Name: settingUnits, Doc: "hidden units of each net", Usual: netUnits, Least: 1, Most: 64, Whole: true, Try: []float64{4, 8, 16}},
		{Name: settingDecay, Doc: "decay of the nets' weights", Usual: netDecay, Least: 0.001, Most: 100, Try: []float64{0.1, 0.3, 1}},
		{Name: settingStarts, Doc: "nets whose answers are averaged", Usual: netStarts, Least: 1, Most: 32, Whole: true, Try: []float64{1, 3}},
	}
}

// perceptronCandidates lists the forms that the examples allow. With a gyroscope
// aims must not teach nets (see coarse): the rig's own weights answer alone.
func perceptronCandidates(ex []Example, o Options) []candidate {
	with, without := byGyro(ex)
	if len(with) == 0 {
		return []candidate{{name: FormAccelerometer, fit: fitPerceptron(o, formNone)}}
	}
	out := []candidate{{name: formNone, lands: len(without) == 0, fit: fitPerceptron(o, formNone)}}
	if coarse(with) {
		return out
	}
	if len(with) >= fewFrom && len(with) < twelveTo {
		out = append(out, candidate{name: formTwelve, fit: fitPerceptron(o, formTwelve)})
	}
	if len(with) >= fullFrom {
		out = append(out, candidate{name: FormFull, fit: fitPerceptron(o, FormFull)})
	}
	return out
}

func perceptron() recipe {
	return recipe{
		info: Info{
			Name: "perceptron", Kind: Fitted,
			Doc:   "small nets on aligned features, which correct the rig's own weights; without a gyroscope as complex-ridge",
			Gives: []string{"bearing", "height"}, UsesGyro: true, WaitMs: 65,
			Cost:     Cost{Macs: 4100, Numbers: 2200},
			NotBoard: "no C is written yet for nets beside the rig's own weights; complex-ridge can be exported",
		},
		prior: priorCertainty(5, 0.05), blind: priorCertainty(blindSDDeg, anywhereM),
		settings:   perceptronSettings(),
		candidates: perceptronCandidates,
		decode: func(data []byte) (core, error) {
			p := &Perceptron{}
			if err := strict(data, p); err != nil {
				return nil, err
			}
			if err := p.check(); err != nil {
				return nil, err
			}
			p.ready()
			return p, nil
		},
	}
}
