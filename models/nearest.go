package models

import (
	"context"
	"fmt"
	"math"
	"slices"

	"strikerose/dataset/bearing"
)

// Nearest answers with what the most alike strikes that it has seen were: the
// circular mean of how far their bearings lay from the first direction, and the
// mean of how far their heights lay from the first height. Alike is measured on
// aligned features, and the more alike a strike is the more it counts (see
// kernel).
type Nearest struct {
	Aligner
	Neighbours int          `json:"neighbours"`
	Memory     []NearMemory `json:"memory"`
}

// NearMemory is a strike that the detector remembers.
type NearMemory struct {
	At      []float64 `json:"at"`       // aligned features
	TurnDeg float64   `json:"turn_deg"` // bearing less first direction, the rig's yaw taken off
	RiseM   float64   `json:"rise_m"`   // height less first height
}

// settingNeighbours is how many strikes an answer averages.
const settingNeighbours = "neighbours"

func nearestSettings() []Setting {
	return []Setting{{Name: settingNeighbours, Doc: "strikes that an answer averages; 0: picked on held-back strikes", Usual: 0, Least: 0, Most: 1000, Whole: true, Try: []float64{5, 9, 15, 25, 40}}}
}

// neighbourCounts are what cross-validation picks from, the smoothest first.
func neighbourCounts() []int { return []int{25, 15, 9, 5} }

// nearVectors and the like are few: in many dimensions all strikes are far.
func nearFeatures(gyro bool) (vectors, odd, even []string) {
	if gyro {
		return []string{"kick", "tip", "accel_before"}, []string{"twist"}, []string{"lift"}
	}
	return []string{"kick", "accel_before", "accel_25_35", "accel_50_65"}, nil, []string{"lift"}
}

// fitNearest remembers examples, by rotation rates too if all have them (gyro).
func fitNearest(o Options, gyro bool, neighbours int) func(context.Context, []Example, uint64) (core, error) {
	return func(_ context.Context, ex []Example, seed uint64) (core, error) {
		n := &Nearest{Neighbours: min(neighbours, len(ex))}
		v, odd, even := nearFeatures(gyro)
		o.Seed = seed
		frames, err := n.Aligner.learnWithin(ex, gyro, v, odd, even, o)
		if err != nil {
			return nil, err
		}
		for i, e := range ex {
			f := frames[i]
			n.Memory = append(n.Memory, NearMemory{
				At:      f.features,
				TurnDeg: bearing.Diff(e.BearingDeg, bearing.Of(f.u)+bearing.Deg(f.yawRad)),
				RiseM:   e.HeightM - f.heightM,
			})
		}
		if neighbours == oneForAll {
			n.Neighbours, n.Memory = 1, []NearMemory{meanMemory(n.Memory)}
		}
		return n, nil
	}
}

// oneForAll, in place of a number of neighbours, remembers one strike that is the
// mean of all.
const oneForAll = 0

func meanMemory(all []NearMemory) NearMemory {
	mean := NearMemory{At: make([]float64, len(all[0].At))}
	var turn complex128
	for _, m := range all {
		turn += bearing.Unit(m.TurnDeg)
		mean.RiseM += m.RiseM / float64(len(all))
	}
	mean.TurnDeg = bearing.Wrap180(bearing.Of(turn))
	return mean
}

// neighbour is a remembered strike and how far a strike is from it.
type neighbour struct {
	*NearMemory
	distance float64
}

// nearest finds the most alike strikes, one more than an answer averages as far
// as there are so many, the nearest first and the first remembered among equals.
// It looks at all: in as many dimensions a search tree spares hardly any.
func (n *Nearest) nearest(at []float64) []neighbour {
	most := min(n.Neighbours+1, len(n.Memory))
	found := make([]neighbour, 0, most+1)
	for i := range n.Memory {
		m := &n.Memory[i]
		farthest := math.Inf(1)
		if len(found) == most {
			farthest = found[most-1].distance
		}
		var square float64
		for k, v := range m.At {
			if square += (v - at[k]) * (v - at[k]); square >= farthest {
				break
			}
		}
		if square >= farthest {
			continue
		}
		place, _ := slices.BinarySearchFunc(found, square, func(f neighbour, square float64) int {
			if f.distance <= square {
				return -1
			}
			return 1
		})
		found = slices.Insert(found, place, neighbour{m, square})
		found = found[:min(len(found), most)]
	}
	for i := range found {
		found[i].distance = math.Sqrt(found[i].distance)
	}
	return found
}

// kernel is the weight of a strike at some share of the bandwidth: the tricube of
// local regression (Cleveland 1979, JASA 74).
func kernel(share float64) float64 {
	if !(share < 1) {
		return 0
	}
	return math.Pow(1-share*share*share, 3)
}

// kernelWeights are the weights of the neighbours, the bandwidth being the
// distance of the first one that is not averaged, or of the last one where there
// are no more. All count alike where none is nearer than that.
func (n *Nearest) kernelWeights(found []neighbour) (averaged []neighbour, weights []float64) {
	band := found[len(found)-1].distance
	averaged = found[:min(n.Neighbours, len(found))]
	weights = make([]float64, len(averaged))
	var sum float64
	for i, p := range averaged {
		weights[i] = kernel(p.distance / band)
		sum += weights[i]
	}
	for i := range weights {
		if sum > 0 {
			weights[i] /= sum
		} else {
			weights[i] = 1 / float64(len(weights))
		}
	}
	return averaged, weights
}

func (n *Nearest) answer(in Input) (complex128, float64, bool) {
	f := n.Aligner.frame(in)
	averaged, weights := n.kernelWeights(n.nearest(f.features))
	var turn complex128
	var rise float64
	for i, p := range averaged {
		turn += complex(weights[i], 0) * bearing.Unit(p.TurnDeg)
		rise += weights[i] * p.RiseM
	}
	return f.u * unit(turn), math.Min(math.Max(f.heightM+rise, 0), in.Rig.Bag.LengthM), f.whole
}

func (n *Nearest) features() []string { return alignedFeatures(&n.Aligner) }

func (n *Nearest) cost() Cost {
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

// nearestCandidates lists the numbers of neighbours. With a gyroscope aims must
// not teach where single strikes landed (see coarse): the rig's own weights
// answer, and a constant rise.
func nearestCandidates(ex []Example, o Options) []candidate {
	gyro := haveGyro(ex)
	if gyro && coarse(ex) {
		return []candidate{{name: "one for all", lands: true, fit: fitNearest(o, gyro, oneForAll)}}
	}
	counts := neighbourCounts()
	if k := int(o.Settings[settingNeighbours]); k > 0 {
		counts = []int{k}
	}
	var out []candidate
	for _, k := range counts {
		out = append(out, candidate{name: fmt.Sprintf("%d nearest", k), fit: fitNearest(o, gyro, k)})
	}
	return out
}

func kNearest() recipe {
	return recipe{
		info: Info{
			Name: "k-nearest", Kind: Fitted,
			Doc:   "circular mean of the most alike strikes on aligned features, the more alike the more they count",
			Gives: []string{"bearing", "height"}, UsesGyro: true, WaitMs: 65,
			Cost:     Cost{Macs: 3000, Numbers: 3600},
			NotBoard: "keeps every strike that it was trained on",
		},
		prior: priorCertainty(10, anywhereM), blind: priorCertainty(blindSDDeg, anywhereM),
		settings:   nearestSettings(),
		candidates: nearestCandidates,
		decode: func(data []byte) (core, error) {
			n := &Nearest{}
			if err := strict(data, n); err != nil {
				return nil, err
			}
			if err := n.check(); err != nil {
				return nil, err
			}
			n.Aligner.ready()
			return n, nil
		},
	}
}
