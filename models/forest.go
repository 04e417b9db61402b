package models

import (
	"context"
	"errors"

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
func bagging(l *treeLessons, splits bool) trees.Bagging {
	return trees.Bagging{Trees: 60, Growth: trees.Growth{MinLeaf: l.leastLeaf(5, splits), Try: (l.table.Columns() + 2) / 3}}
}

// fitForest grows the forests, on rotation rates too if all examples have them
// (gyro).
func fitForest(gyro, splits bool) func(context.Context, []Example, uint64) (core, error) {
	return func(ctx context.Context, ex []Example, seed uint64) (core, error) {
		f := &Forest{}
		l, err := f.Aligner.learnTrees(ex, gyro, seed)
		if err != nil {
			return nil, err
		}
		if f.Turn, _, err = trees.GrowForest(ctx, l.table, l.turn, bagging(l, splits), seed); err != nil {
			return nil, err
		}
		if f.Rise, _, err = trees.GrowForest(ctx, l.table, l.rise, bagging(l, splits), seed); err != nil {
			return nil, err
		}
		return f, nil
	}
}

func (f *Forest) answer(in Input) (complex128, float64, bool) {
	return f.turned(in, func(row []float64) complex128 { return f.Turn.Predict(row).Mean }, func(row []float64) float64 { return f.Rise.Predict(row).Number() })
}

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
		candidates: func(ex []Example, _ Options) []candidate { return treeCandidates(ex, fitForest) },
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
