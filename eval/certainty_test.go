package eval

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/bearing"
	"strikerose/models"
)

// stating is a comparison of one detector whose errors follow the spread that it
// states, but for a factor.
func stating(n int, wider float64, rng *rand.Rand) *Comparison {
	c := &Comparison{Detectors: []DetectorDoc{{Name: "made up"}}, Answers: make([][]models.Estimate, 1), Scores: make([][]Score, 1), answered: make([][]bool, 1)}
	r := testRig()
	for range n {
		sd := math.Exp(2 + 0.8*rng.NormFloat64())
		e := models.Estimate{BearingDeg: 360 * rng.Float64(), HeightM: 0.5, BearingSDDeg: sd * wider, HeightSDM: 0.05 * wider,
			FlipShare: 0, BearingHalf90Deg: 1.645 * sd, HeightHalf90M: 0.08}
		off := bearing.SpreadOf(sd, 0).Quantile(rng.Float64())
		truth := Target{BearingDeg: bearing.Wrap360(e.BearingDeg + off), HeightM: 0.5 + 0.05*rng.NormFloat64()}
		c.Strikes = append(c.Strikes, StrikeDoc{Session: "s", Name: "shed", Faces: 6, Truth: truth})
		c.Answers[0] = append(c.Answers[0], e)
		c.Scores[0] = append(c.Scores[0], NewScore(e, truth, r, both))
		c.answered[0] = append(c.answered[0], true)
	}
	c.addCertainty()
	return c
}

// Where errors follow what is stated, the found shares are the stated ones, and
// the surest strikes are the rightest; stated twice as wide, more is found.
func TestCertaintyOfHonestAnswers(t *testing.T) {
	const n = 800
	honest := stating(n, 1, rand.New(rand.NewPCG(1, 2))).CertaintyOf("made up", "")
	wide := stating(n, 2, rand.New(rand.NewPCG(1, 2))).CertaintyOf("made up", "")
	for i, r := range honest.Bearing {
		within := 4*math.Sqrt(r.Level*(1-r.Level)/n) + 1e-9
		if math.Abs(r.Found-r.Level) > within || math.Abs(honest.Height[i].Found-r.Level) > within {
			t.Errorf("level %g: found %.3f of bearings and %.3f of heights", r.Level, r.Found, honest.Height[i].Found)
		}
		if w := wide.Bearing[i]; w.Found < r.Found || r.Level == 0.5 && w.Found < 0.7 {
			t.Errorf("level %g: stated twice as wide, found %.3f against %.3f", r.Level, w.Found, r.Found)
		}
	}
	for _, curve := range []*RiskCoverage{honest.WrongFace, honest.BearingDeg} {
		if !(curve.Least < curve.Area && curve.Area < 0.6*curve.Unsorted) || curve.At(0.5) >= curve.At(1) || curve.At(1) != curve.Unsorted {
			t.Errorf("curve %+v", curve)
		}
	}
	if honest.Strikes != n {
		t.Errorf("%d strikes, want %d", honest.Strikes, n)
	}
}

func TestRiskCoverageByHand(t *testing.T) {
	got := riskCoverage([]gamble{{3, 1}, {1, 0}, {2, 0}, {2, 1}})
	// Surest first: 0, then two alike in doubt that lose 1/2 each, then 1.
	area := (0 + 0.25 + 1./3 + 0.5) / 4
	least := (0 + 0 + 1./3 + 0.5) / 4
	near(t, "area", got.Area, area, 1e-12)
	near(t, "least", got.Least, least, 1e-12)
	near(t, "risk of all", got.Unsorted, 0.5, 1e-12)
	near(t, "risk of half", got.At(0.5), 0.25, 1e-12)
	if riskCoverage(nil) != nil || reliability(nil) != nil {
		t.Error("something of nothing")
	}
}

// No order beats the one that knows the losses, and the order of the strikes
// does not matter.
func TestRiskCoverageBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "n")
		all := make([]gamble, n)
		for i := range all {
			all[i] = gamble{doubt: float64(rapid.IntRange(0, 5).Draw(t, "doubt")), loss: float64(rapid.IntRange(0, 1).Draw(t, "loss"))}
		}
		r := riskCoverage(all)
		if r.Least > r.Area+1e-12 || r.Unsorted > 1 || r.Points[len(r.Points)-1].Answered != 1 {
			t.Fatalf("curve %+v", r)
		}
		turned := append(append([]gamble{}, all[n/2:]...), all[:n/2]...)
		if o := riskCoverage(turned); math.Abs(o.Area-r.Area) > 1e-12 {
			t.Fatalf("area %g, in another order %g", r.Area, o.Area)
		}
	})
}

func TestCertaintyInJSON(t *testing.T) {
	data, err := json.Marshal(stating(30, 1, rand.New(rand.NewPCG(3, 4))))
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{`"certainty":[{"detector":"made up"`, `"bearing":[{"level":0.1,"found":`, `"wrong_face":{"points":[{"answered":`, `"area":`} {
		if !strings.Contains(string(data), key) {
			t.Errorf("JSON lacks %s", key)
		}
	}
}
