package eval

import (
	"math"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/label/plan"
)

// Spans of a window that PlanFinds looks at, in milliseconds after the onset.
const (
	planPushMs  = 14.0 // the push's direction
	planKickMs  = 22.0 // the kick: contact
	planLaterMs = 100.0
)

// PlanFinds works out what the alignment of a plan needs to know of found
// strikes: where the push came from (minus the mean horizontal specific force
// over the 14 ms after the onset) and features that go with height: size of the
// kick, vertical against horizontal kick, later push against kick, and rotation
// against kick where there is a gyroscope; as logarithms, but for the vertical
// one, which has a sign and goes through an inverse hyperbolic sine. Windows are in the bag's frame up to an unknown yaw.
func PlanFinds(windows []*dataset.Window, r *rig.Rig) []plan.Find {
	finds := make([]plan.Find, len(windows))
	for i, w := range windows {
		finds[i] = planFind(w, r)
	}
	return finds
}

func planFind(w *dataset.Window, r *rig.Rig) plan.Find {
	f := plan.Find{TimeS: float64(w.Strike.OnsetNs) / 1e9, PushBearingDeg: math.NaN()}
	px, py := meanOver(w, w.A[0], 0, planPushMs), meanOver(w, w.A[1], 0, planPushMs)
	if px != 0 || py != 0 {
		f.PushBearingDeg = bearing.FromVector(-px, -py)
	}
	kick := math.Hypot(meanOver(w, w.A[0], 0, planKickMs), meanOver(w, w.A[1], 0, planKickMs))
	lift := meanOver(w, w.A[2], 0, planKickMs) - meanOver(w, w.A[2], -25, -5)
	later := math.Hypot(
		meanOver(w, w.A[0], planKickMs+8, planLaterMs)-meanOver(w, w.A[0], -25, -5),
		meanOver(w, w.A[1], planKickMs+8, planLaterMs)-meanOver(w, w.A[1], -25, -5))
	f.Height = []float64{math.Log(kick), math.Asinh(10 * lift / kick), math.Log(later / kick)}
	if r.HasGyro() {
		tip := math.NaN()
		if w.HasGyro() {
			tip = math.Hypot(
				meanOver(w, w.G[0], 20, 32)-meanOver(w, w.G[0], -25, -5),
				meanOver(w, w.G[1], 20, 32)-meanOver(w, w.G[1], -25, -5))
		}
		f.Height = append(f.Height, math.Log(tip/kick))
	}
	return f
}

// meanOver is the mean of a channel from one time to another after the onset,
// in milliseconds, cut to the window; NaN where nothing is left.
func meanOver(w *dataset.Window, channel []float64, fromMs, toMs float64) float64 {
	from := max(0, w.Pre+int(math.Round(fromMs/1e3*w.RateHz)))
	to := min(len(channel), w.Pre+max(int(math.Round(toMs/1e3*w.RateHz)), int(math.Round(fromMs/1e3*w.RateHz))+1))
	if from >= to {
		return math.NaN()
	}
	sum := 0.0
	for _, v := range channel[from:to] {
		sum += v
	}
	return sum / float64(to-from)
}
