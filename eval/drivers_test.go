package eval_test

import (
	"math"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/eval"
	"strikerose/eval/evaltest"
)

func TestHeavyLabelsHoldTheWrongOnes(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(4, 60), 1)
	wrong := map[int64]bool{}
	for _, i := range []int{7, 80} {
		turned := *d.Cases[i].Score
		turned.BearingDeg = bearing.Wrap360(turned.BearingDeg + 90)
		d.Cases[i].Score, d.Cases[i].Train = &turned, &turned
		wrong[d.Cases[i].Strike.OnsetNs] = true
	}
	c := compare(t, d, eval.Options{Seed: 1, Resamples: 100})
	if len(c.HeavyLabels) != 5 {
		t.Fatalf("%d labels, want 5", len(c.HeavyLabels))
	}
	for k, l := range c.HeavyLabels {
		if k > 0 && l.Share > c.HeavyLabels[k-1].Share {
			t.Errorf("label %d has a larger share than the one before", k)
		}
		ns := int64(math.Round(l.OnsetS * 1e9))
		// Of the four others three see the same row; the parrot sees nothing.
		if k < 2 && (!wrong[ns] || l.Against < 2 || l.Others != 4 || math.Abs(l.BearingErrDeg+90) > 20) {
			t.Errorf("%+v, want a label turned by 90 degrees with most detectors against it", l)
		}
	}
}

func TestSessionEffects(t *testing.T) {
	d := evaltest.Data(evaltest.Sessions(4, 40), 2)
	for i := range d.Cases {
		if d.Cases[i].Session == "s03" { // labelled as if the bag were turned
			turned := *d.Cases[i].Train
			turned.BearingDeg = bearing.Wrap360(turned.BearingDeg + 40)
			d.Cases[i].Train = &turned
		}
	}
	effects, skipped, err := eval.SessionEffects(t.Context(), d, pick("learner")[0], eval.Options{Seed: 1, Resamples: 200})
	if err != nil || len(skipped) != 0 || len(effects) != 4 {
		t.Fatalf("%d effects, skipped %v, error %v", len(effects), skipped, err)
	}
	if e := effects[0]; e.Session != "s03" || e.Labels != 40 || !(e.Bearing.High < 0) {
		t.Errorf("the largest effect is %+v, want that s03 harms", e)
	}
	for _, e := range effects[1:] {
		if !(e.Bearing.Value > 0) { // without a good one the turned one weighs more
			t.Errorf("%+v, want that it helps", e)
		}
	}
	if got := eval.SessionFits(d); got != 16 {
		t.Errorf("%d fits, want 16", got)
	}
	_, skipped, err = eval.SessionEffects(t.Context(), evaltest.Data(evaltest.Sessions(2, 20), 1), pick("learner")[0], eval.Options{})
	if err != nil || len(skipped) != 1 {
		t.Errorf("of two sessions: skipped %v, error %v, want why", skipped, err)
	}
}
