package answer

import (
	"strikerose/features/chain/board"
	"strikerose/features/chain/fixed"
)

// The float32 profile: the same sums of counts, and from them on float32 in SI
// units. Every product is rounded before it is added, so that nothing fuses.

// Reals holds its numbers.
type Reals struct {
	YawDeg    float32 // added to every bearing, degrees
	CentreM   float32 // height of the centre of mass, m
	MiddleM   float32 // height stated where none is measured, m
	LengthM   float32 // of the bag, m
	WeakMPS   float32 // a smaller velocity change is unsure, m/s
	KickScale float32 // m/s of a count, Q4, in the sum over Kick
	Floor     float32 // least denominator of the height over the size of the push

	FormA [][forms]float32 `c:"STRETCHES"` // weights of the accelerometer's vectors, SI of a count Q4
	FormG [][forms]float32 `c:"STRETCHES"` // weights of the rotation rate's
	FormZ [][3]float32     `c:"STRETCHES"` // weights of the vertical accelerometer in push, top and bottom
	FormS [][2]float32     `c:"STRETCHES"` // weights of the rotation rate about the bag's axis: in the push, and in the early one

	Weight []float32 `c:"ITEMS"`   // of an item on its own sum
	Quiet  []float32 `c:"ITEMS"`   // and on the quiet stretch's
	First  []float32 `c:"ITEMS"`   // weights of the direction on the vectors
	Mean   []float32 `c:"ALIGNED"` // of an aligned feature
	Spread []float32 `c:"ALIGNED"` // one over its standard deviation

	Hidden     []float32 `c:"HIDDEN"` // weights of the units, one after the other
	HiddenBias []float32 `c:"UNITS"`
	OutSin     []float32 `c:"UNITS"`
	OutCos     []float32 `c:"UNITS"`
	OutHeight  []float32 `c:"UNITS"` // m
	CosBias    float32
	HeightBias float32   // m
	Threshold  []float32 `c:"NODES"`
	Value      []float32 `c:"NODES"` // sine, cosine, m
}

// pair is a vector, x toward bearing 90 and y toward bearing 0.
type pair struct{ x, y float32 }

// floatSums holds the linear forms of a strike.
type floatSums struct {
	x, y [forms]float32
	even [3]float32
	odd  [2]float32
}

// answerF says where the strike at hand landed.
func (d *Detector) answerF(e *Event, push *board.Vector) {
	t := d.table
	switch t.Kind {
	case KindPeak:
		d.bearingF(e, -float32(push.X), -float32(push.Y))
		d.heightF(e, t.Reals.MiddleM)
		d.weak(e, uint32(e.Peak))
	case KindRatio:
		d.ratioF(e)
	case KindNet, KindTree:
		d.alignedF(e)
	}
}

// soonF says early where it seems to have landed.
func (d *Detector) soonF(e *Event, push *board.Vector) {
	t := d.table
	if t.Sooner == EarlyPeak {
		d.bearingF(e, -float32(push.X), -float32(push.Y))
	} else {
		var f floatSums
		d.addF(&f, t.Chain.Soon)
		form := int32(formKick)
		if t.Sooner == EarlyCentre {
			form = formCentre
		}
		q := pair{x: -f.x[form], y: -f.y[form]}
		if t.Sooner == EarlyCentre {
			q = q.turned(f.odd[1])
		}
		d.bearingF(e, q.x, q.y)
	}
}

// bearingF states the bearing of a direction. One without length is a guess.
func (d *Detector) bearingF(e *Event, x, y float32) {
	d.angleF(e, fixed.Atan2F(x, y))
	if x == 0 && y == 0 {
		e.Certainty = Guess
		e.Flags |= Unsure
	}
}

// angleF states a bearing by its angle in radians, before yaw.
func (d *Detector) angleF(e *Event, angle float32) {
	ddeg := fixed.RoundF(float32((float32(angle*57.2957795)+d.table.Reals.YawDeg)*10), -7200, 7200)
	d.ddeg(e, (ddeg+14400)%3600)
}

// heightF states a height, held to the bag.
func (d *Detector) heightF(e *Event, m float32) {
	e.HeightMM = int16(fixed.RoundF(float32(m*1000), 0, (d.table.Length+8)>>4))
}

// hypotF is the length of a vector.
func hypotF(x, y float32) float32 { return fixed.SqrtF(float32(x*x) + float32(y*y)) }

// unitF makes a vector one of length 1, toward bearing 0 where it has none.
func unitF(x, y float32) pair {
	n := hypotF(x, y)
	if n > 0 {
		return pair{x: float32(x / n), y: float32(y / n)}
	}
	return pair{x: 0, y: 1}
}

// addF takes the sums over every stretch that ends within a number of samples.
func (d *Detector) addF(f *floatSums, within int32) {
	t := d.table
	for i := range t.Stretches {
		s := &t.Stretches[i]
		if int32(s.Last) >= within {
			continue
		}
		a := d.chain.Accel(s)
		for k := range int32(forms) {
			f.x[k] += float32(t.Reals.FormA[i][k] * float32(a.X))
			f.y[k] += float32(t.Reals.FormA[i][k] * float32(a.Y))
		}
		for k := range int32(3) {
			f.even[k] += float32(t.Reals.FormZ[i][k] * float32(a.Z))
		}
		if t.Chain.Gyro == 0 {
			continue
		}
		g := d.chain.Gyro(s)
		for k := range int32(forms) {
			f.x[k] += float32(t.Reals.FormG[i][k] * float32(g.Y))
			f.y[k] -= float32(t.Reals.FormG[i][k] * float32(g.X))
		}
		for k := range int32(2) {
			f.odd[k] += float32(t.Reals.FormS[i][k] * float32(g.Z))
		}
	}
}

// pushF gives the direction of the forms, m/s.
func (d *Detector) pushF(f *floatSums) pair {
	t := d.table
	q := pair{x: f.x[formPush], y: f.y[formPush]}
	if t.Sine != 0 {
		return q.turned(f.odd[0])
	}
	even := f.even[0]
	u := unitF(f.x[formFirst], f.y[formFirst])
	return pair{
		x: q.x + (float32(u.x*even) + float32(u.y*f.odd[0])),
		y: q.y + (float32(u.y*even) - float32(u.x*f.odd[0])),
	}
}

// turned is a push turned by the angle whose sine is odd over the push, held to 0.6
// of it.
func (q *pair) turned(odd float32) pair {
	n := hypotF(q.x, q.y)
	if n > 0 {
		sine := float32(odd / n)
		if sine > 0.6 {
			sine = 0.6
		}
		if sine < -0.6 {
			sine = -0.6
		}
		cosine := fixed.SqrtF(1 - float32(sine*sine))
		return pair{x: float32(q.x*cosine) + float32(q.y*sine), y: float32(q.y*cosine) - float32(q.x*sine)}
	}
	return pair{x: q.x, y: q.y}
}

// ratioF answers by the linear forms.
func (d *Detector) ratioF(e *Event) {
	t := d.table
	var f floatSums
	d.addF(&f, t.Chain.Post+1)
	q := d.pushF(&f)
	d.bearingF(e, q.x, q.y)
	if t.HasHeight != 0 {
		d.heightF(e, d.aboveF(&f, q))
	} else {
		d.heightF(e, t.Reals.MiddleM)
	}
	d.weakF(e, d.movedF(&f))
}

// aboveF is the height of a strike: two forms along the push, one over the other.
func (d *Detector) aboveF(f *floatSums, q pair) float32 {
	t := d.table
	n := hypotF(q.x, q.y)
	v := unitF(q.x, q.y)
	if t.Sine != 0 { // along the push itself, before it is turned
		v = unitF(f.x[formPush], f.y[formPush])
	}
	top := float32(f.x[formTop]*v.x) + float32(f.y[formTop]*v.y) + f.even[1]
	bottom := float32(f.x[formBottom]*v.x) + float32(f.y[formBottom]*v.y) + f.even[2]
	least := float32(n * t.Reals.Floor)
	if bottom < least {
		bottom = least
	}
	if bottom > 0 {
		return t.Reals.CentreM + float32(top/bottom)
	}
	return t.Reals.CentreM
}

// movedF is how hard the strike moved the bag, m/s.
func (d *Detector) movedF(f *floatSums) float32 {
	kick := hypotF(f.x[formKick], f.y[formKick])
	centre := hypotF(f.x[formCentre], f.y[formCentre])
	if centre > kick {
		return centre
	}
	return kick
}

// weakF marks an answer whose velocity changes are hardly more than noise.
func (d *Detector) weakF(e *Event, kick float32) {
	if kick < d.table.Reals.WeakMPS {
		e.Flags |= Unsure
		if e.Certainty == Usual {
			e.Certainty = Weak
		}
	}
}

// floatFrame is a strike seen along its first direction.
type floatFrame struct {
	x, y    []float32 `c:"ITEMS"` // items in usual sizes of them; y only of vectors
	feature []float32 `c:"ALIGNED"`
}

// itemF sums one item up.
func (d *Detector) itemF(i int32) pair {
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
		return pair{x: d.weighF(i, a.X, b.X), y: d.weighF(i, a.Y, b.Y)}
	case SourceRock:
		return pair{x: d.weighF(i, a.Y, b.Y), y: -d.weighF(i, a.X, b.X)}
	}
	return pair{x: d.weighF(i, a.Z, b.Z), y: 0}
}

// weighF adds the two sums of an item.
func (d *Detector) weighF(i, a, b int32) float32 {
	f := &d.table.Reals
	return float32(f.Weight[i]*float32(a)) + float32(f.Quiet[i]*float32(b))
}

// alignedF answers by what is known along the first direction.
func (d *Detector) alignedF(e *Event) {
	t := d.table
	w := &d.workF
	square := float32(0)
	for i := range t.Items {
		v := d.itemF(int32(i))
		w.x[i] = v.x
		w.y[i] = v.y
		if int32(i) < t.Vectors {
			square += float32(v.x*v.x) + float32(v.y*v.y)
		}
	}
	kick := d.chain.Accel(&t.Kick)
	moved := float32(t.Reals.KickScale * hypotF(float32(kick.X), float32(kick.Y)))
	u := pair{x: 0, y: 1}
	whole := true
	if t.Direction == FromForms {
		var f floatSums
		d.addF(&f, t.Chain.Post+1)
		q := d.pushF(&f)
		u = unitF(q.x, q.y)
		whole = q.x != 0 || q.y != 0
		moved = d.movedF(&f)
	} else {
		x := float32(0)
		y := float32(0)
		for i := range t.Vectors {
			x += float32(t.Reals.First[i] * w.x[i])
			y += float32(t.Reals.First[i] * w.y[i])
		}
		u = unitF(x, y)
	}
	vectors := float32(t.Vectors)
	if vectors < 1 {
		vectors = 1
	}
	size := fixed.SqrtF(float32(square / vectors))
	if !(size > 0) {
		size = 1
		whole = false
	}
	w.align(t, u, size)
	d.turnedF(e, u)
	if !whole {
		e.Certainty = Guess
		e.Flags |= Unsure
	}
	d.weakF(e, moved)
}

// align writes the features along the unit vector u, over the strike's size, and
// standardises them.
func (w *floatFrame) align(t *Table, u pair, size float32) {
	at := int32(0)
	for i := range t.Items {
		if int32(i) < t.Vectors {
			w.put(t, at, float32(w.y[i]*u.y)+float32(w.x[i]*u.x), size)
			w.put(t, at+1, float32(w.x[i]*u.y)-float32(w.y[i]*u.x), size)
			at += 2
		} else {
			w.put(t, at, w.x[i], size)
			at++
		}
	}
}

// put standardises one feature and holds it to four standard deviations.
func (w *floatFrame) put(t *Table, at int32, x, size float32) {
	v := float32((float32(x/size) - t.Reals.Mean[at]) * t.Reals.Spread[at])
	if v > 4 {
		v = 4
	}
	if v < -4 {
		v = -4
	}
	w.feature[at] = v
}

// turnedF states the bearing, the first direction u turned on, and the height.
func (d *Detector) turnedF(e *Event, u pair) {
	t := d.table
	sine := float32(0)
	cosine := float32(0)
	above := float32(0)
	if t.Kind == KindTree {
		sine = d.leafF(t.Roots[0])
		cosine = d.leafF(t.Roots[1])
		above = d.leafF(t.Roots[2])
	} else {
		cosine = t.Reals.CosBias
		above = t.Reals.HeightBias
		side := float32(1)
		for range int32(2) { // the strike, and its mirror image
			for i := range t.Reals.HiddenBias {
				h := d.hiddenF(int32(i))
				sine += float32(float32(side*t.Reals.OutSin[i]) * h)
				cosine += float32(t.Reals.OutCos[i] * h)
				above += float32(t.Reals.OutHeight[i] * h)
			}
			side = -1
			d.workF.mirror(t)
		}
	}
	d.angleF(e, fixed.Atan2F(u.x, u.y)+fixed.Atan2F(sine, cosine))
	d.heightF(e, t.Reals.CentreM+above)
}

// hiddenF is the answer of one hidden unit.
func (d *Detector) hiddenF(u int32) float32 {
	t := d.table
	sum := t.Reals.HiddenBias[u]
	n := int32(len(t.Reals.Mean))
	for k := range n {
		sum += float32(t.Reals.Hidden[u*n+k] * d.workF.feature[k])
	}
	return fixed.TanhF(sum)
}

// mirror turns the features into those of the mirror image.
func (w *floatFrame) mirror(t *Table) {
	for i := range t.Vectors {
		w.feature[2*i+1] = -w.feature[2*i+1]
	}
	for i := range t.Odd {
		w.feature[2*t.Vectors+i] = -w.feature[2*t.Vectors+i]
	}
}

// leafF walks a tree.
func (d *Detector) leafF(root int32) float32 {
	t := d.table
	i := root
	for t.Nodes[i].Feature >= 0 {
		n := &t.Nodes[i]
		if d.workF.feature[n.Feature] < t.Reals.Threshold[i] {
			i = int32(n.Below)
		} else {
			i = int32(n.Other)
		}
	}
	return t.Reals.Value[i]
}
