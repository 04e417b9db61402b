package eval

import (
	"math"
	"math/rand/v2"
	"testing"

	"strikerose/label"
)

// sensitiveTo makes up a comparison of one detector whose bearing errors grow by
// a factor where harder says so, and whose height errors depend on nothing.
func sensitiveTo(seed uint64, harder func(StrikeDoc) bool) *Comparison {
	rng := rand.New(rand.NewPCG(seed, 1))
	c := &Comparison{Detectors: []DetectorDoc{{Name: "one"}}, Scores: make([][]Score, 1), answered: make([][]bool, 1)}
	for session := range 4 {
		name := string(rune('a' + session))
		c.Sessions = append(c.Sessions, Counts{Session: name, NoiseMPS2: float64(1 + session)})
		for range 60 {
			s := StrikeDoc{Session: name, Rig: "shed-r1", Name: "shed", Faces: 6, LengthM: 1, Bands: []string{"low", "high"}, BandToM: []float64{0.5, 1},
				PeakMPS2: 50 + 100*rng.Float64(), SwingMPS2: rng.ExpFloat64(), Clipped: rng.IntN(5) == 0, SinceS: []float64{0.3, 2, 3}[rng.IntN(3)]}
			s.Truth = Target{Kind: []string{"straight", "hook"}[rng.IntN(2)], Band: s.Bands[rng.IntN(2)], Source: label.Timed}
			deg := 2 * rng.NormFloat64()
			if harder(s) {
				deg *= 3
			}
			c.Strikes = append(c.Strikes, s)
			c.Scores[0] = append(c.Scores[0], Score{BearingErrDeg: deg, HeightErrM: 0.02 * rng.NormFloat64(), LengthM: 1})
			c.answered[0] = append(c.answered[0], true)
		}
	}
	o := Options{Seed: seed, Resamples: 100}.withDefaults()
	c.summarise(o)
	c.addSensitivity(o)
	return c
}

func TestSensitivityFindsWhatMatters(t *testing.T) {
	for name, harder := range map[string]func(StrikeDoc) bool{
		FactorKind:      func(s StrikeDoc) bool { return s.Truth.Kind == "hook" },
		FactorForce:     func(s StrikeDoc) bool { return s.PeakMPS2 < 80 },
		FactorBand:      func(s StrikeDoc) bool { return s.Truth.Band == "low" },
		FactorSwing:     func(s StrikeDoc) bool { return s.SwingMPS2 > 1.1 },
		FactorSecondHit: func(s StrikeDoc) bool { return s.SinceS < 1 },
		FactorClipping:  func(s StrikeDoc) bool { return s.Clipped },
	} {
		s := sensitiveTo(1, harder).Sensitivity
		if len(s) != 1 || s[0].Bearing != "one" || len(s[0].Factors) != 7 {
			t.Fatalf("%s: %+v, want one rig and all factors", name, s)
		}
		for _, f := range s[0].Factors {
			if f.Bearing.Matters != (f.Name == name) {
				t.Errorf("%s raises the error, and %s matters: %v, p %.3f", name, f.Name, f.Bearing.Matters, f.Bearing.PHolm)
			}
			if f.Height.Matters {
				t.Errorf("%s matters to the height, which depends on nothing", f.Name)
			}
			n := 0
			for _, l := range f.Levels {
				n += l.Strikes
				if l.Bearing.N != l.Strikes || !(l.Bearing.Low <= l.Bearing.Value && l.Bearing.Value <= l.Bearing.High) {
					t.Errorf("%s, %s: %d strikes, error %+v", f.Name, l.Name, l.Strikes, l.Bearing)
				}
			}
			if n != 240 {
				t.Errorf("%s: levels hold %d strikes, want all 240", f.Name, n)
			}
		}
	}
}

// Where nothing matters the test is wrong as seldom as it says.
func TestSensitivityKeepsItsLevel(t *testing.T) {
	const runs = 15
	small, tests := 0, 0
	for seed := range uint64(runs) {
		for _, f := range sensitiveTo(seed, func(StrikeDoc) bool { return false }).Sensitivity[0].Factors {
			if f.Name == FactorNoise {
				if f.Bearing.P < 0.1 { // of two sessions in four a side there are three ways
					t.Errorf("the noise of four sessions with a p-value of %g", f.Bearing.P)
				}
				continue
			}
			tests++
			if f.Bearing.P < 0.1 {
				small++
			}
		}
	}
	if share := float64(small) / float64(tests); math.Abs(share-0.1) > 0.07 {
		t.Errorf("%.2f of the p-values lie below 0.1", share)
	}
}

func TestSensitivityLeavesOutWhatDoesNotDiffer(t *testing.T) {
	c := &Comparison{Strikes: []StrikeDoc{{Session: "a"}, {Session: "a"}, {Session: "a", SwingMPS2: math.NaN()}}}
	for _, f := range factors() {
		if _, names := f.of(c, []int{0, 1, 2}); len(names) > 1 {
			t.Errorf("%s: levels %q of strikes that are alike", f.name, names)
		}
	}
}
