package models_test

import (
	"strings"
	"testing"

	"strikerose/models"
	"strikerose/models/modelstest"
)

// A detector is refused on sessions without a gyroscope exactly where all that it
// could say there are guesses.
func TestCheckGyroKnowsWhoGuesses(t *testing.T) {
	with, without := modelstest.Rig(true), modelstest.Rig(false)
	taught := modelstest.Examples(t, with, "monday", 12, 3)
	bare := modelstest.Examples(t, without, "tuesday", 12, 4)
	for _, f := range models.Families() {
		t.Run(f.Name, func(t *testing.T) {
			t.Parallel()
			d, err := f.Fit(t.Context(), taught, models.Options{Seed: 1, Uncalibrated: true})
			if err != nil {
				t.Fatal(err)
			}
			if err := models.CheckGyro(d, true); err != nil {
				t.Errorf("refused with a gyroscope: %v", err)
			}
			guesses := 0
			for _, e := range bare {
				if d.Estimate(e.Input).Guess {
					guesses++
				}
			}
			err = models.CheckGyro(d, false)
			switch {
			case err == nil && guesses == len(bare):
				t.Errorf("taken where it only guesses")
			case err != nil && guesses < len(bare):
				t.Errorf("refused, but %d of %d answers are no guesses: %v", len(bare)-guesses, len(bare), err)
			case err != nil && !(strings.Contains(err.Error(), f.Name) && strings.Contains(err.Error(), "needs a gyroscope") && strings.Contains(err.Error(), "physics")):
				t.Errorf("%q names neither need nor remedy", err)
			}
			if f.NeedsGyro {
				return
			}
			d, err = f.Fit(t.Context(), bare, models.Options{Seed: 1, Uncalibrated: true})
			if err != nil {
				t.Fatal(err)
			}
			if err := models.CheckGyro(d, false); err != nil {
				t.Errorf("refused though it was taught without a gyroscope: %v", err)
			}
		})
	}
}
