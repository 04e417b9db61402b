package firmware

import (
	"fmt"
	"math"

	"strikerose/models"
	"strikerose/models/firmware/answer"
	"strikerose/models/golearn"
)

// Fractions of the aligned numbers; see answer.Table.
const (
	itemBits    = 16
	meanBits    = 14
	spreadBits  = 12
	featureBits = 12 // standardised
	leafBits    = 14 // sine and cosine of a tree's turn
	outBits     = 20 // likewise of the nets'
	heldQ12     = models.HeldSD * (1 << featureBits)
)

// align sets what finds the first direction and the features along it.
func (n *numbers) align(a *models.Aligner) {
	t := &n.table
	if own := a.OwnRatio(n.rig); own != nil {
		t.Direction = answer.FromForms
		n.ratio(own)
	} else {
		t.Direction = answer.FromAligned
	}
	type item struct {
		p          part
		at         int
		own, quiet float64
	}
	var items []item
	add := func(name string, size float64) {
		p, at, own, quiet := n.sums(name)
		items = append(items, item{p, at, own / size, quiet / size})
	}
	for k, name := range a.Vectors {
		add(name, a.Size[k])
		first := 0.0
		if a.First != nil {
			first = a.First[k]
		}
		t.First = append(t.First, toInt32(first*(1<<16)))
		t.Reals.First = append(t.Reals.First, float32(first))
	}
	for _, list := range [][]string{a.Odd, a.Even} {
		for _, name := range list {
			add(name, 1)
			t.First, t.Reals.First = append(t.First, 0), append(t.Reals.First, 0)
		}
	}
	t.Vectors, t.Odd = int32(len(a.Vectors)), int32(len(a.Odd))
	// As many bits as no sum of two products needs more than 61 of.
	bits, largest := 62.0, 1e-30
	for _, i := range items {
		largest = math.Max(largest, math.Max(math.Abs(i.own), math.Abs(i.quiet)))
		most := n.largestSum(i.at)*math.Abs(i.own) + n.largestSum(0)*math.Abs(i.quiet)
		bits = math.Min(bits, math.Floor(math.Log2((1<<61)/most)))
	}
	bits = math.Min(bits, math.Floor(math.Log2((1<<30)/largest)))
	t.ItemShift = int32(bits) - itemBits
	for _, i := range items {
		t.Items = append(t.Items, answer.Item{
			Weight: toInt32(i.own * math.Exp2(bits)), Quiet: toInt32(i.quiet * math.Exp2(bits)),
			Stretch: int16(i.at), Source: i.p.source,
		})
		f := &t.Reals
		f.Weight, f.Quiet = append(f.Weight, float32(i.own)), append(f.Quiet, float32(i.quiet))
	}
	for k := range a.Columns() {
		t.Mean = append(t.Mean, toInt32(a.Mean[k]*(1<<meanBits)))
		t.Spread = append(t.Spread, toInt32((1<<spreadBits)/a.Spread[k]))
		t.Reals.Mean, t.Reals.Spread = append(t.Reals.Mean, float32(a.Mean[k])), append(t.Reals.Spread, float32(1/a.Spread[k]))
	}
	n.setHeight(models.ConstantsOf(n.rig).CentreHeightM(), n.floor)
}

// nets sets the units of all nets in one list. What is the same for every strike
// is added up here: the biases, and the input that follows from the rig.
func (n *numbers) nets(a *models.Accelerometer) {
	t := &n.table
	columns, geometry := a.Columns(), a.Geometry(n.rig)
	perNet := a.ScaleM / float64(2*len(a.Nets))
	var rows [][]float64
	var bias []float64
	worst := 1e-9
	for _, net := range a.Nets {
		for u, row := range net.Hidden {
			b := net.HiddenBias[u] + row[columns]*geometry
			sum := math.Abs(b)
			for _, w := range row[:columns] {
				sum += math.Abs(w) * models.HeldSD
			}
			worst = math.Max(worst, sum)
			rows, bias = append(rows, row[:columns]), append(bias, b)
			t.OutSin = append(t.OutSin, toInt32(net.Out[0][u]*(1<<outBits)))
			t.OutCos = append(t.OutCos, toInt32(net.Out[1][u]*(1<<outBits)))
			t.OutHeight = append(t.OutHeight, toInt32(net.Out[2][u]*perNet*256000))
			f := &t.Reals
			f.OutSin, f.OutCos = append(f.OutSin, float32(net.Out[0][u])), append(f.OutCos, float32(net.Out[1][u]))
			f.OutHeight, f.HiddenBias = append(f.OutHeight, float32(net.Out[2][u]*perNet)), append(f.HiddenBias, float32(b))
			for _, w := range row[:columns] {
				f.Hidden = append(f.Hidden, float32(w))
			}
		}
		t.CosBias += toInt32(2 * net.OutBias[1] * (1 << outBits))
		t.HeightBias += toInt32(2 * net.OutBias[2] * perNet * 256000)
		t.Reals.CosBias += float32(2 * net.OutBias[1])
		t.Reals.HeightBias += float32(2 * net.OutBias[2] * perNet)
	}
	// A unit's sum must stay below 2^31 and its weights within 16 bits; Q24 is
	// what the hyperbolic tangent wants.
	largest := 1e-9
	for _, row := range rows {
		for _, w := range row {
			largest = math.Max(largest, math.Abs(w))
		}
	}
	bits := math.Floor(math.Log2(32000 / largest))
	bits = math.Min(bits, math.Floor(math.Log2((1<<31-1e6)/worst))-featureBits)
	bits = math.Min(bits, 24-featureBits)
	if bits < 2 {
		n.faults = append(n.faults, fmt.Errorf("the nets' weights go to %.3g, too far apart for 16 bits: train again with more labels", largest))
		return
	}
	t.UnitUp = int32(24 - featureBits - bits)
	for u, row := range rows {
		for _, w := range row {
			t.Hidden = append(t.Hidden, int16(toInt32(w*math.Exp2(bits))))
		}
		t.HiddenBias = append(t.HiddenBias, toInt32(bias[u]*math.Exp2(bits+featureBits)))
	}
	if len(t.Hidden)%2 != 0 { // so that no gap stands behind them in memory
		t.Hidden, t.Reals.Hidden = append(t.Hidden, 0), append(t.Reals.Hidden, 0)
	}
}

// trees sets the three trees of a cart in one list.
func (n *numbers) trees(c *models.Cart) {
	t := &n.table
	for i, tree := range []struct {
		nodes []golearn.Node
		scale float64
	}{{c.Sin, 1 << leafBits}, {c.Cos, 1 << leafBits}, {c.Height, 16000}} {
		from := len(t.Nodes)
		t.Roots[i] = int32(from)
		for _, node := range tree.nodes {
			out := answer.Node{Feature: int16(node.Feature)}
			if node.Feature < 0 {
				out.Value = int16(math.Min(math.Max(math.Round(node.Value*tree.scale), math.MinInt16), math.MaxInt16))
			} else {
				// A feature below the threshold must stay below it: the least whole
				// number that is not.
				held := math.Min(math.Max(math.Ceil(node.Threshold*(1<<featureBits)), -heldQ12), heldQ12+1)
				out.Threshold, out.Below, out.Other = int16(held), int16(from+node.Below), int16(from+node.Other)
			}
			t.Nodes = append(t.Nodes, out)
			t.Reals.Threshold = append(t.Reals.Threshold, float32(node.Threshold))
			t.Reals.Value = append(t.Reals.Value, float32(node.Value))
		}
	}
	if len(t.Nodes)%2 != 0 { // so that no gap stands behind them in memory
		t.Nodes = append(t.Nodes, answer.Node{Feature: -1})
		t.Reals.Threshold, t.Reals.Value = append(t.Reals.Threshold, 0), append(t.Reals.Value, 0)
	}
	if len(t.Nodes) > math.MaxInt16 {
		n.faults = append(n.faults, fmt.Errorf("%d nodes are more than 16 bits can count: train a smaller detector", len(t.Nodes)))
	}
}
