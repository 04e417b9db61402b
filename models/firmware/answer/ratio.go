package answer

import "strikerose/features/chain/fixed"

// sums holds the linear forms of a strike before their last shift. The weights are
// such that no sum reaches 2^62 whatever the sensor reads.
type sums struct {
	x, y [forms]int64
	even [3]int64 // what even scalars add to push, top and bottom
	odd  [2]int64 // what turns the push, and the early one
}

// add takes the sums over every stretch that ends within a number of samples.
func (d *Detector) add(f *sums, within int32) {
	t := d.table
	for i := range t.Stretches {
		s := &t.Stretches[i]
		if int32(s.Last) >= within {
			continue
		}
		a := d.chain.Accel(s)
		for k := range int32(forms) {
			f.x[k] += int64(t.FormA[i][k]) * int64(a.X)
			f.y[k] += int64(t.FormA[i][k]) * int64(a.Y)
		}
		for k := range int32(3) {
			f.even[k] += int64(t.FormZ[i][k]) * int64(a.Z)
		}
		if t.Chain.Gyro == 0 {
			continue
		}
		// Points above the centre of rotation move with -wx + i wy in y + i x.
		g := d.chain.Gyro(s)
		for k := range int32(forms) {
			f.x[k] += int64(t.FormG[i][k]) * int64(g.Y)
			f.y[k] -= int64(t.FormG[i][k]) * int64(g.X)
		}
		for k := range int32(2) {
			f.odd[k] += int64(t.FormS[i][k]) * int64(g.Z)
		}
	}
}

// form brings a sum to Q20, held to a quarter of the range so that no sum of two
// overflows.
func (d *Detector) form(sum int64) int32 {
	const most = 1 << 29
	return fixed.Sat32(min(max(fixed.Round64(sum, uint32(d.table.FormShift)&63), -most), most))
}

// direction is a vector, x toward bearing 90 and y toward bearing 0.
type direction struct{ x, y int32 }

// push gives the direction of the forms, Q20.
func (d *Detector) push(f *sums) direction {
	t := d.table
	q := direction{x: d.form(f.x[formPush]), y: d.form(f.y[formPush])}
	odd := d.form(f.odd[0])
	if t.Sine != 0 {
		return q.turned(odd)
	}
	even := d.form(f.even[0])
	u := fixed.SinCos(fixed.Atan2(d.form(f.x[formFirst]), d.form(f.y[formFirst])))
	q.x = fixed.AddSat32(q.x, fixed.AddSat32(fixed.Mul(u.Y, even, 30), fixed.Mul(u.X, odd, 30)))
	q.y = fixed.AddSat32(q.y, fixed.SubSat32(fixed.Mul(u.X, even, 30), fixed.Mul(u.Y, odd, 30)))
	return q
}

// turned is a push turned by the angle whose sine is odd over the push, held to 0.6
// of it.
func (q *direction) turned(odd int32) direction {
	n := fixed.Sat32(int64(fixed.Hypot(q.x, q.y)))
	most := fixed.Mul(n, 39322, 16)
	sine := min(max(odd, -most), most)
	cosine := fixed.Sqrt64(uint64(int64(n)*int64(n) - int64(sine)*int64(sine)))
	turn := fixed.Atan2(sine, fixed.Sat32(int64(cosine)))
	v := fixed.SinCos(int32(uint32(fixed.Atan2(q.x, q.y)) + uint32(turn)))
	return direction{x: fixed.Mul(v.Y, n, 30), y: fixed.Mul(v.X, n, 30)}
}

// ratio answers by the linear forms.
func (d *Detector) ratio(e *Event) {
	t := d.table
	var f sums
	d.add(&f, t.Chain.Post+1)
	q := d.push(&f)
	d.bearing(e, q.x, q.y)
	if t.HasHeight != 0 {
		d.height(e, d.above(&f, &q))
	} else {
		d.height(e, t.Middle)
	}
	d.weak(e, d.moved(&f))
}

// above is the height of a strike, Q4 mm: two forms along the push, one over the
// other.
func (d *Detector) above(f *sums, q *direction) int32 {
	t := d.table
	n := fixed.Sat32(int64(fixed.Hypot(q.x, q.y)))
	along := fixed.Atan2(q.x, q.y)
	if t.Sine != 0 { // along the push itself, before it is turned
		along = fixed.Atan2(d.form(f.x[formPush]), d.form(f.y[formPush]))
	}
	v := fixed.SinCos(along)
	top := fixed.AddSat32(d.along(f, formTop, v), d.form(f.even[1]))
	bottom := fixed.AddSat32(d.along(f, formBottom, v), d.form(f.even[2]))
	if n == 0 {
		return t.Centre
	}
	least := max(bottom, fixed.Mul(n, t.Floor, 16), 1)
	return fixed.AddSat32(t.Centre, fixed.Div(int64(top)*16000, least))
}

// along is the part of a form along a unit vector, Q20.
func (d *Detector) along(f *sums, form int32, v fixed.Vector) int32 {
	return fixed.AddSat32(fixed.Mul(d.form(f.x[form]), v.Y, 30), fixed.Mul(d.form(f.y[form]), v.X, 30))
}

// moved is how hard the strike moved the bag, Q20 m/s: the larger velocity change
// of the sensor's and the centre of mass's.
func (d *Detector) moved(f *sums) uint32 {
	return max(fixed.Hypot(d.form(f.x[formKick]), d.form(f.y[formKick])), fixed.Hypot(d.form(f.x[formCentre]), d.form(f.y[formCentre])))
}
