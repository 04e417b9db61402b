package models

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"strikerose/dataset/bearing"
	"strikerose/models/golearn"
)

// Cart answers with three regression trees on aligned features: the sine and
// cosine of how far the bearing lies from the first direction, and the height.
type Cart struct {
	Aligner
	Sin    []golearn.Node `json:"sin"`
	Cos    []golearn.Node `json:"cos"`
	Height []golearn.Node `json:"height"` // metres above the centre of mass
}

// Settings of the trees, the depth of those for the bearing and of that for the
// height. A leaf should hold some ten strikes of an evening or two.
const (
	settingTurnDepth   = "turn_depth"
	settingHeightDepth = "height_depth"
)

func cartSettings() []Setting {
	return []Setting{
		{Name: settingTurnDepth, Doc: "splits from root to leaf of the trees for the bearing", Usual: 4, Least: 1, Most: 12, Whole: true, Try: []float64{2, 3, 4, 5, 6}},
		{Name: settingHeightDepth, Doc: "splits from root to leaf of the tree for the height", Usual: 5, Least: 1, Most: 12, Whole: true, Try: []float64{3, 4, 5, 6, 7}},
	}
}

// cartFeatures are the features that the trees may split on.
func cartFeatures(gyro bool) (vectors, odd, even []string) {
	vectors = []string{"kick", "accel_before", "accel_25_35", "accel_50_65"}
	if gyro {
		return append(vectors, "tip"), []string{"twist"}, []string{"lift"}
	}
	return append(vectors, "accel_m1_4", "accel_8_12", "accel_35_50"), nil, []string{"lift", "vertical_50_65"}
}

// fitCart grows the trees, on rotation rates too if all examples have them
// (gyro).
func fitCart(o Options, gyro bool) func(context.Context, []Example, uint64) (core, error) {
	return func(_ context.Context, ex []Example, seed uint64) (core, error) {
		c := &Cart{}
		v, odd, even := cartFeatures(gyro)
		o.Seed = seed
		frames, err := c.Aligner.learnWithin(ex, gyro, v, odd, even, o)
		if err != nil {
			return nil, err
		}
		x := make([][]float64, len(ex))
		sin, cos, height := make([]float64, len(ex)), make([]float64, len(ex)), make([]float64, len(ex))
		for i, e := range ex {
			f := frames[i]
			x[i] = f.features
			turn := bearing.Unit(bearing.Diff(e.BearingDeg, bearing.Of(f.u)+bearing.Deg(f.yawRad)))
			sin[i], cos[i] = imag(turn), real(turn)
			height[i] = e.HeightM - ConstantsOf(e.Rig).CentreHeightM()
		}
		x = stepped(x, cartSteps)
		for _, t := range []struct {
			to    *[]golearn.Node
			y     []float64
			depth string // its setting
		}{{&c.Sin, sin, settingTurnDepth}, {&c.Cos, cos, settingTurnDepth}, {&c.Height, height, settingHeightDepth}} {
			if *t.to, err = golearn.Regress(x, t.y, int(o.Settings[t.depth])); err != nil {
				return nil, err
			}
		}
		return c, nil
	}
}

// cartSteps is how many values a feature may take while trees are fitted. The
// library tries a split between any two values of a feature and counts all
// strikes for each, which grows with the square of the strikes; finer splits
// than these would fit noise.
const cartSteps = 48

// stepped returns the rows with each column's values put in at most n steps of
// equally many rows, each value replaced by the mean of its step.
func stepped(x [][]float64, n int) [][]float64 {
	out := make([][]float64, len(x))
	for i := range x {
		out[i] = slices.Clone(x[i])
	}
	if len(x) <= n {
		return out
	}
	order := make([]int, len(x))
	for k := range x[0] {
		for i := range order {
			order[i] = i
		}
		slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(x[a][k], x[b][k]) })
		for s := range n {
			members := order[s*len(x)/n : (s+1)*len(x)/n]
			var mean float64
			for _, i := range members {
				mean += x[i][k] / float64(len(members))
			}
			for _, i := range members {
				out[i][k] = mean
			}
		}
	}
	return out
}

func (c *Cart) answer(in Input) (complex128, float64, bool) {
	f := c.Aligner.frame(in)
	turn := complex(golearn.Predict(c.Cos, f.features), golearn.Predict(c.Sin, f.features))
	k := ConstantsOf(in.Rig)
	h := k.CentreHeightM() + golearn.Predict(c.Height, f.features)
	return f.u * unit(turn), math.Min(math.Max(h, 0), k.LengthM), f.whole
}

func (c *Cart) features() []string { return alignedFeatures(&c.Aligner) }

func (c *Cart) cost() Cost {
	nodes := len(c.Sin) + len(c.Cos) + len(c.Height)
	a := c.Aligner.alignCost()
	depth := golearn.Depth(c.Sin) + golearn.Depth(c.Cos) + golearn.Depth(c.Height)
	return Cost{Macs: a.Macs + depth, Numbers: a.Numbers + 4*nodes}
}

func (c *Cart) check() error {
	if err := c.Aligner.check(); err != nil {
		return err
	}
	for _, t := range []struct {
		name  string
		nodes []golearn.Node
	}{{"sin", c.Sin}, {"cos", c.Cos}, {"height", c.Height}} {
		if err := golearn.Check(t.nodes, c.Columns()); err != nil {
			return fmt.Errorf("%s: %w", t.name, err)
		}
	}
	return nil
}

func cart() recipe {
	return recipe{
		info: Info{
			Name: "cart", Kind: Fitted,
			Doc:   "three regression trees of golearn on aligned features",
			Gives: []string{"bearing", "height"}, UsesGyro: true, WaitMs: 65,
			Cost: Cost{Macs: 60, Numbers: 300}, Board: true,
		},
		prior: priorCertainty(10, anywhereM), blind: priorCertainty(blindSDDeg, anywhereM),
		settings: cartSettings(),
		candidates: func(ex []Example, o Options) []candidate {
			return []candidate{{name: "trees", fit: fitCart(o, haveGyro(ex))}}
		},
		decode: func(data []byte) (core, error) {
			c := &Cart{}
			if err := strict(data, c); err != nil {
				return nil, err
			}
			if err := c.check(); err != nil {
				return nil, err
			}
			c.Aligner.ready()
			return c, nil
		},
	}
}
