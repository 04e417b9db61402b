package answer

import (
	"strikerose/features/chain/board"
	"strikerose/features/chain/fixed"
)

// Bounds of what is aligned: an item in usual sizes of it, Q16; an aligned feature
// before it is standardised, Q14; and after, Q12: four standard deviations.
const (
	mostItem    = 1 << 25
	mostAligned = 1 << 21
	heldSD      = 4 << 12
)

// frame is a strike seen along its first direction.
type frame struct {
	x, y    []int32 `c:"ITEMS"` // items, Q16; y only of vectors
	feature []int16 `c:"ALIGNED"`
}

// item sums one item up.
func (d *Detector) item(i int32) direction {
	t := d.table
	p := &t.Items[i]
	s := &t.Stretches[p.Stretch]
	var a, b board.Vector
	if t.Chain.Gyro != 0 && (p.Source == SourceRock || p.Source == SourceSpin) {
		a = d.chain.Gyro(s)
		b = d.chain.Gyro(&t.Quiet)
	} else {
		a = d.chain.Accel(s)
		b = d.chain.Accel(&t.Quiet)
	}
	switch p.Source {
	case SourceAccel:
		return direction{x: d.weigh(p, a.X, b.X), y: d.weigh(p, a.Y, b.Y)}
	case SourceRock:
		return direction{x: d.weigh(p, a.Y, b.Y), y: -d.weigh(p, a.X, b.X)}
	}
	return direction{x: d.weigh(p, a.Z, b.Z), y: 0}
}

// weigh adds the two sums of an item.
func (d *Detector) weigh(p *Item, a, b int32) int32 {
	sum := int64(p.Weight)*int64(a) + int64(p.Quiet)*int64(b)
	return fixed.Sat32(min(max(fixed.Round64(sum, uint32(d.table.ItemShift)&63), -mostItem), mostItem))
}

// aligned answers by what is known along the first direction.
func (d *Detector) aligned(e *Event) {
	t := d.table
	w := &d.work
	square := uint64(0)
	for i := range t.Items {
		v := d.item(int32(i))
		w.x[i] = v.x
		w.y[i] = v.y
		if int32(i) < t.Vectors {
			square += uint64(int64(v.x)*int64(v.x)) + uint64(int64(v.y)*int64(v.y))
		}
	}
	kick := d.chain.Accel(&t.Kick)
	moved := uint32((uint64(fixed.Hypot(kick.X, kick.Y)) * uint64(int64(t.KickScale))) >> 20)
	u := int32(0)
	whole := true
	if t.Direction == FromForms {
		var f sums
		d.add(&f, t.Chain.Post+1)
		q := d.push(&f)
		u = fixed.Atan2(q.x, q.y)
		whole = q.x != 0 || q.y != 0
		moved = d.moved(&f)
	} else {
		x := int64(0)
		y := int64(0)
		for i := range t.Vectors {
			x += int64(t.First[i]) * int64(w.x[i])
			y += int64(t.First[i]) * int64(w.y[i])
		}
		u = fixed.Atan2(fixed.Sat32(fixed.Round64(x, 20)), fixed.Sat32(fixed.Round64(y, 20)))
	}
	vectors := uint64(int64(t.Vectors))
	if vectors == 0 {
		vectors = 1
	}
	size := fixed.Sat32(int64(fixed.Sqrt64(square / vectors)))
	if size == 0 {
		size = 1 << 16
		whole = false
	}
	w.align(t, fixed.SinCos(u), size)
	d.turned(e, u)
	if !whole {
		e.Certainty = Guess
		e.Flags |= Unsure
	}
	d.weak(e, moved)
}

// align writes the features along the unit vector v, over the strike's size, and
// standardises them.
func (w *frame) align(t *Table, v fixed.Vector, size int32) {
	at := int32(0)
	for i := range t.Items {
		if int32(i) < t.Vectors {
			w.put(t, at, fixed.AddSat32(fixed.Mul(w.y[i], v.X, 30), fixed.Mul(w.x[i], v.Y, 30)), size)
			w.put(t, at+1, fixed.SubSat32(fixed.Mul(w.x[i], v.X, 30), fixed.Mul(w.y[i], v.Y, 30)), size)
			at += 2
		} else {
			w.put(t, at, w.x[i], size)
			at++
		}
	}
}

// put standardises one feature: Q16 over Q16, then Q14, then Q12.
func (w *frame) put(t *Table, at int32, x, size int32) {
	over := min(max(fixed.Div(int64(x)*(1<<14), size), -mostAligned), mostAligned)
	w.feature[at] = int16(min(max(fixed.Mul(over-t.Mean[at], t.Spread[at], 14), -heldSD), heldSD))
}

// turned states the bearing, the first direction u turned on, and the height.
func (d *Detector) turned(e *Event, u int32) {
	t := d.table
	sine := int32(0)
	cosine := int32(0)
	above := int32(0) // Q4 mm
	if t.Kind == KindTree {
		sine = d.leaf(t.Roots[0])
		cosine = d.leaf(t.Roots[1])
		above = d.leaf(t.Roots[2])
	} else {
		cosine = t.CosBias
		above = t.HeightBias
		side := int32(1)
		for range int32(2) { // the strike, and its mirror image
			for i := range t.HiddenBias {
				h := d.unit(int32(i))
				sine += side * fixed.Mul(t.OutSin[i], h, 30)
				cosine += fixed.Mul(t.OutCos[i], h, 30)
				above += fixed.Mul(t.OutHeight[i], h, 30)
			}
			side = -1
			d.work.mirror(t)
		}
		above >>= 4
	}
	d.angle(e, int32(uint32(u)+uint32(fixed.Atan2(sine, cosine))))
	d.height(e, t.Centre+above)
}

// unit is the answer of one hidden unit, Q30. Its weights are such that the sum
// stays below 2^31 for features within heldSD.
func (d *Detector) unit(u int32) int32 {
	t := d.table
	sum := t.HiddenBias[u]
	n := int32(len(t.Mean))
	for k := range n {
		sum += int32(t.Hidden[u*n+k]) * int32(d.work.feature[k])
	}
	return fixed.Tanh(fixed.ShiftUp32(sum, uint32(t.UnitUp)&31))
}

// mirror turns the features into those of the mirror image.
func (w *frame) mirror(t *Table) {
	for i := range t.Vectors {
		w.negate(2*i + 1)
	}
	for i := range t.Odd {
		w.negate(2*t.Vectors + i)
	}
}

func (w *frame) negate(i int32) { w.feature[i] = int16(-int32(w.feature[i])) }

// leaf walks a tree.
func (d *Detector) leaf(root int32) int32 {
	i := root
	for d.table.Nodes[i].Feature >= 0 {
		n := &d.table.Nodes[i]
		if d.work.feature[n.Feature] < n.Threshold {
			i = int32(n.Below)
		} else {
			i = int32(n.Other)
		}
	}
	return int32(d.table.Nodes[i].Value)
}
