package doubt

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

func TestPosteriorsSumToOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "labels")
		emission := table(n, len(shifts()))
		for i := range emission {
			for k := range emission[i] {
				emission[i][k] = rapid.Float64Range(-30, 5).Draw(t, "log density")
			}
		}
		posterior, path := sequence(emission)
		if len(path) != n {
			t.Fatalf("a path of %d for %d labels", len(path), n)
		}
		for i := range posterior {
			sum := 0.0
			for _, p := range posterior[i] {
				sum += p
			}
			if math.Abs(sum-1) > 1e-9 {
				t.Fatalf("posteriors of label %d sum to %g", i, sum)
			}
		}
	})
}

func TestPassagesSumToOne(t *testing.T) {
	for from := range shifts() {
		sum := 0.0
		for to := range shifts() {
			sum += math.Exp(passage(from, to))
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Errorf("from state %d the probabilities sum to %g", from, sum)
		}
	}
}

func TestTurnIsFoundAmongStrays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deg := rapid.Float64Range(-180, 180).Draw(t, "turn")
		sense := rapid.SampledFrom([]int{1, -1}).Draw(t, "sense")
		var pairs []pair
		for i := range 60 {
			b := rapid.Float64Range(0, 360).Draw(t, "bearing")
			l := deg + float64(sense)*b + rapid.Float64Range(-6, 6).Draw(t, "scatter")
			if i%5 == 0 {
				l = rapid.Float64Range(0, 360).Draw(t, "stray")
			}
			pairs = append(pairs, pair{bearing.Wrap360(l), b, 8})
		}
		if got, _ := fitTurn(pairs, sense); math.Abs(bearing.Diff(got, deg)) > 4 {
			t.Fatalf("turn %g, want %g", got, deg)
		}
	})
}

func TestMendingUndoes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		faces := rapid.IntRange(2, 12).Draw(t, "faces")
		b := rapid.Float64Range(0, 359).Draw(t, "bearing")
		common := rapid.Float64Range(-180, 180).Draw(t, "common")
		k := rapid.IntRange(0, faces-1).Draw(t, "steps")
		sense := rapid.SampledFrom([]int{1, -1}).Draw(t, "sense")
		label := bearing.Wrap360(float64(sense)*b + float64(k)*360/float64(faces))
		// An estimate e stands for b = common + e, so label = turn + sense x e.
		session := turn{sense: sense, deg: bearing.Wrap180(float64(sense)*common + float64(k)*360/float64(faces))}
		steps, rest := session.judge(common, faces)
		if steps != k || math.Abs(rest) > 1e-6 {
			t.Fatalf("%d steps and %g degrees, want %d", steps, rest, k)
		}
		if got := mended(label, sense, steps, faces); math.Abs(bearing.Diff(got, b)) > 1e-6 {
			t.Fatalf("label %g of bearing %g is mended to %g", label, b, got)
		}
	})
}

func TestDensitiesOfWhatIsNotSaid(t *testing.T) {
	r := &rig.Rig{Faces: 6, Bag: rig.Bag{LengthM: 1}, Bands: []rig.Band{{Name: "low", ToM: 0.5}, {Name: "high"}}}
	p := reading{bearingDeg: 60, heightM: 0.25, bearingSDDeg: 3, heightSDM: 0.03, factorB: 1, factorH: 1}
	nan := math.NaN()
	whole := mark{bearingDeg: 60, heightM: 0.25, bearingSDDeg: 8, heightSDM: 0.04, band: "low"}
	noFace, noBand, neither := whole, whole, whole
	noFace.bearingDeg, noBand.heightM, neither.bearingDeg, neither.heightM = nan, nan, nan, nan
	for _, c := range []struct {
		name string
		l    mark
		zero []int
	}{
		{"whole", whole, nil},
		{"no face", noFace, []int{face, opposite, both}},
		{"no band", noBand, []int{band, both}},
		{"neither", neither, []int{face, opposite, band, both}},
	} {
		d := p.against(c.l, r)
		zero := map[int]bool{}
		for _, f := range c.zero {
			zero[f] = true
		}
		for f := range d {
			if (d[f] == 0) != zero[f] || math.IsNaN(d[f]) {
				t.Errorf("%s: density of fault %d is %g", c.name, f, d[f])
			}
			if f != right && c.name == "whole" && d[f] >= d[right] {
				t.Errorf("fault %d is as likely as a right label: %g and %g", f, d[f], d[right])
			}
		}
	}
}
