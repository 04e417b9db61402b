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
func boosting(l *treeLessons, splits bool) trees.Boosting {
	return trees.Boosting{Loss: trees.Plane, Depth: 3, MinLeaf: l.leastLeaf(6, splits), Rounds: 150, Rate: 0.1, Rows: 0.6, Columns: 0.4, Patience: 20}
}

// fitBoosted boosts the trees, on rotation rates too if all examples have them
// (gyro).
func fitBoosted(gyro, splits bool) func(context.Context, []Example, uint64) (core, error) {
	return func(ctx context.Context, ex []Example, seed uint64) (core, error) {
		b := &Boosted{}
		l, err := b.Aligner.learnTrees(ex, gyro, seed)
		if err != nil {
			return nil, err
		}
		if b.Turn, err = l.boost(ctx, ex, l.turn, boosting(l, splits), seed); err != nil {
			return nil, err
		}
		if b.Rise, err = l.boost(ctx, ex, l.rise, boosting(l, splits), seed); err != nil {
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
	return b.turned(in, b.Turn.Sum, b.Rise.Number)
}

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
		candidates: func(ex []Example, _ Options) []candidate { return treeCandidates(ex, fitBoosted) },
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
