package modelstest

import (
	"bytes"
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"strikerose/dataset/bearing"
	"strikerose/features"
	"strikerose/models"
)

func mustFit(t *testing.T, f models.Family, ex []models.Example) models.Detector {
	t.Helper()
	d, err := f.Fit(t.Context(), ex, models.Options{Seed: 1})
	if err != nil {
		t.Fatalf("%s: fit of %d examples: %v", f.Name, len(ex), err)
	}
	return d
}

func bytesOf(t *testing.T, d models.Detector) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := models.Save(&b, d, models.Training{Seed: 1, Sessions: []string{"monday"}, Truth: "timed"}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func copied(ex []models.Example) []models.Example {
	out := slices.Clone(ex)
	for i := range out {
		out[i].Row = slices.Clone(out[i].Row)
	}
	return out
}

// sound fails unless an estimate is within what is promised of every one.
func sound(t *testing.T, what string, e models.Estimate, lengthM float64) {
	t.Helper()
	ok := e.BearingDeg >= 0 && e.BearingDeg < 360 && e.HeightM >= 0 && e.HeightM <= lengthM &&
		e.BearingSDDeg > 0 && !math.IsInf(e.BearingSDDeg, 0) && e.BearingHalf90Deg > 0 && e.BearingHalf90Deg <= 180 &&
		e.HeightSDM > 0 && !math.IsInf(e.HeightSDM, 0) && e.HeightHalf90M > 0 && !math.IsInf(e.HeightHalf90M, 0)
	if !ok {
		t.Errorf("%s: estimate %+v is not sound", what, e)
	}
}

func noExamples(t *testing.T, f models.Family, _ *data) {
	d, err := f.Fit(t.Context(), nil, models.Options{Seed: 1})
	if f.Kind == models.Fitted {
		if err == nil || !strings.Contains(err.Error(), f.Name) || !strings.Contains(err.Error(), "label") {
			t.Errorf("fit of nothing: error %v; want one that names %s and asks for labels", err, f.Name)
		}
		return
	}
	if err != nil {
		t.Fatalf("a rule needs no labels: %v", err)
	}
	if d.Info().Calibrated {
		t.Error("says that its certainty was measured, without labels")
	}
	r := Rig(true)
	sound(t, "untrained", d.Estimate(models.Input{Row: make([]float64, len(features.Columns())), Rig: r}), r.Bag.LengthM)
}

func faultyExamples(t *testing.T, f models.Family, d *data) {
	for _, c := range []struct {
		name, want string
		spoil      func(*models.Example)
	}{
		{"bearing not a number", "bearing", func(e *models.Example) { e.BearingDeg = math.NaN() }},
		{"endless height", "height", func(e *models.Example) { e.HeightM = math.Inf(1) }},
		{"no rig", "rig", func(e *models.Example) { e.Rig = nil }},
		{"short row", "features", func(e *models.Example) { e.Row = e.Row[:3] }},
		{"negative uncertainty", "uncertaint", func(e *models.Example) { e.BearingSDDeg = -1 }},
	} {
		ex := copied(d.gyro)
		c.spoil(&ex[5])
		if _, err := f.Fit(t.Context(), ex, models.Options{Seed: 1}); err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "example 6") {
			t.Errorf("%s: error %v; want one about %q of example 6", c.name, err, c.want)
		}
	}
}

func oneExample(t *testing.T, f models.Family, d *data) {
	det := d.fitted(t, f, d.gyro[:1])
	if det.Info().Calibrated {
		t.Error("says that its certainty was measured on one strike")
	}
	for _, e := range d.gyro {
		sound(t, "trained on one", det.Estimate(e.Input), e.Rig.Bag.LengthM)
	}
}

func oneSession(t *testing.T, f models.Family, d *data) {
	var ex []models.Example
	for _, e := range d.gyro {
		if e.Session == d.gyro[0].Session {
			ex = append(ex, e)
		}
	}
	det := mustFit(t, f, ex)
	if !det.Info().Calibrated {
		t.Errorf("certainty not measured with %d strikes of one session", len(ex))
	}
	for _, e := range d.gyro {
		sound(t, "trained on one session", det.Estimate(e.Input), e.Rig.Bag.LengthM)
	}
}

// refit trains on one processor and on two: neither chance nor which worker was
// faster may show.
func refit(t *testing.T, f models.Family, d *data) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for _, ex := range [][]models.Example{d.gyro, d.accel} {
		runtime.GOMAXPROCS(1)
		one := bytesOf(t, mustFit(t, f, ex))
		runtime.GOMAXPROCS(2)
		if diff := cmp.Diff(string(one), string(bytesOf(t, mustFit(t, f, ex)))); diff != "" {
			t.Errorf("fits of the same examples on one processor and on two differ:\n%s", diff)
		}
	}
}

func inputsUntouched(t *testing.T, f models.Family, d *data) {
	ex, before := copied(d.gyro), copied(d.gyro)
	det := mustFit(t, f, ex)
	for _, e := range ex {
		det.Estimate(e.Input)
	}
	for i := range ex {
		if !slices.Equal(bits(ex[i].Row), bits(before[i].Row)) || ex[i].Session != before[i].Session || ex[i].BearingDeg != before[i].BearingDeg || ex[i].HeightM != before[i].HeightM {
			t.Fatalf("example %d was changed", i)
		}
	}
}

func bits(x []float64) []uint64 {
	out := make([]uint64, len(x))
	for i, v := range x {
		out[i] = math.Float64bits(v)
	}
	return out
}

func orderOfRows(t *testing.T, f models.Family, d *data) {
	ex := slices.Clone(d.gyro)
	rand.New(rand.NewPCG(5, 5)).Shuffle(len(ex), func(i, j int) { ex[i], ex[j] = ex[j], ex[i] })
	if !bytes.Equal(bytesOf(t, mustFit(t, f, ex)), bytesOf(t, d.fitted(t, f, d.gyro))) {
		t.Error("the order of the examples changed the detector")
	}
}

func saveAndLoad(t *testing.T, f models.Family, d *data) {
	for _, ex := range [][]models.Example{d.gyro, d.accel, d.gyro[:1]} {
		det := d.fitted(t, f, ex)
		data := bytesOf(t, det)
		file, err := models.Load(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(det.Info(), file.Detector.Info()); diff != "" {
			t.Errorf("loaded detector's description (-saved +loaded):\n%s", diff)
		}
		if !slices.Equal(file.Rigs, []string{ex[0].Rig.Key()}) || file.Training.Truth != "timed" {
			t.Errorf("loaded file says rigs %v and truth %q", file.Rigs, file.Training.Truth)
		}
		if !bytes.Equal(bytesOf(t, file.Detector), data) {
			t.Error("saving the loaded detector gives other bytes")
		}
		for i, e := range append(slices.Clone(d.gyro), d.accel...) {
			if a, b := det.Estimate(e.Input), file.Detector.Estimate(e.Input); a != b {
				t.Fatalf("strike %d: loaded detector says %+v, saved one %+v", i, b, a)
			}
		}
	}
}

func cancelled(t *testing.T, f models.Family, d *data) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := f.Fit(ctx, d.accel, models.Options{Seed: 1}); err != nil && !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled fit: error %v; want the context's", err)
	} else if err == nil && f.Kind == models.Fitted {
		t.Error("a cancelled fit gave a detector")
	}
}

// meanError trains on all sessions but the last and scores that one.
func meanError(t *testing.T, f models.Family, train, test []models.Example) (bearingDeg, heightM float64) {
	t.Helper()
	det := mustFit(t, f, train)
	for _, e := range test {
		got := det.Estimate(e.Input)
		bearingDeg += math.Abs(bearing.Diff(got.BearingDeg, e.BearingDeg)) / float64(len(test))
		heightM += math.Abs(got.HeightM-e.HeightM) / float64(len(test))
	}
	return bearingDeg, heightM
}

func split(ex []models.Example) (train, test []models.Example) {
	last := ex[len(ex)-1].Session
	for _, e := range ex {
		if e.Session == last {
			test = append(test, e)
		} else {
			train = append(train, e)
		}
	}
	return train, test
}

// shuffled gives every strike another one's label.
func shuffled(ex []models.Example) []models.Example {
	out := copied(ex)
	for i, p := range rand.New(rand.NewPCG(9, 9)).Perm(len(ex)) {
		out[i].BearingDeg, out[i].HeightM = ex[p].BearingDeg, ex[p].HeightM
	}
	return out
}

// shuffledLabels uses strikes without gyroscope, of which labels alone teach
// what they mean: with one, weights that follow from the rig file go on
// answering well whatever the labels say.
func shuffledLabels(t *testing.T, f models.Family, d *data) {
	train, test := split(d.accel)
	good, goodH := meanError(t, f, train, test)
	bad, badH := meanError(t, f, shuffled(train), test)
	t.Logf("bearing %.1f deg, with shuffled labels %.1f; height %.3f m, %.3f", good, bad, goodH, badH)
	if good > 45 || bad < 60 || badH < 1.3*goodH {
		t.Errorf("bearing error %.1f deg and height error %.3f m; with shuffled labels %.1f and %.3f: want a collapse", good, goodH, bad, badH)
	}
}

func certaintySeesShuffled(t *testing.T, f models.Family, d *data) {
	good, bad := d.fitted(t, f, d.gyro), mustFit(t, f, shuffled(d.gyro))
	var a, b float64
	for _, e := range d.gyro {
		a += good.Estimate(e.Input).BearingHalf90Deg / float64(len(d.gyro))
		b += bad.Estimate(e.Input).BearingHalf90Deg / float64(len(d.gyro))
	}
	t.Logf("mean half-width %.1f deg, with shuffled labels %.1f", a, b)
	if b < 100 || b < 1.1*a {
		t.Errorf("states %.1f deg with true labels and %.1f with shuffled ones: want a confession", a, b)
	}
}
