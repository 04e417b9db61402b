package eval_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/eval"
	"strikerose/eval/report"
	"strikerose/label"
	"strikerose/models"
)

// TestFewShotsOnRecordings carries detectors to a rig left out of the training,
// with and without rotation rates, and prints the table. STRIKEROSE_MEASURE
// names other detectors than physics and pendulum, separated by commas.
func TestFewShotsOnRecordings(t *testing.T) {
	dir := datasettest.Recordings(t)
	var folders []string
	for _, f := range []string{"A", "B0", "B1", "C"} {
		folders = append(folders, filepath.Join(dir, f))
	}
	names := "physics,pendulum"
	if only := os.Getenv("STRIKEROSE_MEASURE"); only != "" {
		names = only
	}
	var families []models.Family
	for _, n := range strings.Split(names, ",") {
		f, ok := models.FamilyByName(n)
		if !ok {
			t.Fatalf("no detector is named %q", n)
		}
		families = append(families, f)
	}
	source := readRecordings(t, folders...)
	for _, v := range []string{"gyroscope", "accelerometer"} {
		if v == "accelerometer" {
			dropGyro(source)
		}
		d, err := eval.Examples(t.Context(), source, source.sessions, eval.JoinOptions{TrainTruth: label.Timed, ScoreTruth: label.Timed})
		if err != nil {
			t.Fatal(err)
		}
		rows, _, err := eval.FewShots(t.Context(), d, families, eval.FewShotOptions{Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		var text strings.Builder
		if err := report.FewShotText(&text, rows); err != nil {
			t.Fatal(err)
		}
		fmt.Printf("=== simulated recordings, %s\n%s\n", v, text.String())
		for _, r := range rows {
			if r.BearingCover90 < 0.8 || r.HeightCover90 != nil && *r.HeightCover90 < 0.8 {
				t.Errorf("%s, %+v: intervals of 90 %% hold too little", v, r)
			}
			if r.Detector == "physics" && v == "gyroscope" && !within(r) {
				t.Errorf("%+v: worse than the goal", r)
			}
		}
	}
}

// within tells whether errors are as small as the goal asks; hall is the rig
// whose sensor sits far from the centre of mass.
func within(r eval.Carried) bool {
	bearing, height := 6.0, 0.06
	switch {
	case r.Moved:
		bearing, height = 1.8, 0.033
	case r.Labels >= 24:
		bearing, height = 2, 0.033
		if r.Rig == "hall" {
			bearing = 3
		}
	case r.Labels >= 6:
		bearing, height = 2.5, 0.045
		if r.Rig == "hall" {
			bearing = 4
		}
	}
	return r.BearingMAEDeg <= bearing && r.HeightMAEM != nil && *r.HeightMAEM <= height
}

// dropGyro leaves the rotation rates out of the signals and the rigs.
func dropGyro(r *recordings) {
	for key, was := range r.rigs {
		without := *was
		without.Sensor.GyroRangeDPS, without.Sensor.GyroLSBPerDPS = 0, 0
		r.rigs[key] = &without
	}
	for _, s := range r.signals {
		s.G = [3][]float32{}
	}
}
