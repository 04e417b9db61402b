package models_test

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/models"
	"strikerose/models/modelstest"
)

// evenings are three sessions on one rig.
func evenings(t *testing.T, gyro bool, strikes int) []models.Example {
	var out []models.Example
	for i, s := range []string{"monday", "tuesday", "friday"} {
		out = append(out, modelstest.Examples(t, modelstest.Rig(gyro), s, strikes, uint64(70+i))...)
	}
	return out
}

// withParameters loads a saved detector with other parameters.
func withParameters(t *testing.T, d models.Detector, parameters any) models.Detector {
	t.Helper()
	var b bytes.Buffer
	if err := models.Save(&b, d, models.Training{}); err != nil {
		t.Fatal(err)
	}
	var file map[string]json.RawMessage
	if err := json.Unmarshal(b.Bytes(), &file); err != nil {
		t.Fatal(err)
	}
	var err error
	if file["parameters"], err = json.Marshal(parameters); err != nil {
		t.Fatal(err)
	}
	data, err := json.Marshal(file)
	if err != nil {
		t.Fatal(err)
	}
	loaded, err := models.Load(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return loaded.Detector
}

// TestRoundedNets: weights of 16 bits answer as unrounded ones do, and those of 8
// bits move answers by far less than the detector's error.
func TestRoundedNets(t *testing.T) {
	f, _ := models.FamilyByName("perceptron")
	for _, gyro := range []bool{true, false} {
		ex := evenings(t, gyro, 40)
		d, err := f.Fit(t.Context(), ex, models.Options{Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		p := d.(*models.Model).Parameters().(*models.Perceptron)
		if span := p.Span(); !(span.Weight > 0 && span.Weight < 16 && span.Sum > span.Weight && span.Sum < 256) {
			t.Errorf("weights up to %.3g and sums up to %.3g do not fit 16 bits with 11 after the point, and 32 bits with 16", span.Weight, span.Sum)
		} else {
			t.Logf("gyroscope %t: weights up to %.2f, sums up to %.1f", gyro, span.Weight, span.Sum)
		}
		limits := map[int][2]float64{16: {1e-3, 1e-5}, 8: {0.05, 5e-4}}
		if !gyro {
			limits[16], limits[8] = [2]float64{1e-2, 1e-4}, [2]float64{0.5, 5e-3}
		}
		for bits, limit := range limits {
			rounded := withParameters(t, d, p.Rounded(bits))
			var movedDeg, movedM float64
			for _, e := range ex {
				a, b := d.Estimate(e.Input), rounded.Estimate(e.Input)
				movedDeg += math.Abs(bearing.Diff(a.BearingDeg, b.BearingDeg)) / float64(len(ex))
				movedM += math.Abs(a.HeightM-b.HeightM) / float64(len(ex))
			}
			t.Logf("gyroscope %t, %d bits: %.4f deg, %.5f m", gyro, bits, movedDeg, movedM)
			if movedDeg > limit[0] || movedM > limit[1] || movedDeg == 0 {
				t.Errorf("gyroscope %t, %d bits: answers move by %.4f deg and %.5f m, not more than %g and %g wanted", gyro, bits, movedDeg, movedM, limit[0], limit[1])
			}
		}
	}
}

// TestNetsWhereTheyAreWorthIt: nets come where precise labels show them better
// than the rig's own weights, and never from aims.
func TestNetsWhereTheyAreWorthIt(t *testing.T) {
	f, _ := models.FamilyByName("perceptron")
	landed := evenings(t, true, 40)
	aimed := slices.Clone(landed)
	for i := range aimed {
		aimed[i].BearingDeg = bearing.FaceCentre(aimed[i].Rig.FaceOf(aimed[i].BearingDeg), aimed[i].Rig.Faces)
		aimed[i].BearingSDDeg, aimed[i].HeightSDM = 8, 0.04
	}
	for name, c := range map[string]struct {
		ex   []models.Example
		nets bool
	}{"landed": {landed, true}, "aimed": {aimed, false}} {
		d, err := f.Fit(t.Context(), c.ex, models.Options{Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		if p := d.(*models.Model).Parameters().(*models.Perceptron); len(p.Gyroscope.Nets) > 0 != c.nets || p.Accelerometer != nil {
			t.Errorf("%s: %d nets, form %s", name, len(p.Gyroscope.Nets), d.(*models.Model).Scores[0].Form)
		}
	}
	// Rigs of both kinds teach a part each.
	both := append(slices.Clone(landed), evenings(t, false, 24)...)
	d, err := f.Fit(t.Context(), both, models.Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if p := d.(*models.Model).Parameters().(*models.Perceptron); p.Gyroscope == nil || p.Accelerometer == nil {
		t.Error("does not hold a part for each kind of rig")
	}
}
