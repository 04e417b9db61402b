package models_test

import (
	"slices"
	"testing"

	"strikerose/models"
	"strikerose/models/modelstest"
)

// TestTogether: a core that is asked about many strikes at once says of each what
// it says of it alone.
func TestTogether(t *testing.T) {
	for _, gyro := range []bool{true, false} {
		r := modelstest.Rig(gyro)
		ex := slices.Concat(modelstest.Examples(t, r, "monday", 40, 4), modelstest.Examples(t, r, "friday", 40, 5))
		for _, f := range models.Families() {
			if f.NeedsGyro && !gyro {
				continue
			}
			d, err := f.Fit(t.Context(), ex, models.Options{Seed: 1})
			if err != nil {
				t.Fatal(err)
			}
			for _, n := range []int{0, 1, len(ex)} {
				if all, each := models.Replies(d, ex[:n]); !slices.Equal(all, each) {
					t.Errorf("%s, gyroscope %t: %d strikes are answered otherwise together than one by one", f.Name, gyro, n)
				}
			}
		}
	}
}
