package models

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/cmplx"

	"strikerose/dataset/bearing"
	"strikerose/models/trees"
)

// treeFeatures are the features that forests and boosted trees may split on:
// all of the first 65 ms and of what came before. Trees leave out by themselves
// what tells nothing.
func treeFeatures(gyro bool) (vectors, odd, even []string) {
	if gyro {
		return fullVectors(), fullOdd(), fullEven()
	}
	return accelVectors(), nil, fullEven()
}

// treeCandidates is one way to fit trees. With a gyroscope aims must not teach
// splits (see coarse): the rig's own weights answer, and a constant rise.
func treeCandidates(ex []Example, o Options, fit func(o Options, gyro, splits bool) func(context.Context, []Example, uint64) (core, error)) []candidate {
	gyro := haveGyro(ex)
	if gyro && coarse(ex) {
		return []candidate{{name: "no splits", lands: true, fit: fit(o, gyro, false)}}
	}
	return []candidate{{name: "trees", fit: fit(o, gyro, true)}}
}

// leastLeaf is the least number of strikes and mirror images in a leaf: usual, or
// all where trees may not split.
func (l *treeLessons) leastLeaf(usual int, splits bool) int {
	if splits {
		return usual
	}
	return l.table.Rows()
}

// treeBins is how many steps a feature is put into: finer splits would fit
// noise.
const treeBins = 64

// treeLessons is what trees are taught: every strike and its mirror image, one
// after the other.
type treeLessons struct {
	table *trees.Table
	turn  *trees.Target // of the first direction, to the bearing
	rise  *trees.Target // from the first height, metres
}

// learnTrees learns the directions and scales, on rotation rates too if all
// examples have them (gyro), and returns what trees are to learn on them.
func (a *Aligner) learnTrees(ex []Example, gyro bool, o Options) (*treeLessons, error) {
	v, odd, even := treeFeatures(gyro)
	if !gyro {
		v, odd, even = o.waited(v, odd, even)
	}
	frames, err := a.learnWithin(ex, gyro, v, odd, even, o)
	if err != nil {
		return nil, err
	}
	rows, columns := 2*len(ex), a.treeColumns()
	x := make([]float64, rows*columns)
	turn, rise := make([]float64, rows), make([]float64, rows)
	turnWeight, riseWeight := make([]float64, rows), make([]float64, rows)
	for i, e := range ex {
		f := frames[i]
		in := a.placed(f, e.Input)
		for k := range in {
			x[k*rows+2*i] = in[k]
		}
		for k, value := range a.mirrored(in) {
			x[k*rows+2*i+1] = value
		}
		turn[2*i] = bearing.Diff(e.BearingDeg, bearing.Of(f.u)+bearing.Deg(f.yawRad))
		turn[2*i+1] = -turn[2*i]
		rise[2*i] = e.HeightM - f.heightM
		rise[2*i+1] = rise[2*i]
		turnWeight[2*i], riseWeight[2*i] = labelWeight(e.BearingSDDeg, 5), labelWeight(e.HeightSDM, 0.035)
		turnWeight[2*i+1], riseWeight[2*i+1] = turnWeight[2*i], riseWeight[2*i]
	}
	l := &treeLessons{}
	if l.table, err = trees.NewTable(x, rows, treeBins); err != nil {
		return nil, err
	}
	if l.turn, err = trees.Bearings(turn, turnWeight); err != nil {
		return nil, err
	}
	l.rise, err = trees.Numbers(rise, riseWeight)
	return l, err
}

// placed adds the first height and the sensor's place on the bag to a strike's
// aligned features.
func (a *Aligner) placed(f frame, in Input) []float64 {
	c := ConstantsOf(in.Rig)
	return append(f.features, f.heightM-c.CentreHeightM(), c.geometry())
}

// treeColumns is how many features trees see.
func (a *Aligner) treeColumns() int { return a.Columns() + 2 }

// turned answers by trees: how far the bearing lies from the first direction, as
// a vector, and the height above the first one. The mean of a strike's answer and
// of its mirror image's keeps the symmetry.
func (a *Aligner) turned(in []Input, turn, rise manyTrees) []reply {
	frames, rows := make([]frame, len(in)), make([][]float64, 0, 2*len(in))
	for i := range in {
		frames[i] = a.frame(in[i])
		x := a.placed(frames[i], in[i])
		rows = append(rows, x, a.mirrored(x))
	}
	turns, rises := turn.Means(rows), rise.Means(rows)
	out := make([]reply, len(in))
	for i, f := range frames {
		q := f.u * unit(turns[2*i]+cmplx.Conj(turns[2*i+1]))
		h := f.heightM + (real(rises[2*i])+real(rises[2*i+1]))/2
		out[i] = reply{q, math.Min(math.Max(h, 0), in[i].Rig.Bag.LengthM), usualDoubt(), f.whole}
	}
	return out
}

// manyTrees is a forest or a sum of trees.
type manyTrees interface {
	Means(rows [][]float64) []complex128
	Columns() int
	Bearings() bool
	Leaves() int
	Trees() []*trees.Tree
}

// treeCost counts a comparison for each step down a tree, twice for the mirror
// image, and for each leaf its mean and the column and threshold of a split.
func (a *Aligner) treeCost(turn, rise manyTrees) Cost {
	c := a.alignCost()
	for _, m := range []manyTrees{turn, rise} {
		if n := len(m.Trees()); n > 0 {
			c.Macs += 2 * n * int(math.Ceil(math.Log2(float64(m.Leaves())/float64(n)))) // as if balanced
		}
		c.Numbers += 3 * m.Leaves()
	}
	return c
}

func (a *Aligner) checkTrees(turn, rise manyTrees) error {
	if err := a.check(); err != nil {
		return err
	}
	if turn.Columns() != a.treeColumns() || rise.Columns() != a.treeColumns() {
		return fmt.Errorf("trees on %d and %d features, not %d", turn.Columns(), rise.Columns(), a.treeColumns())
	}
	if !turn.Bearings() || rise.Bearings() {
		return errors.New("trees of numbers where they should be of bearings, or the other way round")
	}
	return nil
}
