package features

import (
	"math"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// view is a window with what several features share.
type view struct {
	w     *dataset.Window
	perMs float64 // samples in a millisecond

	sensorM float64 // the sensor's height above the centre of mass
	gyrateM float64 // radius of gyration across
	twistM  float64 // turning inertia about the bag's axis over mass times radius

	before     complex128 // horizontal reading before the onset, m/s2
	beforeUp   float64
	rockBefore complex128 // rad/s
	spinBefore float64

	riseMs, contactMs float64 // see pulse
	measured          bool    // they have been
}

// Before the onset, the stretch whose mean is taken off later means. It ends
// 5 ms early, as an onset may be found that much late.
const beforeFromMs, beforeToMs = -25, -5

func newView(w *dataset.Window, r *rig.Rig) *view {
	v := &view{w: w, perMs: w.RateHz / 1000}
	in := r.Inertia()
	v.sensorM = in.CentreOfMassDepthM - r.Sensor.DepthM
	v.gyrateM = in.RadiusOfGyrationM
	v.twistM = in.TwistKgM2 / (r.Bag.MassKg * r.Bag.DiameterM / 2)
	if v.reaches(beforeFromMs, beforeToMs) {
		v.before = v.across(beforeFromMs, beforeToMs)
		v.beforeUp = v.mean(w.A[2], beforeFromMs, beforeToMs)
		if w.HasGyro() {
			v.rockBefore = v.rock(beforeFromMs, beforeToMs)
			v.spinBefore = v.mean(w.G[2], beforeFromMs, beforeToMs)
		}
	}
	return v
}

// slack keeps a stretch that ends where the window does inside it in spite of
// rounding, samples.
const slack = 1e-6

// reaches tells whether the window holds a stretch of time.
func (v *view) reaches(fromMs, toMs float64) bool {
	return fromMs*v.perMs >= float64(-v.w.Pre)-slack && toMs*v.perMs <= float64(v.w.Post())+slack
}

// mean weighs the samples of a stretch by the part of each that lies inside.
// Positions count from the onset, so that the window's length leaves no trace
// in the last bit.
func (v *view) mean(x []float64, fromMs, toMs float64) float64 {
	from, to := v.stretch(fromMs, toMs)
	first, last := int(math.Floor(from)), int(math.Ceil(to))-1
	var sum float64
	for j := first; j <= last; j++ {
		if j == first+1 && j < last { // those between the edges lie wholly inside
			for _, whole := range x[v.w.Pre+j : v.w.Pre+last] {
				sum += whole
			}
			j = last
		}
		part := min(float64(j+1), to) - max(float64(j), from)
		sum += float64(part * x[v.w.Pre+j])
	}
	return sum / (to - from)
}

// stretch converts times after the onset to samples after it, rounded to a
// millionth so that 8 ms at 400 Hz is 3.2 samples on any machine, and held to
// the window.
func (v *view) stretch(fromMs, toMs float64) (from, to float64) {
	at := func(ms float64) float64 {
		p := math.Round(ms*v.perMs*1e6) / 1e6
		return min(max(p, float64(-v.w.Pre)), float64(v.w.Post()))
	}
	return at(fromMs), at(toMs)
}

// whole returns the samples that lie wholly or partly in a stretch, as
// positions in the window's columns, end excluded.
func (v *view) whole(fromMs, toMs float64) (first, end int) {
	from, to := v.stretch(fromMs, toMs)
	return v.w.Pre + int(math.Floor(from)), v.w.Pre + int(math.Ceil(to))
}

// across is the mean horizontal reading over a stretch.
func (v *view) across(fromMs, toMs float64) complex128 {
	return complex(v.mean(v.w.A[1], fromMs, toMs), v.mean(v.w.A[0], fromMs, toMs))
}

// rock is the mean horizontal rotation rate over a stretch, as the motion of
// points above: a point at height s moves with s (-wx + i wy) in y + i x.
func (v *view) rock(fromMs, toMs float64) complex128 {
	return complex(-v.mean(v.w.G[0], fromMs, toMs), v.mean(v.w.G[1], fromMs, toMs))
}

// push is the horizontal reading at one position of the window's columns, the
// reading before the onset taken off.
func (v *view) push(j int) complex128 {
	return complex(v.w.A[1][j], v.w.A[0][j]) - v.before
}
