package simulate

import (
	"math"
	"slices"
	"testing"

	"strikerose/dataset/datasettest"
)

func TestImpulse(t *testing.T) {
	x := Strike{PeakN: 1000, ContactS: 0.02, RiseDeg: 60}
	if got, want := x.ImpulseNs(), 20/math.Pi; !datasettest.Near(got, want, 1e-12) {
		t.Errorf("impulse %g N s, want %g", got, want)
	}
}

// Double hits take up the share of strikes that the mix gives them. The limit
// is five standard deviations of the number drawn.
func TestPairsShare(t *testing.T) {
	const n, share = 60_000, 0.2
	pairs := 0
	for _, b := range RandomPlan(datasettest.Rig(t), n, Mix{Pairs: share}, 5) {
		if b.Pair == "one" {
			pairs++
		}
	}
	if want := n * share / 2; math.Abs(float64(pairs)-want) > 5*math.Sqrt(want) {
		t.Errorf("%d double hits of %d strikes, want about %g", pairs, n, want)
	}
}

// Shoves come as often as asked for, and blows come from both sides of the
// middle. Limits are five standard deviations.
func TestShovesAndSides(t *testing.T) {
	const n = 900
	r := datasettest.Rig(t)
	o := Usual(r, 0, 3)
	o.Plan = slices.Values(RandomPlan(r, n, Mix{}, 3))
	o.Striker.LeastGapS, o.Striker.MostGapS, o.Striker.ShovesPerMin = 20, 20, 1
	s, err := NewSession(o)
	if err != nil {
		t.Fatal(err)
	}
	shoves, left := 0, 0
	for p := range s.pushes() {
		switch {
		case p.shove:
			shoves++
		case p.ObliqueDeg < 0:
			left++
		}
	}
	if want := n * 20 / 60.0; math.Abs(float64(shoves)-want) > 5*math.Sqrt(want*2/3) {
		t.Errorf("%d shoves in %d pauses of 20 s, want about %g", shoves, n, want)
	}
	if math.Abs(float64(left)-n/2) > 5*math.Sqrt(n)/2 {
		t.Errorf("%d of %d blows push from one side, want about half", left, n)
	}
}
