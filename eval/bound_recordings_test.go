package eval_test

import (
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/eval"
	"strikerose/features"
	"strikerose/label"
	"strikerose/models"
)

// revised are the detectors that the bounds are set beside: one of each way of
// working. A name that the program does not have is passed over.
func revised() []models.Family {
	var out []models.Family
	for _, name := range []string{"physics", "complex-ridge", "peak-arctangent"} {
		if f, ok := models.FamilyByName(name); ok {
			out = append(out, f)
		}
	}
	return out
}

// bandErrors are mean errors in one band of one revision, with their standard
// errors.
type bandErrors struct {
	bearingDeg, bearingSE float64
	heightM, heightSE     float64
}

// TestBoundOverRevisions measures what moving sensor and core up by 64 mm
// changes: predicted by the bounds, and found on straight strikes with
// detectors trained on and applied to each revision by itself, one session left
// out at a time. It prints both side by side and holds every error above its bound.
func TestBoundOverRevisions(t *testing.T) {
	dir := datasettest.Recordings(t)
	folders := []string{"B0", "B1"}
	for _, setup := range []struct {
		name string
		gyro bool
	}{{"with gyroscope", true}, {"accelerometer only", false}} {
		predicted, found := table{}, table{}
		var bands []string
		for _, folder := range folders {
			source := readRecordings(t, filepath.Join(dir, folder))
			d, err := eval.Examples(t.Context(), source, source.sessions, eval.JoinOptions{TrainTruth: label.Timed, ScoreTruth: label.Timed})
			if err != nil {
				t.Fatal(err)
			}
			if !setup.gyro {
				blankGyro(d)
			}
			for i, x := range d.Cases { // what the bounds' model is of
				if x.Score != nil && x.Score.Kind != "straight" {
					d.Cases[i].Score = nil
				}
			}
			c, err := eval.Compare(t.Context(), d, revised(), eval.Options{Seed: 1, Resamples: 100})
			if err != nil {
				t.Fatal(err)
			}
			bands = c.Strikes[0].Bands
			for _, g := range c.Groups {
				if g.Band != "" {
					sensor, model := predictedErrors(g)
					predicted.put("bound, sensor", g.Band+folder, sensor)
					predicted.put("bound, model noise", g.Band+folder, model)
				}
			}
			for k, doc := range c.Detectors {
				for _, band := range bands {
					found.put(doc.Name, band+folder, foundErrors(c, k, band))
				}
			}
		}
		fmt.Printf("=== rig B %s, sensor and core 64 mm up: mean errors before, after and their ratio, predicted and found\n", setup.name)
		fmt.Printf("%-20s%-6s%10s%9s%16s%12s%9s%16s\n", "", "band", "bearing", "", "ratio", "height cm", "", "ratio")
		predicted.print(bands, folders)
		found.print(bands, folders)
		for name, of := range found {
			for key, e := range of {
				if l := predicted["bound, model noise"][key]; e.bearingDeg < l.bearingDeg || e.heightM < l.heightM {
					t.Errorf("%s %s, %s: errors %.3f deg and %.4f m are below their bound %.3f deg and %.4f m", name, setup.name, key, e.bearingDeg, e.heightM, l.bearingDeg, l.heightM)
				}
			}
		}
	}
}

// table holds errors by name, then by band and folder.
type table map[string]map[string]bandErrors

func (t table) put(name, key string, e bandErrors) {
	if t[name] == nil {
		t[name] = map[string]bandErrors{}
	}
	t[name][key] = e
}

func (t table) print(bands, folders []string) {
	for _, name := range slices.Backward(slices.Sorted(maps.Keys(t))) {
		for _, band := range bands {
			before, after := t[name][band+folders[0]], t[name][band+folders[1]]
			fmt.Printf("%-20s%-6s%10s%9s%16s%12s%9s%16s\n", name, band,
				cell(before.bearingDeg), cell(after.bearingDeg), ratioOf(before.bearingDeg, before.bearingSE, after.bearingDeg, after.bearingSE),
				cell(100*before.heightM), cell(100*after.heightM), ratioOf(before.heightM, before.heightSE, after.heightM, after.heightSE))
		}
	}
}

// predictedErrors are the bounds of a group.
func predictedErrors(g eval.Group) (sensor, model bandErrors) {
	bearingSensor, bearingModel := g.Least(eval.BearingMAE)
	heightSensor, heightModel := g.Least(eval.HeightMAE)
	return bandErrors{bearingDeg: bearingSensor.Value, heightM: heightSensor.Value},
		bandErrors{bearingDeg: bearingModel.Value, heightM: heightModel.Value}
}

// foundErrors are those of one detector in one band.
func foundErrors(c *eval.Comparison, detector int, band string) (e bandErrors) {
	var bearing, height []float64
	for i, s := range c.Strikes {
		if s.Truth.Band == band {
			bearing = append(bearing, math.Abs(c.Scores[detector][i].BearingErrDeg))
			height = append(height, math.Abs(c.Scores[detector][i].HeightErrM))
		}
	}
	e.bearingDeg, e.bearingSE = meanOf(bearing)
	e.heightM, e.heightSE = meanOf(height)
	return e
}

// blankGyro takes the rotation rates off every strike and its rig.
func blankGyro(d *eval.Data) {
	for i, c := range d.Cases {
		r, w := *c.Rig, *c.Window
		r.Sensor.GyroRangeDPS, r.Sensor.GyroLSBPerDPS = 0, 0
		w.G = [3][]float64{}
		d.Cases[i].Rig, d.Cases[i].Window = &r, &w
		d.Cases[i].Row = features.Extract(&w, &r, nil)
	}
}

// meanOf returns the mean of the numbers that are known, with its standard
// error; NaN for none.
func meanOf(numbers []float64) (mean, se float64) {
	known := slices.DeleteFunc(slices.Clone(numbers), math.IsNaN)
	n := float64(len(known))
	for _, x := range known {
		mean += x / n
	}
	for _, x := range known {
		se += (x - mean) * (x - mean) / (n * (n - 1))
	}
	if n == 0 {
		mean = math.NaN()
	}
	return mean, math.Sqrt(se)
}

func cell(x float64) string {
	if math.IsNaN(x) {
		return "-"
	}
	return fmt.Sprintf("%.3f", x)
}

// ratioOf writes how much an error changed, with its standard error where the
// errors have one.
func ratioOf(before, beforeSE, after, afterSE float64) string {
	ratio := after / before
	if math.IsNaN(ratio) {
		return "-"
	}
	if beforeSE == 0 && afterSE == 0 {
		return fmt.Sprintf("%.2f", ratio)
	}
	return fmt.Sprintf("%.2f +- %.2f", ratio, ratio*math.Hypot(beforeSE/before, afterSE/after))
}
