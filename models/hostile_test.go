package models_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/models"
	"strikerose/models/modelstest"
)

// spoiled calls do for every way to spoil one place in a JSON value, which is
// whole again afterwards: numbers far too large, 0 or of the other sign, parts
// null, emptied or of another length. Of a list the first and the last place
// stand for all.
func spoiled(root any, do func(what string)) {
	var walk func(path string, v any, set func(any))
	walk = func(path string, v any, set func(any)) {
		try := func(what string, to any) {
			set(to)
			do(path + " " + what)
			set(v)
		}
		try("null", nil)
		switch v := v.(type) {
		case float64:
			for _, x := range []float64{0, -v - 1, 1e300, -1e300} {
				try(fmt.Sprint(x), x)
			}
		case string:
			try("emptied", "")
		case []any:
			try("emptied", []any{})
			if len(v) > 0 {
				try("shorter", v[1:])
				try("longer", append([]any{v[0]}, v...))
			}
			for i := range v {
				if i == 0 || i == len(v)-1 {
					walk(fmt.Sprintf("%s[%d]", path, i), v[i], func(x any) { v[i] = x })
				}
			}
		case map[string]any:
			try("emptied", map[string]any{})
			for _, k := range slices.Sorted(maps.Keys(v)) {
				walk(path+"."+k, v[k], func(x any) { v[k] = x })
			}
		}
	}
	walk("", root, func(any) {})
}

// hostileInputs are strikes with rotation rates, without, and without a window,
// and rows that no sensor gives.
func hostileInputs(t testing.TB) []models.Input {
	t.Helper()
	gyro, accel := modelstest.Rig(true), modelstest.Rig(false)
	with, without := modelstest.Examples(t, gyro, "tuesday", 2, 4)[0].Input, modelstest.Examples(t, accel, "friday", 2, 4)[0].Input
	bare := with
	bare.Window = nil
	steps := make([]float64, len(features.Columns()))
	for i := range steps {
		steps[i] = float64(i%7) - 3
	}
	return []models.Input{with, without, bare, {Row: make([]float64, len(steps)), Rig: gyro}, {Row: steps, Rig: gyro}}
}

// answersSoundly fails unless every estimate is within what is promised.
func answersSoundly(t *testing.T, what string, d models.Detector, inputs []models.Input) {
	t.Helper()
	defer func() {
		if r := recover(); r != nil {
			t.Errorf("%s: panic: %v", what, r)
		}
	}()
	for i, in := range inputs {
		e := d.Estimate(in)
		sound := e.BearingDeg < 360 && e.HeightM <= in.Rig.Bag.LengthM && e.BearingHalf90Deg <= 180 && e.FlipShare < 0.5
		for _, v := range []float64{e.BearingDeg, e.HeightM, e.BearingSDDeg, e.HeightSDM, e.BearingHalf90Deg, e.HeightHalf90M, e.FlipShare} {
			sound = sound && v >= 0 && !math.IsInf(v, 0)
		}
		if !sound {
			t.Errorf("%s: strike %d: estimate %+v", what, i+1, e)
		}
	}
}

// Whatever stands in a file, it is refused or answers soundly.
func TestSpoiledFiles(t *testing.T) {
	if testing.Short() {
		t.Skip("long, and starts nothing at once")
	}
	inputs := hostileInputs(t)
	files := map[string][]byte{"corrected": correctedFile(t, modelstest.Rig(true))}
	for _, name := range append(models.Names(), "physics+complex-ridge") {
		f, _ := models.FamilyByName(name)
		few := map[string]float64{} // enough of each part to spoil one
		for _, s := range f.Settings {
			if slices.Contains([]string{"trees", "starts", "units", "slices"}, s.Name) {
				few[s.Name] = s.Least
			}
		}
		for _, gyro := range []bool{true, false} {
			if gyro || slices.Contains([]string{"complex-ridge", "perceptron", "informed"}, name) {
				files[fmt.Sprintf("%s gyroscope %v", name, gyro)] = savedWith(t, name, gyro, 44, few)
			}
		}
	}
	for name, data := range files {
		t.Run(name, func(t *testing.T) {
			var root any
			if err := json.Unmarshal(data, &root); err != nil {
				t.Fatal(err)
			}
			opened, refused := 0, 0
			spoiled(root, func(what string) {
				data, err := json.Marshal(root)
				if err != nil {
					t.Fatal(err)
				}
				f, err := models.Load(bytes.NewReader(data))
				if err != nil {
					if refused++; !strings.HasPrefix(err.Error(), "detector: ") {
						t.Errorf("%s: error %v", what, err)
					}
					return
				}
				opened++
				answersSoundly(t, what, f.Detector, inputs)
			})
			if opened == 0 || refused == 0 {
				t.Errorf("%d files opened and %d refused", opened, refused)
			}
		})
	}
}

// correctedFile is a rule carried to another bag, with corrections of bearings
// and heights.
func correctedFile(t testing.TB, r *rig.Rig) []byte {
	t.Helper()
	own := modelstest.Examples(t, r, "monday", 40, 3)
	for i := range own {
		own[i].HeightM += 0.08
	}
	a := adapted(t, fitted(t, "pendulum", nil), models.Target{Rig: r, Own: own})
	if !a.Detector.Corrects(r.Key()) {
		t.Fatalf("nothing is corrected: %+v", a.Chosen)
	}
	var file bytes.Buffer
	if err := models.Save(&file, a.Detector, models.Training{}); err != nil {
		t.Fatal(err)
	}
	return file.Bytes()
}
