// Package golearn fits regression trees with the golearn library and hands
// them out as plain nodes.
//
// It is the only package that imports golearn, and of it only the parts that
// build without cgo. The library panics where it cannot go on; here that is an
// error. Its trees leave a side without split as a bare prediction, and a root
// that finds no split without any: both come out as leaves. Numbers that are
// not finite are refused. It knows nothing of strikes.
package golearn

import (
	"errors"
	"fmt"
	"math"

	"github.com/sjwhitworth/golearn/base"
	"github.com/sjwhitworth/golearn/trees"
)

// Node is one node of a tree. Nodes of a tree lie in a slice, the root first
// and children after their parent.
type Node struct {
	Feature   int     `json:"feature"` // -1 for a leaf
	Threshold float64 `json:"threshold"`
	Below     int     `json:"below"` // position of the child for feature < threshold
	Other     int     `json:"other"` // position of the child for the rest
	Value     float64 `json:"value"` // of a leaf
}

// Regress fits a regression tree by least squares (CART: Breiman, Friedman,
// Olshen and Stone 1984) of at most some depth. Rows are equally long; there is
// one target a row. It is deterministic.
func Regress(x [][]float64, y []float64, depth int) (nodes []Node, err error) {
	defer func() {
		if p := recover(); p != nil {
			nodes, err = nil, fmt.Errorf("golearn: regression tree: %v", p)
		}
	}()
	if len(x) == 0 || len(x) != len(y) || len(x[0]) == 0 {
		return nil, fmt.Errorf("golearn: %d rows and %d targets: there must be as many, and at least one", len(x), len(y))
	}
	if depth < 1 {
		return nil, fmt.Errorf("golearn: depth %d: at least 1", depth)
	}
	for i, row := range x {
		if len(row) != len(x[0]) {
			return nil, fmt.Errorf("golearn: row %d has %d numbers, not %d", i, len(row), len(x[0]))
		}
		for _, v := range append(append([]float64(nil), row...), y[i]) {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, fmt.Errorf("golearn: row %d holds %g", i, v)
			}
		}
	}
	grid, err := instances(x, y)
	if err != nil {
		return nil, fmt.Errorf("golearn: %w", err)
	}
	tree := trees.NewDecisionTreeRegressor(trees.MSE, int64(depth))
	if err := tree.Fit(grid); err != nil {
		return nil, fmt.Errorf("golearn: %w", err)
	}
	if tree.RootNode == nil {
		return nil, errors.New("golearn: the tree has no root")
	}
	return flatten(tree, y), nil
}

// instances copies rows and targets into the library's own table.
func instances(x [][]float64, y []float64) (*base.DenseInstances, error) {
	grid := base.NewDenseInstances()
	columns := make([]base.AttributeSpec, len(x[0])+1)
	for k := range columns {
		columns[k] = grid.AddAttribute(base.NewFloatAttribute(fmt.Sprintf("f%d", k)))
	}
	if err := grid.AddClassAttribute(columns[len(x[0])].GetAttribute()); err != nil {
		return nil, err
	}
	if err := grid.Extend(len(x)); err != nil {
		return nil, err
	}
	for i, row := range x {
		for k, v := range row {
			grid.Set(columns[k], i, base.PackFloatToBytes(v))
		}
		grid.Set(columns[len(row)], i, base.PackFloatToBytes(y[i]))
	}
	return grid, nil
}

// flatten turns the library's linked nodes into a slice. The nodes' type has
// no name outside the library, hence the queue by inference.
func flatten(tree *trees.CARTDecisionTreeRegressor, y []float64) []Node {
	root := tree.RootNode
	if root.Left == nil && root.Right == nil && root.Threshold == 0 && root.Feature == 0 &&
		root.RightPred == 0 && root.LeftPred == mean(y) {
		// No split was better than none: the root carries the mean alone.
		return []Node{{Feature: -1, Value: root.LeftPred}}
	}
	nodes := []Node{{}}
	queue, at := list(root), []int{0}
	for len(queue) > 0 {
		n, i := queue[0], at[0]
		queue, at = queue[1:], at[1:]
		below := len(nodes)
		nodes = append(nodes, Node{Feature: -1, Value: n.LeftPred}, Node{Feature: -1, Value: n.RightPred})
		nodes[i] = Node{Feature: int(n.Feature), Threshold: n.Threshold, Below: below, Other: below + 1}
		if n.Left != nil {
			queue, at = append(queue, n.Left), append(at, below)
		}
		if n.Right != nil {
			queue, at = append(queue, n.Right), append(at, below+1)
		}
	}
	return nodes
}

func list[T any](x ...T) []T { return x }

// mean adds in order and divides once, as the library does.
func mean(y []float64) float64 {
	sum := 0.0
	for _, v := range y {
		sum += v
	}
	return sum / float64(len(y))
}

// Predict walks a tree. The row must have every feature that the tree asks for.
func Predict(nodes []Node, row []float64) float64 {
	at := 0
	for nodes[at].Feature >= 0 {
		if row[nodes[at].Feature] < nodes[at].Threshold {
			at = nodes[at].Below
		} else {
			at = nodes[at].Other
		}
	}
	return nodes[at].Value
}

// Check tells what is wrong with a tree that did not come from Regress: a
// walk must end, inside the tree, and ask for features that rows of some width
// have.
func Check(nodes []Node, width int) error {
	if len(nodes) == 0 {
		return errors.New("tree: has no nodes")
	}
	for i, n := range nodes {
		switch {
		case n.Feature < 0:
			if math.IsNaN(n.Value) || math.IsInf(n.Value, 0) {
				return fmt.Errorf("tree: node %d: leaf of %g", i, n.Value)
			}
		case n.Feature >= width:
			return fmt.Errorf("tree: node %d: asks for feature %d of %d", i, n.Feature, width)
		case n.Below <= i || n.Other <= i || n.Below >= len(nodes) || n.Other >= len(nodes):
			return fmt.Errorf("tree: node %d: children %d and %d must lie after it and before %d", i, n.Below, n.Other, len(nodes))
		}
	}
	return nil
}

// Depth is how many splits lie between a tree's root and its farthest leaf.
func Depth(nodes []Node) int {
	depth := make([]int, len(nodes))
	deepest := 0
	for i, n := range nodes { // children lie after their parent
		deepest = max(deepest, depth[i])
		if n.Feature >= 0 {
			depth[n.Below], depth[n.Other] = depth[i]+1, depth[i]+1
		}
	}
	return deepest
}
