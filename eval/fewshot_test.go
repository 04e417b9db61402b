package eval_test

import (
	"context"
	"errors"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/models"
	"strikerose/models/modelstest"
)

// struck are cases of a simulated evening, every label turned by deg.
func struck(t *testing.T, r *rig.Rig, session string, n int, seed uint64, deg float64) []eval.Case {
	t.Helper()
	var out []eval.Case
	for _, e := range modelstest.Examples(t, r, session, n, seed) {
		target := eval.Target{BearingDeg: bearing.Wrap360(e.BearingDeg + deg), HeightM: e.HeightM}
		out = append(out, eval.Case{Session: session, Rig: r, Strike: e.Window.Strike, Row: e.Row, Window: e.Window, Train: &target, Score: &target})
	}
	return out
}

func TestBalanced(t *testing.T) {
	r := modelstest.Rig(true)
	var all []eval.Case
	for face := 1; face <= r.Faces; face++ {
		for _, band := range []float64{0.2, 0.5, 0.8} {
			for i := range 1 + face { // some faces were struck more often
				all = append(all, eval.Case{Rig: r, Session: "s", Train: &eval.Target{BearingDeg: bearing.FaceCentre(face, r.Faces), HeightM: band + float64(i)/1000}})
			}
		}
	}
	for _, c := range []struct{ k, want, aFace, aBand, aCell int }{{6, 6, 1, 2, 1}, {18, 18, 3, 6, 1}, {36, 36, 6, 12, 2}, {1000, len(all), 21, 27, 7}} {
		got := eval.Balanced(all, c.k, rand.New(rand.NewPCG(1, 1)))
		if len(got) != c.want {
			t.Fatalf("%d of %d: %d drawn", c.k, len(all), len(got))
		}
		faces, bands, cells, seen := map[int]int{}, map[string]int{}, map[string]int{}, map[*eval.Target]bool{}
		for _, x := range got {
			face, band := r.FaceOf(x.Train.BearingDeg), r.BandOf(x.Train.HeightM)
			faces[face]++
			bands[band]++
			cells[string(rune('0'+face))+band]++
			if seen[x.Train] {
				t.Fatalf("%d: a strike is drawn twice", c.k)
			}
			seen[x.Train] = true
		}
		for _, n := range faces {
			if n > c.aFace {
				t.Errorf("%d: faces %v, at most %d wanted", c.k, faces, c.aFace)
			}
		}
		for _, n := range bands {
			if n > c.aBand {
				t.Errorf("%d: bands %v, at most %d wanted", c.k, bands, c.aBand)
			}
		}
		for _, n := range cells {
			if n > c.aCell {
				t.Errorf("%d: %v, at most %d of each wanted", c.k, cells, c.aCell)
			}
		}
		if again := eval.Balanced(all, c.k, rand.New(rand.NewPCG(1, 1))); !reflect.DeepEqual(got, again) {
			t.Errorf("%d: the same seed draws others", c.k)
		}
	}
}

// A mount that is turned by 20 degrees shows without labels, and six take it
// away; the session that gave the labels is not tested; what was learned of the
// turn goes along to a moved sensor.
func TestFewShots(t *testing.T) {
	one, other := modelstest.Rig(true), *modelstest.Rig(true)
	other.Name = "other"
	moved := other
	moved.Revision, moved.Sensor.DepthM = 2, moved.Sensor.DepthM+0.02
	d := &eval.Data{}
	for _, cases := range [][]eval.Case{
		struck(t, one, "one-1", 16, 1, 0), struck(t, one, "one-2", 16, 2, 0),
		struck(t, &other, "other-1", 16, 3, 20), struck(t, &other, "other-2", 16, 4, 20),
		struck(t, &moved, "other-3", 16, 5, 20),
	} {
		d.Cases = append(d.Cases, cases...)
	}
	pendulum, _ := models.FamilyByName("pendulum")
	rows, skipped, err := eval.FewShots(t.Context(), d, []models.Family{pendulum}, eval.FewShotOptions{Labels: []int{0, 6}, Draws: 4, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]eval.Carried{}
	for _, r := range rows {
		name := r.Rig + map[int]string{0: " 0", 6: " 6"}[r.Labels]
		if r.Moved {
			name = r.Rig + " moved"
		}
		got[name] = r
	}
	if len(got) != 5 || len(skipped) != 0 {
		t.Fatalf("rows %+v, skipped %+v", rows, skipped)
	}
	if r := got["other 0"]; r.BearingMAEDeg < 15 || r.Draws != 1 {
		t.Errorf("without labels: %+v", r)
	}
	for _, name := range []string{"other 6", "other moved", "simulated 6"} {
		if r := got[name]; r.BearingMAEDeg > 3 {
			t.Errorf("%s: %+v", name, r)
		}
	}
	if r := got["other 6"]; r.Tested > 16 || r.Draws >= 4 {
		t.Errorf("the third session is the only one of its revision, and labels are not tested: %+v", r)
	}
	if r := got["other 6"]; r.HeightMAEM == nil || r.HeightWorstM == nil || r.HeightCover90 == nil {
		t.Errorf("heights are given: %+v", r)
	}
	bearings, _ := models.FamilyByName("peak-arctangent")
	if rows, _, err = eval.FewShots(t.Context(), d, []models.Family{bearings}, eval.FewShotOptions{Labels: []int{0}, Seed: 1}); err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		if r.HeightMAEM != nil || r.HeightWorstM != nil || r.HeightCover90 != nil {
			t.Errorf("a detector of bearings alone is scored by height: %+v", r)
		}
	}
	if _, _, err := eval.FewShots(t.Context(), &eval.Data{Cases: d.Cases[:10]}, []models.Family{pendulum}, eval.FewShotOptions{}); err == nil || !strings.Contains(err.Error(), "at least two rigs") {
		t.Errorf("one rig: error %v", err)
	}
}

// What gives no row is told with its reason.
func TestFewShotsTellsWhatIsLeftOut(t *testing.T) {
	one, bare := modelstest.Rig(true), modelstest.Rig(false)
	bare.Name = "bare"
	d := &eval.Data{}
	d.Cases = append(d.Cases, struck(t, one, "one-1", 16, 1, 0)...)
	d.Cases = append(d.Cases, struck(t, one, "one-2", 16, 2, 0)...)
	d.Cases = append(d.Cases, struck(t, bare, "bare-1", 8, 3, 0)...)
	var families []models.Family
	for _, name := range []string{"pendulum", "kick-direction", "complex-ridge"} {
		f, _ := models.FamilyByName(name)
		families = append(families, f)
	}
	families[2].Fit = func(context.Context, []models.Example, models.Options) (models.Detector, error) {
		return nil, errors.New("too few strikes")
	}
	_, skipped, err := eval.FewShots(t.Context(), d, families, eval.FewShotOptions{Labels: []int{0, 6}, Draws: 2, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, s := range skipped {
		got = append(got, s.Detector+": "+s.Where+": "+s.Why)
	}
	want := []string{
		"pendulum: rig bare: needs a gyroscope, and bare-r1 has none",
		"pendulum: rig " + one.Name + ": needs a gyroscope, and bare-r1 has none",
		"kick-direction: rig bare: no session of it has 6 labelled strikes and another session beside it to test on",
		"complex-ridge: rig bare: without it: too few strikes",
		"complex-ridge: rig " + one.Name + ": without it: too few strikes",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("left out (-want +got):\n%s", diff)
	}
}

func TestSimulatedExamplesAreNamedSo(t *testing.T) {
	r := modelstest.Rig(true)
	ex, err := eval.Simulated(t.Context(), r, 12, 1)
	if err != nil {
		t.Fatal(err)
	}
	if len(ex) < 9 {
		t.Errorf("%d of 12 simulated strikes were found", len(ex))
	}
	for _, e := range ex {
		if e.Session != eval.SimulatedSession || e.Rig != r || e.Window == nil {
			t.Errorf("%+v", e)
		}
	}
}
