package models_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/models"
)

// accuracyGoals are what the best detector must reach on the simulated
// recordings, each session left out in turn, every strike counted.
type accuracyGoals struct{ bearingDeg, heightM, flips, inFace float64 }

func (g accuracyGoals) missed(o *outcome) bool {
	n := float64(len(o.bearing))
	return average(o.bearing) > g.bearingDeg || average(o.height) > g.heightM || float64(o.flips) > g.flips*n || float64(o.inFace) < g.inFace*n
}

// TestAccuracyOnRecordings prints one table of families, trained and scored on
// timed truth, with gyroscope and without, by rig, band and kind, and holds the
// most accurate family to its goals. It measures that one alone unless
// STRIKEROSE_MEASURE lists others or says all.
func TestAccuracyOnRecordings(t *testing.T) {
	sets := recordings(t)
	goals := map[string]accuracyGoals{
		"A gyroscope": {2.0, 0.022, 0, 0.99}, "B gyroscope": {1.2, 0.020, 0, 0.99}, "C gyroscope": {1.0, 0.018, 0, 0.99},
		"A accelerometer": {11.5, 0.040, 0.015, 0.91}, "B accelerometer": {3.9, 0.025, 0.005, 0.98}, "C accelerometer": {3.5, 0.024, 0.005, 0.99},
	}
	t.Logf("%-15s %-3s %-13s %-9s %4s %22s %6s %6s %9s", "detector", "rig", "sensor", "strikes", "n", "bearing deg mean (med)", "flips", "face", "height cm")
	for _, f := range models.Families() {
		if !datasettest.Measured(f.Name, "informed") {
			continue
		}
		f = answersOnly(f)
		for _, sensor := range []string{"gyroscope", "accelerometer"} {
			for _, rig := range []string{"A", "B", "C"} {
				all := sets[rig]
				if sensor == "accelerometer" {
					all = withoutGyro(all)
				}
				whole, by, _ := leaveOneOut(t.Context(), t, f, all, timed)
				row := func(group string, o *outcome) {
					n := float64(len(o.bearing))
					t.Logf("%-15s %-3s %-13s %-9s %4.0f %15s %6s %5.1f%% %5.1f%% %9.2f", f.Name, rig, sensor, group, n,
						fmt.Sprintf("%.2f", average(o.bearing)), fmt.Sprintf("(%.2f)", quantile(o.bearing, 0.5)), 100*float64(o.flips)/n, 100*float64(o.inFace)/n, 100*average(o.height))
				}
				row("all", &whole)
				for _, group := range strings.Fields("straight hook upward tap low mid high") {
					if o := by[group]; o != nil {
						row(group, o)
					}
				}
				if g := goals[rig+" "+sensor]; f.Name == "informed" && g.missed(&whole) {
					t.Errorf("%s, %s: %s; want at most %+v", rig, sensor, &whole, g)
				}
				if hook, straight := by["hook"], by["straight"]; f.Name == "informed" && sensor == "gyroscope" && average(hook.bearing) > 3*average(straight.bearing) {
					t.Errorf("%s: hooks err by %.2f deg, straight blows by %.2f", rig, average(hook.bearing), average(straight.bearing))
				}
			}
		}
	}
}

// answersOnly is a family whose fits leave out what certainty alone wants.
func answersOnly(f models.Family) models.Family {
	fit := f.Fit
	f.Fit = func(ctx context.Context, ex []models.Example, o models.Options) (models.Detector, error) {
		o.Uncalibrated = true
		return fit(ctx, ex, o)
	}
	return f
}
