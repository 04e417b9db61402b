package firmware

import (
	"fmt"
	"math"
	"strings"

	"strikerose/features"
	"strikerose/models"
)

// program is the whole description of a detector on one rig: what it takes,
// its numbers, and the steps from one to the other. C is written from it and
// Go runs it.
type program struct {
	inputs []input // the order in which the board gives them
	needed int     // so many, from the first, must have a value; the rest says only how sure the answer is
	sizes  []size
	tables []Array
	steps  []step
}

// input is one number that the board gives.
type input struct {
	column features.Column
	def    features.Def
	at     int // column of a feature row
}

// cName is the index's name in C.
func (i input) cName() string { return "STRIKEROSE_" + strings.ToUpper(i.column.Name) }

// Names in C of the number of inputs, and of those that must have a value.
const (
	featuresSize = "STRIKEROSE_FEATURES"
	neededSize   = "STRIKEROSE_NEEDED"
)

// size is a whole number that loops count to.
type size struct {
	name string
	n    int
	doc  string
}

// result is what the steps leave behind.
type result struct {
	models.Estimate
	Face int
}

// run runs the steps on the numbers that the board would give.
func (p *program) run(in []float64, round func(float64) float64) result {
	m := &machine{round: round, sizes: map[string]int{}, scalars: map[string]float64{}, arrays: map[string][]float64{}}
	for _, s := range p.sizes {
		m.sizes[s.name] = s.n
	}
	m.sizes[featuresSize], m.sizes[neededSize] = len(p.inputs), p.needed
	for i, in := range p.inputs {
		m.sizes[in.cName()] = i
	}
	for _, t := range p.tables {
		values := make([]float64, len(t.values))
		for i, v := range t.values {
			values[i] = round(v)
		}
		if t.scalar() {
			m.scalars[t.Name] = values[0]
		} else {
			m.arrays[t.Name] = values
		}
	}
	features := make([]float64, len(in))
	for i, v := range in {
		features[i] = round(v)
	}
	m.arrays["feature"] = features
	runAll(p.steps, m)
	get := func(field string) float64 { return m.scalar("answer->" + field) }
	return result{
		models.Estimate{
			BearingDeg: get("bearing_deg"), HeightM: get("height_m"),
			BearingSDDeg: get("bearing_sd_deg"), HeightSDM: get("height_sd_m"),
			BearingHalf90Deg: get("bearing_half90_deg"), HeightHalf90M: get("height_half90_m"),
			Unsure: get("unsure") != 0,
		}, int(get("face")),
	}
}

// builder collects a program.
type builder struct {
	program
	gyro   bool    // the rig has one
	noGyro bool    // and that it has none was told
	waitMs float64 // features that end later come too late for this detector
	faults []error
}

func (b *builder) fault(format string, args ...any) {
	b.faults = append(b.faults, fmt.Errorf(format, args...))
}

func (b *builder) add(steps ...step) { b.steps = append(b.steps, steps...) }

// size names a whole number.
func (b *builder) size(name string, n int, doc string) expr {
	b.sizes = append(b.sizes, size{name, n, doc})
	return named(name)
}

// scalar adds one number to the table.
func (b *builder) scalar(name, unit string, v float64, doc string) expr {
	b.hold(Array{Name: name, Unit: unit, Doc: doc}, v)
	return named(name)
}

// floats adds an array of numbers, one a feature or the like; over names the
// size that it has in C.
func (b *builder) floats(name, unit string, over []string, values []float64, doc string) {
	b.hold(Array{Name: name, Unit: unit, Doc: doc, Over: over}, values...)
}

// indices adds an array of whole numbers.
func (b *builder) indices(name string, over []string, values []int, doc string) {
	v := make([]float64, len(values))
	for i, n := range values {
		v[i] = float64(n)
	}
	b.hold(Array{Name: name, Doc: doc, Over: over, Type: typeInt16}, v...)
}

func (b *builder) hold(a Array, values ...float64) {
	a.values = values
	if a.Type == "" {
		a.Type = typeFloat32
	}
	for i, v := range values {
		switch {
		case math.IsNaN(v) || math.Abs(v) > math.MaxFloat32:
			b.fault("number %d of %s is %g, which float32 cannot hold: the detector's file is damaged or its training went wrong: train again", i+1, a.Name, v)
		case a.Type == typeInt16 && (v != math.Trunc(v) || v < math.MinInt16 || v > math.MaxInt16):
			b.fault("number %d of %s is %g, which 16 bits cannot hold: train a smaller detector", i+1, a.Name, v)
		}
	}
	b.tables = append(b.tables, a)
}

// take adds features to the inputs, those that are not there yet. Every one
// must be able to run on a board.
func (b *builder) take(names ...string) {
	for _, n := range names {
		if b.place(n) >= 0 {
			continue
		}
		for i, d := range features.All() {
			if d.Name != n {
				continue
			}
			if !d.Board {
				b.fault("feature %s cannot run on a board: it %s", d.Name, d.NotBoard)
			}
			if d.NeedsGyro && !b.gyro {
				if !b.noGyro {
					b.fault("%s needs a gyroscope, and the rig has none: train on recordings of this rig", d.Name)
				}
				b.noGyro = true
			}
			for at, c := range features.Columns() {
				if c.Def == i {
					b.inputs = append(b.inputs, input{c, d, at})
				}
			}
		}
	}
}

// offer takes features that only say how sure the answer is, as far as the
// board has them in time, and tells which it has. What is missing counts as 0,
// as it does for the detector.
func (b *builder) offer(name string) bool {
	if b.place(name) >= 0 {
		return true
	}
	for _, d := range features.All() {
		if d.Name == name && d.Board && (b.gyro || !d.NeedsGyro) && d.ToMs <= b.waitMs {
			b.take(name)
			return true
		}
	}
	return false
}

// place is the position of a feature's first number among the inputs, -1
// where it is not taken.
func (b *builder) place(name string) int {
	for i, in := range b.inputs {
		if in.def.Name == name {
			return i
		}
	}
	return -1
}

// x and y are the parts of a single vector toward bearing 90 and 0, s is a
// scalar; all of them cleaned.
func (b *builder) x(name string) expr {
	return element("value", named(b.inputs[b.place(name)].cName()))
}
func (b *builder) y(name string) expr {
	return element("value", named(b.inputs[b.place(name)+1].cName()))
}
func (b *builder) s(name string) expr { return b.x(name) }

// vectorsAt tells where a loop over the named vectors finds its k-th: at k
// itself where they are the first inputs, else by a list of positions.
func (b *builder) vectorsAt(list, over string, names []string) expr {
	k := named("k")
	at := make([]int, len(names))
	straight := true
	for i, n := range names {
		at[i] = b.place(n) / 2
		straight = straight && at[i] == i
	}
	if straight {
		return k
	}
	b.indices(list, []string{over}, at, "which vectors of the inputs, counted from 0")
	return element(list, k)
}

// scalarsAt does the same for scalars, which must lie one after the other.
func (b *builder) scalarsAt(names []string) expr {
	for i, n := range names {
		if b.place(n) != b.place(names[0])+i {
			b.fault("features %s do not lie one after the other", strings.Join(names, ", "))
		}
	}
	return add(named(b.inputs[b.place(names[0])].cName()), named("k"))
}

// tree adds a tree as four arrays: the feature that a node asks for, -1 for a
// leaf; its threshold, or what the leaf says; and where to go on below the
// threshold and otherwise.
func (b *builder) tree(name, unit, doc string, nodes []treeNode) {
	over := b.size(name+"_NODES", len(nodes), "nodes of the tree "+name)
	feature, below, other := make([]int, len(nodes)), make([]int, len(nodes)), make([]int, len(nodes))
	num := make([]float64, len(nodes))
	for i, n := range nodes {
		feature[i], below[i], other[i], num[i] = n.Feature, n.Below, n.Other, n.Threshold
		if n.Feature < 0 {
			feature[i], num[i] = -1, n.Value
		}
	}
	list := []string{over.name}
	b.indices(name+"_FEATURE", list, feature, doc+": the aligned feature that a node asks for, -1 for a leaf")
	b.floats(name+"_NUMBER", unit, list, num, doc+": threshold of a node (standard deviations), or what a leaf says")
	b.indices(name+"_BELOW", list, below, doc+": next node below the threshold")
	b.indices(name+"_OTHER", list, other, doc+": next node otherwise")
}
