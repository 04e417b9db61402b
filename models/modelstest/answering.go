package modelstest

import (
	"math"
	"slices"
	"sync"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/features"
	"strikerose/models"
)

func extremes(t *testing.T, f models.Family, d *data) {
	width := len(features.Columns())
	row := func(v func(i int) float64) []float64 {
		out := make([]float64, width)
		for i := range out {
			out[i] = v(i)
		}
		return out
	}
	sign := func(i int) float64 { return float64(1 - 2*(i%2)) }
	rows := map[string][]float64{
		"zeros":       row(func(int) float64 { return 0 }),
		"not numbers": row(func(int) float64 { return math.NaN() }),
		"endless":     row(func(i int) float64 { return math.Inf(int(sign(i))) }),
		"largest":     row(func(i int) float64 { return sign(i) * math.MaxFloat64 }),
		"huge":        row(func(i int) float64 { return sign(i) * 1e8 }),
		"tiny":        row(func(i int) float64 { return sign(i) * 1e-300 }),
		"all clipped": row(func(i int) float64 { return sign(i/2) * 16 * 9.80665 }),
	}
	for _, ex := range [][]models.Example{d.gyro, d.accel} {
		det := d.fitted(t, f, ex)
		for name, r := range rows {
			e := det.Estimate(models.Input{Row: r, Rig: ex[0].Rig})
			sound(t, name, e, ex[0].Rig.Bag.LengthM)
			if !e.Unsure && (name == "zeros" || name == "not numbers" || name == "endless" || name == "largest" || name == "tiny") {
				t.Errorf("%s: not marked unsure: %+v", name, e)
			}
		}
	}
}

func noGyroscope(t *testing.T, f models.Family, d *data) {
	if f.NeedsGyro {
		t.Skip("needs a gyroscope and says so")
	}
	det := d.fitted(t, f, d.accel)
	for i, e := range d.accel {
		got := det.Estimate(e.Input)
		sound(t, "without gyroscope", got, e.Rig.Bag.LengthM)
		if got.BearingHalf90Deg == 180 && got.BearingSDDeg >= 100 && f.Kind == models.Fitted {
			t.Errorf("strike %d: gives up: %+v", i, got)
		}
	}
}

// gyroscopeLost asks a detector that was trained with a gyroscope without one.
func gyroscopeLost(t *testing.T, f models.Family, d *data) {
	det := d.fitted(t, f, d.gyro)
	uses := det.Info().UsesGyro
	for _, e := range d.accel {
		got := det.Estimate(e.Input)
		sound(t, "gyroscope lost", got, e.Rig.Bag.LengthM)
		if uses && f.Kind == models.Fitted && !got.Unsure {
			t.Errorf("answers as surely without the gyroscope that it was trained with: %+v", got)
			return
		}
	}
}

// mirrored is the row of the mirror image.
func mirrored(row features.Row) features.Row {
	out := slices.Clone(row)
	defs := features.All()
	for i, c := range features.Columns() {
		d := defs[c.Def]
		if d.Vector && c.Name == d.Name+"_x" || d.Odd {
			out[i] = -out[i]
		}
	}
	return out
}

// mirroredWindow is the window of the mirror image: what points toward bearing
// 90 points toward 270, and what turns clockwise turns the other way.
func mirroredWindow(w *dataset.Window) *dataset.Window {
	out := *w
	negative := func(x []float64) []float64 {
		y := make([]float64, len(x))
		for i, v := range x {
			y[i] = -v
		}
		return y
	}
	out.A[0] = negative(w.A[0])
	if w.HasGyro() { // an axial vector: the part across the mirror stays
		out.G[1], out.G[2] = negative(w.G[1]), negative(w.G[2])
	}
	return &out
}

// cut ends a window so many milliseconds after its onset.
func cut(w *dataset.Window, ms float64) *dataset.Window {
	out := *w
	n := w.Pre + int(math.Ceil(ms*w.RateHz/1000-1e-9))
	for k := range 3 {
		out.A[k] = w.A[k][:n]
		if w.HasGyro() {
			out.G[k] = w.G[k][:n]
		}
	}
	return &out
}

func mirror(t *testing.T, f models.Family, d *data) {
	for _, ex := range [][]models.Example{d.gyro, d.accel} {
		det := d.fitted(t, f, ex)
		yaw, _ := det.(*models.Model).YawDeg(ex[0].Rig.Key())
		for i, e := range ex {
			a := det.Estimate(e.Input)
			b := det.Estimate(models.Input{Row: mirrored(e.Row), Rig: e.Rig, Window: mirroredWindow(e.Window)})
			if off := bearing.Diff(a.BearingDeg-yaw, yaw-b.BearingDeg); math.Abs(off) > 1e-6 || math.Abs(a.HeightM-b.HeightM) > 1e-9 {
				t.Fatalf("strike %d: bearing %.6f and height %.6f, mirrored %.6f and %.6f about yaw %.6f", i, a.BearingDeg, a.HeightM, b.BearingDeg, b.HeightM, yaw)
			}
		}
	}
}

// wait blanks every feature that ends after the declared wait.
func wait(t *testing.T, f models.Family, d *data) {
	det := d.fitted(t, f, d.gyro)
	defs := features.All()
	for i, e := range d.gyro {
		row := slices.Clone(e.Row)
		for c, col := range features.Columns() {
			if defs[col.Def].ToMs > det.Info().Wait(true) {
				row[c] = math.NaN()
			}
		}
		if a, b := det.Estimate(e.Input), det.Estimate(models.Input{Row: row, Rig: e.Rig, Window: cut(e.Window, det.Info().Wait(true))}); a != b {
			t.Fatalf("strike %d: uses what lies beyond its %g ms: %+v and %+v", i, det.Info().Wait(true), a, b)
		}
	}
}

func concurrent(t *testing.T, f models.Family, d *data) {
	det := d.fitted(t, f, d.gyro)
	want := make([]models.Estimate, len(d.gyro))
	got := make([]models.Estimate, len(d.gyro))
	fresh := mustFit(t, f, d.gyro)
	for i, e := range d.gyro {
		want[i] = det.Estimate(e.Input)
	}
	var wg sync.WaitGroup
	for i, e := range d.gyro {
		wg.Go(func() { got[i] = fresh.Estimate(e.Input) })
	}
	wg.Wait()
	if !slices.Equal(got, want) {
		t.Error("answers asked for at once differ from answers one by one")
	}
}

func turnedRecording(t *testing.T, f models.Family, d *data) {
	det := d.fitted(t, f, d.gyro)
	r := Rig(true)
	sig, _ := Evening(r, 8, 77)
	plain, err := models.Apply(t.Context(), det, r, sig)
	if err != nil {
		t.Fatal(err)
	}
	if len(plain) < 6 {
		t.Fatalf("found %d strikes of 8", len(plain))
	}
	for _, deg := range []float64{60, -117.3} {
		turned, err := models.Apply(t.Context(), det, r, Turned(sig, deg))
		if err != nil {
			t.Fatal(err)
		}
		if len(turned) != len(plain) {
			t.Fatalf("turned by %g deg: %d strikes instead of %d", deg, len(turned), len(plain))
		}
		for i := range plain {
			if off := bearing.Diff(turned[i].BearingDeg-plain[i].BearingDeg, deg); math.Abs(off) > 0.02 || math.Abs(turned[i].HeightM-plain[i].HeightM) > 1e-3 {
				t.Errorf("strike %d, turned by %g deg: bearing %.3f became %.3f, height %.4f became %.4f", i+1, deg,
					plain[i].BearingDeg, turned[i].BearingDeg, plain[i].HeightM, turned[i].HeightM)
			}
		}
	}
}

func cutAfterReady(t *testing.T, f models.Family, d *data) {
	det := d.fitted(t, f, d.gyro)
	r := Rig(true)
	sig, _ := Evening(r, 5, 78)
	whole, err := models.Apply(t.Context(), det, r, sig)
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range whole {
		n, _ := slices.BinarySearch(sig.TNs, row.ReadyNs)
		cut := sig.Slice(0, min(n+1, sig.Len()))
		got, err := models.Apply(t.Context(), det, r, &cut)
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != i+1 || got[i].Estimate != row.Estimate || got[i].OnsetNs != row.OnsetNs || got[i].ReadyNs != row.ReadyNs {
			t.Fatalf("strike %d: cut just after ready gives %d strikes, the last %+v; whole gave %+v", i+1, len(got), got[len(got)-1], row)
		}
		if waited := float64(row.ReadyNs-row.OnsetNs) / 1e6; waited > 75 {
			t.Errorf("strike %d: ready %.1f ms after its onset", i+1, waited)
		}
	}
}
