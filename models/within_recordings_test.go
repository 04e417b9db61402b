package models_test

import (
	"context"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/models"
)

// within is a family whose fits may read no longer than ms after the onset.
func within(f models.Family, ms float64) models.Family {
	fit := f.Fit
	f.Fit = func(ctx context.Context, ex []models.Example, o models.Options) (models.Detector, error) {
		o.WithinMs = ms
		return fit(ctx, ex, o)
	}
	return f
}

// TestRecordingsWithin measures the error of the complex ridge against its wait,
// one session left out at a time. With a gyroscope every wait that reaches past the
// contact serves alike. Waits that nothing is asked of, and rigs without a
// gyroscope, are measured where STRIKEROSE_MEASURE says complex-ridge.
func TestRecordingsWithin(t *testing.T) {
	sets := recordings(t)
	f, _ := models.FamilyByName("complex-ridge")
	waits, kinds := []float64{65, 100}, []bool{true}
	if datasettest.Measured(f.Name) {
		waits, kinds = []float64{15, 25, 40, 65, 100, 200}, []bool{true, false}
	}
	for _, rig := range []string{"A", "B", "C"} {
		for _, gyro := range kinds {
			all, name := sets[rig], "gyroscope"
			if !gyro {
				all, name = withoutGyro(all), "no gyroscope"
			}
			var at65 float64
			for _, ms := range waits {
				o, _, forms := leaveOneOut(t.Context(), t, within(f, ms), all, timed)
				t.Logf("%s %-12s %3g ms %s%s", rig, name, ms, &o, forms)
				b := average(o.bearing)
				if ms == 65 {
					at65 = b
				}
				if gyro && ms > 65 && b != at65 {
					t.Errorf("%s: %g ms change the bearing's error from %.3f to %.3f deg, though nothing later is read", rig, ms, at65, b)
				}
			}
		}
	}
}
