package models_test

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/models"
	"strikerose/models/modelstest"
)

// On a stiff bag the rig's own weights need no labels: the direction comes
// out, and the height larger by the factor that real bags need.
func TestOwnWeights(t *testing.T) {
	for _, depth := range []float64{0.06, 0.2, 0.45, 0.7} {
		r := modelstest.Rig(true)
		r.Sensor.DepthM = depth
		ex := modelstest.Examples(t, r, "monday", 30, 8)
		for i := range ex { // aims: the weights stay the rig's own
			ex[i].BearingSDDeg = 8
		}
		f, _ := models.FamilyByName("complex-ridge")
		d, err := f.Fit(t.Context(), ex, models.Options{Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		c := d.(*models.Model).Parameters().(*models.ComplexRidge)
		if c.Form != models.FormOwn {
			t.Fatalf("form %q with labels that are aims", c.Form)
		}
		const give = 1.08
		centre := models.ConstantsOf(r).CentreHeightM()
		var missB, missH float64
		for _, e := range ex {
			got := d.Estimate(e.Input)
			missB += math.Abs(bearing.Diff(got.BearingDeg, e.BearingDeg)) / float64(len(ex))
			missH += math.Abs((got.HeightM-centre)/give+centre-e.HeightM) / float64(len(ex))
		}
		t.Logf("sensor at %.2f m: bearing %.2f deg, height %.4f m", depth, missB, missH)
		if missB > 1.5 || missH > 0.012 {
			t.Errorf("sensor at %.2f m: bearing missed by %.2f deg, height by %.3f m", depth, missB, missH)
		}
	}
}

// Every answer is the kernel-weighted mean of the nearest as a plain search finds
// them.
func TestNearestFindsTheNearest(t *testing.T) {
	ex := append(modelstest.Examples(t, modelstest.Rig(true), "monday", 30, 4), modelstest.Examples(t, modelstest.Rig(true), "friday", 30, 5)...)
	f, _ := models.FamilyByName("k-nearest")
	d, err := f.Fit(t.Context(), ex, models.Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	n := d.(*models.Model).Parameters().(*models.Nearest)
	own := n.OwnRatio(ex[0].Rig)
	for i, m := range n.Memory {
		type near struct{ d, rise float64 }
		var all []near
		for _, o := range n.Memory {
			var sum float64
			for i := range o.At {
				sum += (o.At[i] - m.At[i]) * (o.At[i] - m.At[i])
			}
			all = append(all, near{math.Sqrt(sum), o.RiseM})
		}
		slices.SortStableFunc(all, func(a, b near) int { return cmp.Compare(a.d, b.d) })
		var rise, total float64
		band := all[n.Neighbours].d
		for _, o := range all[:n.Neighbours] {
			w := math.Pow(1-math.Pow(o.d/band, 3), 3)
			rise, total = rise+w*o.rise, total+w
		}
		// The strike whose aligned features these are:
		found := false
		for _, e := range ex {
			_, first, _ := own.Answer(e.Row)
			want := math.Min(math.Max(first+rise/total, 0), 1)
			if math.Abs(d.Estimate(e.Input).HeightM-want) < 1e-9 {
				found = true
				break
			}
		}
		if !found {
			t.Fatalf("no strike is answered with the mean rise %.4f of the %d nearest of strike %d", rise/total, n.Neighbours, i)
		}
	}
}

// Two revisions of a rig with mounts turned differently agree once pooled.
func TestYawPerRevision(t *testing.T) {
	one, two := modelstest.Rig(true), modelstest.Rig(true)
	two.Revision = 2
	ex := modelstest.Examples(t, one, "monday", 30, 4)
	for _, e := range modelstest.Examples(t, two, "friday", 30, 5) {
		e.BearingDeg = bearing.Wrap360(e.BearingDeg + 12)
		ex = append(ex, e)
	}
	for _, f := range models.Families() {
		d, err := f.Fit(t.Context(), ex, models.Options{Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		a, ok1 := d.(*models.Model).YawDeg("simulated-r1")
		b, ok2 := d.(*models.Model).YawDeg("simulated-r2")
		limit := 2.0
		if f.Kind == models.Rule && f.Name != "kick-direction" {
			limit = 10 // flips: fewer strikes count
		}
		if !ok1 || !ok2 || math.Abs(b-a-12) > limit {
			t.Errorf("%s: yaw %.2f and %.2f, want 12 apart", f.Name, a, b)
		}
		if yaw, known := d.(*models.Model).YawDeg("simulated-r3"); known || yaw != 0 {
			t.Errorf("%s: knows a revision without labels", f.Name)
		}
		in := ex[0].Input
		third := *one
		third.Revision = 3
		in.Rig = &third
		if known, unknown := d.Estimate(ex[0].Input), d.Estimate(in); unknown.BearingHalf90Deg <= known.BearingHalf90Deg && known.BearingHalf90Deg < 180 {
			t.Errorf("%s: as sure on a rig whose mount was not learned: %g and %g", f.Name, unknown.BearingHalf90Deg, known.BearingHalf90Deg)
		}
	}
}

// Stated intervals hold on sessions that training has not seen. One training's
// intervals are those of its few sessions, so two are counted together.
func TestIntervalsHold(t *testing.T) {
	if testing.Short() {
		t.Skip("long, and starts nothing at once")
	}
	const trainings = 2
	var train, test [trainings][]models.Example
	n := 0
	for k := range trainings {
		for i := range 4 {
			seed := uint64(1000*k + i)
			train[k] = append(train[k], modelstest.Examples(t, modelstest.Rig(true), string(rune('a'+i)), 24, seed+20)...)
			test[k] = append(test[k], modelstest.Examples(t, modelstest.Rig(true), string(rune('p'+i)), 24, seed+40)...)
		}
		n += len(test[k])
	}
	for _, f := range models.Families() {
		var b, h float64
		for k := range trainings {
			d, err := f.Fit(t.Context(), train[k], models.Options{Seed: 1})
			if err != nil {
				t.Fatal(err)
			}
			for _, e := range test[k] {
				got := d.Estimate(e.Input)
				if math.Abs(bearing.Diff(got.BearingDeg, e.BearingDeg)) <= got.BearingHalf90Deg {
					b += 1 / float64(n)
				}
				if math.Abs(got.HeightM-e.HeightM) <= got.HeightHalf90M {
					h += 1 / float64(n)
				}
			}
		}
		t.Logf("%s: %.0f %% of bearings, %.0f %% of heights", f.Name, 100*b, 100*h)
		if b < 0.8 || h < 0.8 {
			t.Errorf("%s: intervals of 90 %% hold %.0f %% of bearings and %.0f %% of heights", f.Name, 100*b, 100*h)
		}
	}
}

// With a gyroscope, labels that say where a blow was aimed do not teach trees to
// answer with the aim.
func TestAimsTeachNoSplits(t *testing.T) {
	landed := modelstest.Examples(t, modelstest.Rig(true), "monday", 40, 6)
	aimed := slices.Clone(landed)
	for i := range aimed {
		e := &aimed[i]
		e.BearingDeg = bearing.FaceCentre(e.Rig.FaceOf(e.BearingDeg), e.Rig.Faces)
		e.BearingSDDeg, e.HeightSDM = 8, 0.04
	}
	for _, name := range []string{"forest", "boosted-trees"} {
		f, _ := models.FamilyByName(name)
		for form, ex := range map[string][]models.Example{"trees": landed, "no splits": aimed} {
			d, err := f.Fit(t.Context(), ex, models.Options{Seed: 1})
			if err != nil {
				t.Fatal(err)
			}
			if got := d.(*models.Model).Scores[0].Form; got != form {
				t.Errorf("%s: form %q, want %q", name, got, form)
			}
			off := 0.0
			for _, e := range landed {
				off += math.Abs(bearing.Diff(d.Estimate(e.Input).BearingDeg, e.BearingDeg)) / float64(len(landed))
			}
			if off > 4 { // aims lie 15 degrees off on average
				t.Errorf("%s, %s: %.1f degrees from where the blows landed", name, form, off)
			}
		}
	}
}

func TestInfoIsWhole(t *testing.T) {
	seen := map[string]bool{}
	rules := true
	for _, f := range models.Families() {
		if f.Name == "" || seen[f.Name] || f.Doc == "" || len(f.Gives) == 0 || f.Cost.Macs == 0 || f.Cost.Numbers == 0 || f.Board == (f.NotBoard != "") {
			t.Errorf("description of %q is not whole: %+v", f.Name, f.Info)
		}
		if f.Kind == models.Rule && !rules {
			t.Errorf("rule %q comes after a fitted detector", f.Name)
		}
		rules = f.Kind == models.Rule
		seen[f.Name] = true
		if f.Wait(true) > 75 {
			t.Errorf("%s waits %g ms", f.Name, f.Wait(true))
		}
		d, err := f.Fit(t.Context(), modelstest.Examples(t, modelstest.Rig(true), "monday", 24, 3), models.Options{Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		for _, gyro := range []bool{true, false} {
			if d.Info().Wait(gyro) > f.Wait(gyro) {
				t.Errorf("%s: fitted detector waits %g ms, its family says %g (gyroscope: %t)", f.Name, d.Info().Wait(gyro), f.Wait(gyro), gyro)
			}
		}
	}
}

// Apply marks what the window and the detector say.
func TestApplyFlags(t *testing.T) {
	r := modelstest.Rig(true)
	ex := modelstest.Examples(t, r, "monday", 24, 3)
	f, _ := models.FamilyByName("complex-ridge")
	d, err := f.Fit(t.Context(), ex, models.Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	r.Sensor.AccelRangeG = 6
	sig, blows := modelstest.Evening(r, 6, 11)
	for k := range 3 {
		for i, v := range sig.A[k] {
			sig.A[k][i] = max(min(v, 6*9.80665), -6*9.80665)
		}
	}
	// The board restarts just after the third strike's contact.
	for i := range sig.Segment {
		if float64(sig.TNs[i])/1e9 > blows[2].AtS+0.03 {
			sig.Segment[i] = 1
		}
	}
	rows, err := models.Apply(t.Context(), d, r, sig)
	if err != nil {
		t.Fatal(err)
	}
	var clipped, near int
	for _, row := range rows {
		if slices.Contains(row.Flags, models.FlagClipped) {
			clipped++
		}
		if slices.Contains(row.Flags, models.FlagNearGap) {
			near++
			if math.Abs(float64(row.OnsetNs)/1e9-blows[2].AtS) > 0.03 {
				t.Errorf("near-gap strike at %.3f s, the gap follows the one at %.3f", float64(row.OnsetNs)/1e9, blows[2].AtS)
			}
		}
		if row.Face != r.FaceOf(row.BearingDeg) || row.PeakMPS2 <= 0 {
			t.Errorf("row %+v", row)
		}
		if row.Unsure != slices.Contains(row.Flags, models.FlagUnsure) {
			t.Errorf("unsure %v with flags %v", row.Unsure, row.Flags)
		}
	}
	if len(rows) < 5 || clipped == 0 || near != 1 {
		t.Errorf("%d strikes, %d clipped, %d near the gap", len(rows), clipped, near)
	}
}

// Turning the bag by a face turns the row and so the answer: the core of the
// aligned frame, on rows.
func TestTurnedRows(t *testing.T) {
	ex := modelstest.Examples(t, modelstest.Rig(true), "monday", 24, 3)
	defs := features.All()
	for _, f := range models.Families() {
		d, err := f.Fit(t.Context(), ex, models.Options{Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range ex {
			row := slices.Clone(e.Row)
			u := bearing.Unit(77)
			for i, c := range features.Columns() {
				if dn := defs[c.Def]; dn.Vector && c.Name == dn.Name+"_x" {
					z := complex(row[i+1], row[i]) * u
					row[i], row[i+1] = imag(z), real(z)
				}
			}
			a, b := d.Estimate(e.Input), d.Estimate(models.Input{Row: row, Rig: e.Rig, Window: modelstest.TurnedWindow(e.Window, 77)})
			if math.Abs(bearing.Diff(b.BearingDeg-a.BearingDeg, 77)) > 1e-6 || math.Abs(a.HeightM-b.HeightM) > 1e-9 {
				t.Fatalf("%s: %+v turned by 77 deg gives %+v", f.Name, a, b)
			}
		}
	}
}

// Rigs with and without gyroscope in one training set answer as well as apart.
func TestBothKindsOfRigs(t *testing.T) {
	gyro, accel := modelstest.Rig(true), modelstest.Rig(false)
	var with, without []models.Example
	for i, s := range []string{"monday", "tuesday", "friday"} {
		with = append(with, modelstest.Examples(t, gyro, "g-"+s, 24, uint64(30+i))...)
		without = append(without, modelstest.Examples(t, accel, "a-"+s, 24, uint64(30+i))...)
	}
	f, _ := models.FamilyByName("complex-ridge")
	fit := func(ex []models.Example) models.Detector {
		d, err := f.Fit(t.Context(), ex, models.Options{Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	both := fit(append(slices.Clone(with), without...))
	for _, c := range []struct {
		name  string
		rig   *rig.Rig
		apart models.Detector
	}{{"with gyroscope", gyro, fit(with)}, {"without", accel, fit(without)}} {
		var together, apart, half float64
		test := modelstest.Examples(t, c.rig, "sunday", 24, 99)
		for _, e := range test {
			a, b := both.Estimate(e.Input), c.apart.Estimate(e.Input)
			together += math.Abs(bearing.Diff(a.BearingDeg, e.BearingDeg)) / float64(len(test))
			apart += math.Abs(bearing.Diff(b.BearingDeg, e.BearingDeg)) / float64(len(test))
			half += a.BearingHalf90Deg / float64(len(test))
		}
		t.Logf("%s: bearing %.2f deg together, %.2f apart, stated %.1f", c.name, together, apart, half)
		if together > 1.2*apart+0.5 {
			t.Errorf("%s: bearing error %.2f deg trained together, %.2f apart", c.name, together, apart)
		}
	}
	c := both.(*models.Model).Parameters().(*models.ComplexRidge)
	if c.Ratio(gyro) == nil || c.Ratio(accel) != nil || c.Accelerometer == nil {
		t.Error("does not hold a part for each kind of rig")
	}
}

// Without a gyroscope a handful of labels teaches next to nothing, and the
// answers say so, also where another rig has plenty of labels.
func TestFewLabelsWithoutGyroscope(t *testing.T) {
	gyro, accel := modelstest.Rig(true), modelstest.Rig(false)
	few := modelstest.Examples(t, accel, "monday", 8, 1)[:5]
	var plenty []models.Example
	for i, s := range []string{"tuesday", "friday"} {
		plenty = append(plenty, modelstest.Examples(t, gyro, s, 24, uint64(30+i))...)
	}
	for _, f := range models.Families() {
		if !f.UsesGyro || f.Name == "physics" { // which labels teach nothing, with a gyroscope or without
			continue
		}
		for name, ex := range map[string][]models.Example{"alone": few, "beside another rig": append(slices.Clone(plenty), few...)} {
			d, err := f.Fit(t.Context(), ex, models.Options{Seed: 1})
			if err != nil {
				t.Fatal(err)
			}
			halfDeg, halfM := 60.0, 0.4
			if f.Name == "informed" { // falls back on the rig file and states its own doubt
				halfDeg, halfM = 45, 0.24
			}
			if e := d.Estimate(few[0].Input); e.BearingHalf90Deg < halfDeg || !e.Unsure || e.HeightHalf90M < halfM && f.Kind == models.Fitted {
				t.Errorf("%s, %s: five labels without gyroscope give %+v", f.Name, name, e)
			}
		}
		d, err := f.Fit(t.Context(), few, models.Options{Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		if c := d.(*models.Model).Certainty; c.Calibrated || !strings.Contains(c.How, "too few labels") {
			t.Errorf("%s: five labels are stated as %q", f.Name, c.How)
		}
	}
}

// On a rig without labels nothing was measured: no answer is surer than that of
// a detector without labels at all.
func TestNoSurerThanThePriorElsewhere(t *testing.T) {
	var ex []models.Example
	for i, s := range []string{"monday", "tuesday"} {
		ex = append(ex, modelstest.Examples(t, modelstest.Rig(true), s, 24, uint64(50+i))...)
	}
	other := modelstest.Rig(true)
	other.Name = "other"
	for _, f := range models.Families() {
		d, err := f.Fit(t.Context(), ex, models.Options{Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		one, err := f.Fit(t.Context(), ex[:1], models.Options{Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		prior := one.(*models.Model).Certainty
		for _, e := range ex {
			got := d.Estimate(models.Input{Row: e.Row, Rig: other, Window: e.Window})
			if got.BearingHalf90Deg < prior.BearingHalf90Deg || got.HeightHalf90M < prior.HeightHalf90M || got.BearingSDDeg < prior.BearingSDDeg || got.HeightSDM < prior.HeightSDM {
				t.Fatalf("%s: on a rig without labels %+v, surer than %+v", f.Name, got, prior)
			}
		}
	}
}
