package tune_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"strikerose/eval"
	"strikerose/eval/tune"
	"strikerose/features"
	"strikerose/models"
	"strikerose/models/modelstest"
)

// evenings are three simulated sessions on one rig.
func evenings(t *testing.T, gyro bool) []models.Example {
	t.Helper()
	r := modelstest.Rig(gyro)
	var out []models.Example
	for i, name := range []string{"a", "b", "c"} {
		out = append(out, modelstest.Examples(t, r, name, 40, uint64(10+i))...)
	}
	return out
}

func family(t *testing.T, name string) models.Family {
	t.Helper()
	f, ok := models.FamilyByName(name)
	if !ok {
		t.Fatalf("no family %s", name)
	}
	return f
}

func TestSearch(t *testing.T) {
	ex := evenings(t, true)
	f := family(t, "k-nearest")
	got, err := tune.Search(t.Context(), ex, f, tune.Options{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	tried := []float64{f.Settings[0].Usual}
	for _, v := range f.Settings[0].Try {
		if v != tried[0] {
			tried = append(tried, v)
		}
	}
	var have []float64
	for _, trial := range got.Trials {
		have = append(have, trial.Settings["neighbours"])
	}
	if !slices.Equal(have, tried) {
		t.Errorf("tried %v, want %v", have, tried)
	}
	if got.Sessions != 3 || len(got.Chosen) != 3 || got.Tuned.Criterion.N != len(ex) {
		t.Errorf("%d sessions, %d searches, %d strikes scored; want 3, 3 and %d", got.Sessions, len(got.Chosen), got.Tuned.Criterion.N, len(ex))
	}
	for _, trial := range got.Trials {
		if trial.Failed == "" && trial.Criterion < 0.98*got.Trials[got.Best].Criterion {
			t.Errorf("%v has %.3f, and %v with %.3f was taken", trial.Settings, trial.Criterion, got.Settings(), got.Trials[got.Best].Criterion)
		}
	}
	gain := got.Usual.Criterion.Value - got.Tuned.Criterion.Value
	if d := gain - got.Gain.Criterion.Value; d > 1e-12 || d < -1e-12 {
		t.Errorf("the gain is %g, not the difference %g", got.Gain.Criterion.Value, gain)
	}
	again, err := tune.Search(t.Context(), ex, f, tune.Options{Workers: 1})
	if err != nil || !reflect.DeepEqual(again.Tuned, got.Tuned) {
		t.Errorf("one worker finds %+v (%v), two %+v", again.Tuned, err, got.Tuned)
	}
}

// What a search without a session chooses must not depend on that session's labels.
func TestSearchDoesNotSeeWhatItIsScoredOn(t *testing.T) {
	ex := evenings(t, true)
	f := family(t, "k-nearest")
	before, err := tune.Search(t.Context(), ex, f, tune.Options{})
	if err != nil {
		t.Fatal(err)
	}
	spoilt := slices.Clone(ex)
	for i := range spoilt {
		if spoilt[i].Session == "a" {
			spoilt[i].BearingDeg, spoilt[i].HeightM = float64(i*37%360), 0.9
		}
	}
	after, err := tune.Search(t.Context(), spoilt, f, tune.Options{})
	if err != nil {
		t.Fatal(err)
	}
	held := 0 // the fold that holds session a back is the one that stays
	for k := range before.Chosen {
		if reflect.DeepEqual(before.Chosen[k], after.Chosen[k]) {
			held++
		}
	}
	if held == 0 {
		t.Errorf("chosen %v before and %v after session a was spoilt: no search did without it", before.Chosen, after.Chosen)
	}
	if after.Tuned.Criterion.Value < 2*before.Tuned.Criterion.Value {
		t.Errorf("labels of chance are met with %.3f, honest ones with %.3f", after.Tuned.Criterion.Value, before.Tuned.Criterion.Value)
	}
}

func TestSearchRefuses(t *testing.T) {
	ex := evenings(t, true)
	one := ex[:len(modelstest.Examples(t, modelstest.Rig(true), "a", 40, 10))]
	for _, c := range []struct {
		name, family string
		ex           []models.Example
		fit          models.Options
		want         string
	}{
		{"no labels", "cart", nil, models.Options{}, "no labelled strikes"},
		{"one session", "cart", one, models.Options{}, "at least two sessions"},
		{"a rule", "peak-arctangent", ex, models.Options{}, "no setting"},
		{"all given", "k-nearest", ex, models.Options{Settings: map[string]float64{"neighbours": 5}}, "no setting"},
		{"too short a wait", "k-nearest", ex, models.Options{WithinMs: 3}, "cannot answer within 3 ms"},
	} {
		if _, err := tune.Search(t.Context(), c.ex, family(t, c.family), tune.Options{Fit: c.fit}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one about %q", c.name, err, c.want)
		}
	}
}

// The direction of the kick with a gyroscope is made of centre_kick, oblique and
// lever; the kick itself is read and not used.
func TestImportance(t *testing.T) {
	ex := evenings(t, true)
	got, err := tune.Importance(t.Context(), ex, family(t, "kick-direction"), tune.Options{})
	if err != nil {
		t.Fatal(err)
	}
	worth := map[string]tune.Errors{}
	var names []string
	for _, w := range got {
		worth[w.Name] = w.Rise
		names = append(names, w.Name)
	}
	if want := []string{"kick", "tip", "twist"}; !slices.Equal(names, want) {
		t.Fatalf("groups %v, want %v", names, want)
	}
	if v := worth["kick"]; v.BearingMAEDeg.Value != 0 || v.HeightMAEM.Value != 0 {
		t.Errorf("the kick, which is not used, is worth %+v", v)
	}
	if v := worth["twist"]; !(v.BearingMAEDeg.Low > 0) || v.HeightMAEM.Value != 0 {
		t.Errorf("the twist is worth %.2f (from %.2f) degrees and %g m, want some degrees and no height", v.BearingMAEDeg.Value, v.BearingMAEDeg.Low, v.HeightMAEM.Value)
	}
	if v := worth["tip"]; !(v.HeightMAEM.Low > 0.02) {
		t.Errorf("the tip is worth %.3f m (from %.3f), want some centimetres", v.HeightMAEM.Value, v.HeightMAEM.Low)
	}
	// Turned along, another strike's tip still points about the right way.
	if v := worth["tip"]; !(v.BearingMAEDeg.Value < 20) {
		t.Errorf("the tip is worth %.1f degrees, want no more than what it tells beyond the rough direction", v.BearingMAEDeg.Value)
	}
	if _, err := tune.Importance(t.Context(), ex, family(t, "physics"), tune.Options{}); err == nil || !strings.Contains(err.Error(), "not features") {
		t.Errorf("error %v, want one that physics reads no features", err)
	}
}

func TestThin(t *testing.T) {
	ex := evenings(t, true)
	path, err := tune.Thin(t.Context(), ex, family(t, "pendulum"), tune.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(path) < 4 || path[0].Dropped != "" {
		t.Fatalf("%d steps, the first without %q; want several from all features on", len(path), path[0].Dropped)
	}
	for k := 1; k < len(path); k++ {
		if s, last := path[k], path[k-1]; s.Dropped == "" || len(s.Features) >= len(last.Features) || s.Cost.Macs >= last.Cost.Macs || s.Cost.Numbers >= last.Cost.Numbers {
			t.Errorf("step %d without %q: %d features for %+v after %d for %+v", k, s.Dropped, len(s.Features), s.Cost, len(last.Features), last.Cost)
		}
	}
	first, last := path[0].Errors, path[len(path)-1].Errors
	if !(first.Criterion.Value < last.Criterion.Value) {
		t.Errorf("the criterion is %.3f with all features and %.3f with the fewest", first.Criterion.Value, last.Criterion.Value)
	}
	if k, err := tune.Within(path, tune.Cost{}); err != nil || path[k].Errors.Criterion.Value > first.Criterion.Value {
		t.Errorf("without a bound step %d is taken (%v)", k, err)
	}
	if k, err := tune.Within(path, tune.Cost{Macs: path[2].Cost.Macs}); err != nil || k < 2 {
		t.Errorf("within what step 2 costs, step %d is taken (%v)", k, err)
	}
	if _, err := tune.Within(path, tune.Cost{Macs: 1}); err == nil {
		t.Error("one operation is enough")
	}
}

// Every feature belongs to one group and one part.
func TestGroups(t *testing.T) {
	names := allFeatures()
	for what, parts := range map[string][]tune.Group{"groups": tune.Groups(names), "parts": tune.Parts(names)} {
		var all []string
		for _, g := range parts {
			if g.Name == "" || g.Doc == "" {
				t.Errorf("%s: %+v lacks words", what, g)
			}
			all = append(all, g.Features...)
		}
		slices.Sort(all)
		want := slices.Sorted(slices.Values(names))
		if !slices.Equal(all, want) {
			t.Errorf("%s hold %v, want %v", what, all, want)
		}
	}
}

func allFeatures() []string {
	var names []string
	for _, d := range features.All() {
		names = append(names, d.Name)
	}
	return names
}

func TestMeanHasAnInterval(t *testing.T) {
	values, sessions := make([]float64, 200), make([]string, 200)
	for i := range values {
		values[i], sessions[i] = float64(i%7), "s"
	}
	if f := eval.Mean(values, sessions, 1, "x"); f.N != 200 || !(f.Low < f.Value && f.Value < f.High) {
		t.Errorf("mean %+v", f)
	}
}
