package models_test

import (
	"fmt"
	"testing"

	"strikerose/features"
	"strikerose/models"
	"strikerose/models/modelstest"
)

// BenchmarkTrain fits every family on 5000 simulated strikes of twenty sessions,
// with a gyroscope and without, on all that the features give. It reports the
// seconds that a fit takes, cross-validation and forms included, and how many
// columns of features the fitted detector reads.
func BenchmarkTrain(b *testing.B) {
	const sessions, strikes = 20, 5000
	for _, gyro := range []bool{true, false} {
		var ex []models.Example
		for i := 0; len(ex) < strikes; i++ {
			ex = append(ex, modelstest.Examples(b, modelstest.Rig(gyro), fmt.Sprintf("s%02d", i), strikes/sessions+10, uint64(i))...)
		}
		ex = ex[:strikes]
		name := map[bool]string{true: "gyroscope", false: "accelerometer"}[gyro]
		for _, f := range models.Families() {
			if f.NeedsGyro && !gyro {
				continue
			}
			b.Run(name+"/"+f.Name, func(b *testing.B) {
				var d models.Detector
				for b.Loop() {
					var err error
					if d, err = f.Fit(b.Context(), ex, models.Options{Seed: 1}); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/fit")
				b.ReportMetric(float64(len(ex)), "strikes")
				b.ReportMetric(float64(columns(d)), "columns")
			})
		}
	}
}

// columns counts the numbers of a row that a detector reads.
func columns(d models.Detector) (n int) {
	for _, name := range d.(*models.Model).Reads() {
		n++
		if features.DefOf(name).Vector {
			n++
		}
	}
	return n
}
