package models

import (
	"context"
	"errors"

	"strikerose/models/trees"
)

// Boosted answers as Forest does, with sums of small trees in place of forests.
type Boosted struct {
	Aligner
	Turn *trees.Boosted `json:"turn"`
	Rise *trees.Boosted `json:"rise"` // metres
}

// boosting is how the trees are boosted, settled once for all rigs. Bearings are
// boosted as vectors in the plane: sums of angles err as little on the simulated
// recordings with a gyroscope, but more without one, where a strike may have to be
// turned right round.
func boosting(l *treeLessons, o Options, splits bool) trees.Boosting {
	return trees.Boosting{
		Loss: trees.Plane, Depth: int(o.Settings[settingDepth]), MinLeaf: l.leastLeaf(int(o.Settings[settingLeaf]), splits),
		Rounds: int(o.Settings[settingTrees]), Rate: o.Settings[settingRate], Rows: 0.6, Columns: 0.4, Patience: 20,
	}
}

// Settings of boosted trees that forests do not share.
const (
	settingDepth = "depth"
	settingRate  = "rate"
)

func boostedSettings() []Setting {
	return []Setting{
		{Name: settingTrees, Doc: "most trees in a sum; held-back sessions say how many are worth it", Usual: 150, Least: 1, Most: 2000, Whole: true, Try: []float64{150, 300}},
		{Name: settingDepth, Doc: "splits from a tree's root to a leaf", Usual: 3, Least: 1, Most: 10, Whole: true, Try: []float64{2, 3, 4}},
		{Name: settingLeaf, Doc: "least strikes and mirror images in a leaf", Usual: 6, Least: 1, Most: 500, Whole: true, Try: []float64{3, 6, 12}},
		{Name: settingRate, Doc: "share of each tree's answer that counts", Usual: 0.1, Least: 0.005, Most: 1, Try: []float64{0.05, 0.1, 0.2}},
	}
}

// fitBoosted boosts the trees, on rotation rates too if all examples have them
// (gyro).
func fitBoosted(o Options, gyro, splits bool) func(context.Context, []Example, uint64) (core, error) {
	return func(ctx context.Context, ex []Example, seed uint64) (core, error) {
		b := &Boosted{}
		o.Seed = seed
		l, err := b.Aligner.learnTrees(ex, gyro, o)
		if err != nil {
			return nil, err
		}
		if b.Turn, err = l.boost(ctx, ex, l.turn, boosting(l, o, splits), seed); err != nil {
			return nil, err
		}
		if b.Rise, err = l.boost(ctx, ex, l.rise, boosting(l, o, splits), seed); err != nil {
			return nil, err
		}
		return b, nil
	}
}

// boost finds with some sessions held back how many trees are worth it, and
// boosts as many on all strikes.
func (l *treeLessons) boost(ctx context.Context, ex []Example, y *trees.Target, o trees.Boosting, seed uint64) (*trees.Boosted, error) {
	if of, n, _ := folds(ex, seed); n > 1 {
		held := make([]bool, 2*len(ex))
		for i := range ex {
			held[2*i], held[2*i+1] = of[i] == 0, of[i] == 0
		}
		tried, err := trees.Boost(ctx, l.table, y, o, held, seed)
		if err != nil {
			return nil, err
		}
		o.Rounds = max(len(tried.Trees()), 1)
	}
	return trees.Boost(ctx, l.table, y, o, nil, seed)
}

func (b *Boosted) answer(in Input) (complex128, float64, bool) {
	return alone(b, in)
}

func (b *Boosted) answers(in []Input) []reply { return b.turned(in, b.Turn, b.Rise) }

func (b *Boosted) features() []string { return alignedFeatures(&b.Aligner) }

func (b *Boosted) cost() Cost { return b.treeCost(b.Turn, b.Rise) }

func (b *Boosted) check() error {
	if b.Turn == nil || b.Rise == nil {
		return errors.New("a sum of trees is missing")
	}
	return b.checkTrees(b.Turn, b.Rise)
}

func boostedTrees() recipe {
	return recipe{
		info: Info{
			Name: "boosted-trees", Kind: Fitted,
			Doc:   "sums of small trees on aligned features, each fitted to what those before it leave",
			Gives: []string{"bearing", "height"}, UsesGyro: true, WaitMs: 65,
			Cost:     Cost{Macs: 1800, Numbers: 5000},
			NotBoard: "no C is written for its hundreds of trees; complex-ridge or cart can be exported",
		},
		prior: priorCertainty(10, anywhereM), blind: priorCertainty(blindSDDeg, anywhereM),
		settings:   boostedSettings(),
		candidates: func(ex []Example, o Options) []candidate { return treeCandidates(ex, o, fitBoosted) },
		decode: func(data []byte) (core, error) {
			b := &Boosted{}
			if err := strict(data, b); err != nil {
				return nil, err
			}
			if err := b.check(); err != nil {
				return nil, err
			}
			b.Aligner.ready()
			return b, nil
		},
	}
}
