package models

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/kdtree"

	"strikerose/dataset/bearing"
)

// Nearest answers with what the most alike strikes it has seen were: the
// circular mean of how far their bearings lay from the first direction, and the
// mean of their heights. Alike is measured on aligned features.
type Nearest struct {
	Aligner
	Neighbours int          `json:"neighbours"`
	Memory     []NearMemory `json:"memory"`
	tree       *kdtree.Tree
}

// NearMemory is a strike that the detector remembers.
type NearMemory struct {
	At          []float64 `json:"at"`       // aligned features
	TurnDeg     float64   `json:"turn_deg"` // bearing less first direction, the rig's yaw taken off
	AboveCentre float64   `json:"above_centre_m"`
}

// settingNeighbours is how many strikes an answer averages.
const settingNeighbours = "neighbours"

func nearestSettings() []Setting {
	return []Setting{{Name: settingNeighbours, Doc: "strikes that an answer averages", Usual: 7, Least: 1, Most: 1000, Whole: true, Try: []float64{3, 5, 7, 11, 17}}}
}

// point is a memory as the tree wants it.
type point struct {
	*NearMemory
	index int
}

func (p point) Compare(c kdtree.Comparable, d kdtree.Dim) float64 { return p.At[d] - c.(point).At[d] }
func (p point) Dims() int                                         { return len(p.At) }
func (p point) Distance(c kdtree.Comparable) float64 {
	var sum float64
	for i, v := range c.(point).At {
		sum += (p.At[i] - v) * (p.At[i] - v)
	}
	return sum
}

// points sorts itself about the median, by value and then by index, so that
// equal strikes always fall the same way.
type points []point

func (p points) Index(i int) kdtree.Comparable         { return p[i] }
func (p points) Len() int                              { return len(p) }
func (p points) Slice(start, end int) kdtree.Interface { return p[start:end] }
func (p points) Pivot(d kdtree.Dim) int {
	slices.SortFunc(p, func(a, b point) int {
		if c := a.At[d] - b.At[d]; c != 0 {
			return int(math.Copysign(1, c))
		}
		return a.index - b.index
	})
	return len(p) / 2
}

// nearVectors and the like are few: in many dimensions all strikes are far.
func nearFeatures(gyro bool) (vectors, odd, even []string) {
	if gyro {
		return []string{"kick", "tip", "accel_before"}, []string{"twist"}, []string{"lift"}
	}
	return []string{"kick", "accel_before", "accel_25_35", "accel_50_65"}, nil, []string{"lift"}
}

// fitNearest remembers examples, by rotation rates too if all have them (gyro).
func fitNearest(o Options, gyro bool) func(context.Context, []Example, uint64) (core, error) {
	return func(_ context.Context, ex []Example, seed uint64) (core, error) {
		n := &Nearest{Neighbours: min(int(o.Settings[settingNeighbours]), len(ex))}
		v, odd, even := nearFeatures(gyro)
		o.Seed = seed
		frames, err := n.Aligner.learnWithin(ex, gyro, v, odd, even, o)
		if err != nil {
			return nil, err
		}
		for i, e := range ex {
			f := frames[i]
			n.Memory = append(n.Memory, NearMemory{
				At:          f.features,
				TurnDeg:     bearing.Diff(e.BearingDeg, bearing.Of(f.u)+bearing.Deg(f.yawRad)),
				AboveCentre: e.HeightM - ConstantsOf(e.Rig).CentreHeightM(),
			})
		}
		n.grow()
		return n, nil
	}
}

func (n *Nearest) grow() {
	all := make(points, len(n.Memory))
	for i := range n.Memory {
		all[i] = point{&n.Memory[i], i}
	}
	n.tree = kdtree.New(all, false)
}

func (n *Nearest) answer(in Input) (complex128, float64, bool) {
	f := n.Aligner.frame(in)
	keep := kdtree.NewNKeeper(n.Neighbours)
	n.tree.NearestSet(keep, point{&NearMemory{At: f.features}, -1})
	found := make([]point, 0, n.Neighbours)
	for _, c := range keep.Heap {
		if c.Comparable != nil {
			found = append(found, c.Comparable.(point))
		}
	}
	slices.SortFunc(found, func(a, b point) int { return a.index - b.index })
	turns := make([]float64, 0, len(found))
	var above float64
	for _, p := range found {
		turns = append(turns, p.TurnDeg)
		above += p.AboveCentre / float64(len(found))
	}
	turn, _ := bearing.Mean(turns)
	if math.IsNaN(turn) {
		turn = 0
	}
	c := ConstantsOf(in.Rig)
	return f.u * bearing.Unit(turn), math.Min(math.Max(c.CentreHeightM()+above, 0), c.LengthM), f.whole
}

func (n *Nearest) features() []string { return alignedFeatures(&n.Aligner) }

func (n *Nearest) cost() Cost {
	// Every strike is counted, though the tree spares most of them.
	c := n.Aligner.alignCost()
	return Cost{Macs: c.Macs + len(n.Memory)*n.Columns(), Numbers: c.Numbers + len(n.Memory)*(n.Columns()+2)}
}

func (n *Nearest) check() error {
	if err := n.Aligner.check(); err != nil {
		return err
	}
	if len(n.Memory) == 0 || n.Neighbours < 1 || n.Neighbours > len(n.Memory) {
		return fmt.Errorf("nearest: %d neighbours of %d strikes", n.Neighbours, len(n.Memory))
	}
	for i, m := range n.Memory {
		if len(m.At) != n.Columns() {
			return fmt.Errorf("nearest: strike %d has %d features, not %d", i+1, len(m.At), n.Columns())
		}
	}
	return nil
}

// alignedFeatures are the features that an aligner reads.
func alignedFeatures(a *Aligner) []string {
	out := union(union(a.Vectors, a.Odd), a.Even)
	if a.First == nil {
		vectors, odd := splitOwn(a.Own)
		out = union(union(out, vectors), odd)
	}
	return out
}

func kNearest() recipe {
	return recipe{
		info: Info{
			Name: "k-nearest", Kind: Fitted,
			Doc:   "mean of the seven most alike strikes on aligned features",
			Gives: []string{"bearing", "height"}, UsesGyro: true, WaitMs: 65,
			Cost:     Cost{Macs: 3000, Numbers: 3600},
			NotBoard: "keeps every strike that it was trained on",
		},
		prior: priorCertainty(10, anywhereM), blind: priorCertainty(blindSDDeg, anywhereM),
		settings: nearestSettings(),
		candidates: func(ex []Example, o Options) []candidate {
			return []candidate{{name: "nearest", fit: fitNearest(o, haveGyro(ex))}}
		},
		decode: func(data []byte) (core, error) {
			n := &Nearest{}
			if err := strict(data, n); err != nil {
				return nil, err
			}
			if err := n.check(); err != nil {
				return nil, err
			}
			n.Aligner.ready()
			n.grow()
			return n, nil
		},
	}
}
