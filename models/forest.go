package models

import (
	"context"
	"errors"
	"math"

	"strikerose/models/trees"
)

// Forest answers with two random forests on aligned features: one for how far
// the bearing lies from the first direction, one for how far the height lies from
// the first one, that of the rig's own weights with a gyroscope and the centre of
// mass without. An answer is the mean of a strike's and of its mirror image's.
type Forest struct {
	Aligner
	Turn *trees.Forest `json:"turn"`
	Rise *trees.Forest `json:"rise"` // metres
}

// bagging is how the forests are grown, settled once for all rigs. Bearings are
// split by squared error in the plane: resultant length and von Mises likelihood
// err as much on the simulated recordings, and the likelihood takes longer.
func bagging(l *treeLessons, o Options, splits bool) trees.Bagging {
	tries := int(math.Ceil(o.Settings[settingTry] * float64(l.table.Columns())))
	return trees.Bagging{Trees: int(o.Settings[settingTrees]), Growth: trees.Growth{MinLeaf: l.leastLeaf(int(o.Settings[settingLeaf]), splits), Try: tries}}
}

// Settings of the forest; boosted trees share some of them.
const (
	settingTrees = "trees"
	settingLeaf  = "leaf"
	settingTry   = "try"
)

func forestSettings() []Setting {
	return []Setting{
		{Name: settingTrees, Doc: "trees of each of the two forests", Usual: 60, Least: 1, Most: 1000, Whole: true, Try: []float64{30, 60, 120}},
		{Name: settingLeaf, Doc: "least strikes and mirror images in a leaf", Usual: 5, Least: 1, Most: 500, Whole: true, Try: []float64{2, 5, 10, 20}},
		{Name: settingTry, Doc: "share of the features that a split chooses among", Usual: 1.0 / 3, Least: 0.01, Most: 1, Try: []float64{0.15, 1.0 / 3, 0.6}},
	}
}

// fitForest grows the forests, on rotation rates too if all examples have them
// (gyro).
func fitForest(o Options, gyro, splits bool) func(context.Context, []Example, uint64) (core, error) {
	return func(ctx context.Context, ex []Example, seed uint64) (core, error) {
		f := &Forest{}
		o.Seed = seed
		l, err := f.Aligner.learnTrees(ex, gyro, o)
		if err != nil {
			return nil, err
		}
		if f.Turn, _, err = trees.GrowForest(ctx, l.table, l.turn, bagging(l, o, splits), seed); err != nil {
			return nil, err
		}
		if f.Rise, _, err = trees.GrowForest(ctx, l.table, l.rise, bagging(l, o, splits), seed); err != nil {
			return nil, err
		}
		return f, nil
	}
}

func (f *Forest) answer(in Input) (complex128, float64, bool) {
	return alone(f, in)
}

func (f *Forest) answers(in []Input) []reply { return f.turned(in, f.Turn, f.Rise) }

func (f *Forest) features() []string { return alignedFeatures(&f.Aligner) }

func (f *Forest) cost() Cost { return f.treeCost(f.Turn, f.Rise) }

func (f *Forest) check() error {
	if f.Turn == nil || f.Rise == nil {
		return errors.New("a forest is missing")
	}
	return f.checkTrees(f.Turn, f.Rise)
}

func forest() recipe {
	return recipe{
		info: Info{
			Name: "forest", Kind: Fitted,
			Doc:   "random forests on aligned features: how far from the first direction and height",
			Gives: []string{"bearing", "height"}, UsesGyro: true, WaitMs: 65,
			Cost:     Cost{Macs: 2500, Numbers: 30000},
			NotBoard: "its hundred trees are more than a board stores; complex-ridge or cart can be exported",
		},
		prior: priorCertainty(10, anywhereM), blind: priorCertainty(blindSDDeg, anywhereM),
		settings:   forestSettings(),
		candidates: func(ex []Example, o Options) []candidate { return treeCandidates(ex, o, fitForest) },
		decode: func(data []byte) (core, error) {
			f := &Forest{}
			if err := strict(data, f); err != nil {
				return nil, err
			}
			if err := f.check(); err != nil {
				return nil, err
			}
			f.Aligner.ready()
			return f, nil
		},
	}
}
