package agree

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/label"
)

// drawRatings makes what two to four labellers say of some strikes, whole
// numbers from 1 to classes, with gaps.
func drawRatings(t *rapid.T, classes int) [][]float64 {
	strikes := rapid.IntRange(2, 30).Draw(t, "strikes")
	out := make([][]float64, rapid.IntRange(2, 4).Draw(t, "labellers"))
	for k := range out {
		for range strikes {
			x := float64(rapid.IntRange(0, classes).Draw(t, "said"))
			if x == 0 {
				x = math.NaN()
			}
			out[k] = append(out[k], x)
		}
	}
	return out
}

func each(ratings [][]float64, f func(float64) float64) [][]float64 {
	out := make([][]float64, len(ratings))
	for k, row := range ratings {
		for _, x := range row {
			out[k] = append(out[k], f(x))
		}
	}
	return out
}

func same(t *rapid.T, what string, got, want float64) {
	if !datasettest.Near(got, want, 1e-9) {
		t.Fatalf("%s changes alpha from %.12g to %.12g", what, want, got)
	}
}

// Renaming faces, turning bearings, stretching heights and taking labellers in
// another order change nothing, and alpha never exceeds 1.
func TestAlphaInvariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		faces := drawRatings(t, 6)
		renamed := rapid.Permutation([]float64{1, 2, 3, 4, 5, 6}).Draw(t, "renamed")
		name := func(x float64) float64 {
			if math.IsNaN(x) {
				return x
			}
			return renamed[int(x)-1]
		}
		same(t, "renaming", NewAlpha(each(faces, name), Nominal).Value, NewAlpha(faces, Nominal).Value)

		bearings := each(faces, func(x float64) float64 { return 60*x + rapid.Float64Range(-20, 20).Draw(t, "aside") })
		by := rapid.Float64Range(-720, 720).Draw(t, "turn")
		turned := each(bearings, func(x float64) float64 { return bearing.Wrap360(x + by) })
		same(t, "turning", NewAlpha(turned, Circular).Value, NewAlpha(bearings, Circular).Value)

		heights := each(faces, func(x float64) float64 { return 0.1 * x })
		same(t, "stretching", NewAlpha(each(heights, func(x float64) float64 { return 100*x + 7 }), Interval).Value, NewAlpha(heights, Interval).Value)

		grown := each(faces, func(x float64) float64 { return math.Exp(x) })
		same(t, "growing", NewAlpha(grown, Ordinal).Value, NewAlpha(faces, Ordinal).Value)

		for _, s := range []Scale{Nominal, Ordinal, Interval} {
			swapped := append([][]float64{faces[len(faces)-1]}, faces[:len(faces)-1]...)
			a := NewAlpha(faces, s)
			same(t, "swapping labellers", NewAlpha(swapped, s).Value, a.Value)
			if a.Value > 1 {
				t.Fatalf("alpha is %g", a.Value)
			}
		}
	})
}

// Who agrees throughout gets 1, on every scale and from every measure.
func TestPerfectAgreement(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		row := drawRatings(t, 5)[0]
		row = append(row, 1, 2)
		ratings := [][]float64{row, row, row}
		for s := Nominal; s <= Circular; s++ {
			if a := NewAlpha(ratings, s).Value; math.Abs(a-1) > 1e-9 {
				t.Fatalf("alpha on scale %d is %g, want 1", s, a)
			}
		}
		table := crossTable(row, row, ones(len(row)), 6)
		for _, d := range []Disagreement{Plain, Linear, Quadratic} {
			if k := Kappa(table, d); math.Abs(k-1) > 1e-12 {
				t.Fatalf("kappa is %g, want 1", k)
			}
		}
		counts, _ := classCounts(ratings, 6)
		if k := FleissKappa(counts); math.Abs(k-1) > 1e-12 {
			t.Fatalf("Fleiss' kappa is %g, want 1", k)
		}
		if l := NewLimits(row, row); l.Bias != 0 || l.SD != 0 {
			t.Fatalf("limits %+v, want none apart", l)
		}
	})
}

// Labels drawn at random agree as by chance: within four standard errors of 0.
func TestIndependentLabels(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	ratings := make([][]float64, 3)
	for k := range ratings {
		for range 4000 {
			ratings[k] = append(ratings[k], float64(1+rng.IntN(6)))
		}
	}
	for name, got := range map[string]float64{
		"nominal alpha":  NewAlpha(ratings, Nominal).Value,
		"ordinal alpha":  NewAlpha(ratings, Ordinal).Value,
		"interval alpha": NewAlpha(ratings, Interval).Value,
		"circular alpha": NewAlpha(each(ratings, func(x float64) float64 { return 60 * x }), Circular).Value,
		"kappa":          Kappa(crossTable(ratings[0], ratings[1], ones(4000), 7), Plain),
		"linear kappa":   Kappa(crossTable(ratings[0], ratings[1], ones(4000), 7), Linear),
	} {
		if math.Abs(got) > 4/math.Sqrt(4000) {
			t.Errorf("%s of random labels is %.3f, want about 0", name, got)
		}
	}
}

// Swapping two labellers leaves kappa and turns differences around.
func TestSwappedPair(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawRatings(t, 5)
		a, b, w := r[0], r[1], ones(len(r[0]))
		for _, d := range []Disagreement{Plain, Linear, Quadratic} {
			x, y := Kappa(crossTable(a, b, w, 6), d), Kappa(crossTable(b, a, w, 6), d)
			if !datasettest.Near(x, y, 1e-12) {
				t.Fatalf("kappa is %g one way and %g the other", x, y)
			}
		}
		x, y := NewLimits(a, b), NewLimits(b, a)
		if !datasettest.Near(x.Bias, -y.Bias, 1e-12) || !datasettest.Near(x.Low, -y.High, 1e-12) {
			t.Fatalf("limits %+v and %+v", x, y)
		}
	})
}

// A weight of two counts a strike as if it were there twice.
func TestWeightsCountStrikes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawRatings(t, 5)
		var w []float64
		doubled := make([][]float64, len(r))
		for i := range r[0] {
			n := rapid.IntRange(0, 3).Draw(t, "times")
			w = append(w, float64(n))
			for k := range r {
				for range n {
					doubled[k] = append(doubled[k], r[k][i])
				}
			}
		}
		for s := Nominal; s <= Circular; s++ {
			got, want := newValues(r, s).alpha(w).Value, NewAlpha(doubled, s).Value
			if !datasettest.Near(got, want, 1e-9) {
				t.Fatalf("scale %d: alpha by weight is %g, of repeated strikes %g", s, got, want)
			}
		}
	})
}

func TestNothingToTell(t *testing.T) {
	nan := math.NaN()
	for name, ratings := range map[string][][]float64{
		"one value":     {{2, 2, 2}, {2, 2, 2}},
		"none in twain": {{1, nan}, {nan, 2}},
		"no strikes":    {{}, {}},
		"nobody":        nil,
	} {
		for s := Nominal; s <= Circular; s++ {
			if a := NewAlpha(ratings, s); !math.IsNaN(a.Value) {
				t.Errorf("%s: alpha on scale %d is %g, want none", name, s, a.Value)
			}
		}
	}
	if k := Kappa([][]float64{{0, 0}, {0, 9}}, Plain); !math.IsNaN(k) {
		t.Errorf("kappa of one class is %g, want none", k)
	}
	if k := FleissKappa([][]float64{{3, 0}, {3, 0}}); !math.IsNaN(k) {
		t.Errorf("Fleiss' kappa of one class is %g, want none", k)
	}
	if k := FleissKappa(nil); !math.IsNaN(k) {
		t.Errorf("Fleiss' kappa of no strikes is %g, want none", k)
	}
	if l := NewLimits([]float64{1, nan}, []float64{2, 3}); l.N != 1 || !math.IsNaN(l.SD) {
		t.Errorf("limits of one difference: %+v", l)
	}
}

// Bearings that differ across north differ by little.
func TestMeanTurn(t *testing.T) {
	mean, sd := meanTurn(turns([]float64{350, 5, 178, math.NaN()}, []float64{10, 25, 198, 7}), ones(4))
	if math.Abs(mean+20) > 1e-9 || sd > 1e-5 {
		t.Errorf("mean difference %g, spread %g; want -20, 0", mean, sd)
	}
}

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func claim(ms int64, source, author string, face int, band string) label.Claim {
	c := label.Claim{Session: "s", OnsetNs: ms * 1e6, Source: source, Author: author, At: noon, Face: face, Band: band}
	c.ID = c.ContentID()
	return c
}

func TestCollect(t *testing.T) {
	rg := datasettest.Rig(t)
	denied := label.Claim{Session: "s", OnsetNs: 3e9, Source: label.Hand, Author: "jo", At: noon, NotStrike: true}
	denied.ID = denied.ContentID()
	complete := label.Claim{Session: "s", OnsetNs: 0, EndNs: 3500e6, Source: label.Timed, Author: "camera", At: noon, Complete: true}
	complete.ID = complete.ContentID()
	old := claim(1000, label.Hand, "jo", 6, "low")
	anew := claim(1001, label.Hand, "jo", 1, "low")
	anew.Supersedes = []string{old.ID}
	anew.ID = anew.ContentID()
	s := Session{Name: "s", Rig: rg, Strikes: []dataset.Strike{{OnsetNs: 1e9}, {OnsetNs: 2e9}, {OnsetNs: 3e9}}, Claims: []label.Claim{
		old, anew, denied, complete,
		claim(1010, label.Timed, "camera", 2, "mid"), claim(2049, label.Timed, "camera", 3, "high"),
		claim(1020, label.Plan, "anna", 2, "loft"),
		claim(4000, label.Hand, "jo", 4, ""), claim(4030, label.Plan, "anna", 4, ""), // not found
		claim(2051, label.Hand, "al", 5, "mid"), // too late for the strike
	}}
	got, err := Collect([]Session{s}, label.MatchNs())
	if err != nil {
		t.Fatal(err)
	}
	if want := []string{"timed", "hand:al", "hand:jo", "plan"}; !reflect.DeepEqual(got.Labellers, want) {
		t.Fatalf("labellers %v, want %v", got.Labellers, want)
	}
	if got.Strikes != 5 || got.Shared != 4 || got.Sessions != 1 || got.UnknownBands != 1 {
		t.Errorf("%d strikes, %d shared, %d sessions, %d unknown bands; want 5, 4, 1, 1", got.Strikes, got.Shared, got.Sessions, got.UnknownBands)
	}
	nan := math.NaN()
	for _, c := range []struct {
		name      string
		got, want [][]float64
	}{
		// The strikes at 1, 2 and 3 s, what al alone says, and the one at 4 s.
		{"struck", got.Struck, [][]float64{{1, 1, 0, 0, nan}, {nan, nan, nan, 1, nan}, {1, nan, 0, nan, 1}, {1, nan, nan, nan, 1}}},
		{"face", got.Face, [][]float64{{2, 3, nan, nan, nan}, {nan, nan, nan, 5, nan}, {1, nan, nan, nan, 4}, {2, nan, nan, nan, 4}}},
		{"band", got.Band, [][]float64{{1, 2, nan, nan, nan}, {nan, nan, nan, 1, nan}, {0, nan, nan, nan, nan}, {nan, nan, nan, nan, nan}}},
		{"bearing", got.BearingDeg, [][]float64{{60, 120, nan, nan, nan}, {nan, nan, nan, 240, nan}, {0, nan, nan, nan, 180}, {60, nan, nan, nan, 180}}},
	} {
		for k := range c.want {
			for i, want := range c.want[k] {
				if !datasettest.Near(c.got[k][i], want, 1e-9) {
					t.Errorf("%s by %s of strike %d: %g, want %g", c.name, got.Labellers[k], i, c.got[k][i], want)
				}
			}
		}
	}
	other := datasettest.Rig(t)
	other.Faces = 4
	if _, err := Collect([]Session{s, {Name: "t", Rig: other}}, label.MatchNs()); err == nil {
		t.Error("rigs of other faces are pooled")
	}
}

// A report is the same for the same seed, its intervals hold the value, and
// another seed moves only what is resampled.
func TestReport(t *testing.T) {
	rg := datasettest.Rig(t)
	rng := rand.New(rand.NewPCG(5, 6))
	s := Session{Name: "s", Rig: rg}
	for i := range 60 {
		ms, face, deg, m := int64(1000*i), 1+rng.IntN(6), 0.0, 0.2+0.6*rng.Float64()
		s.Strikes = append(s.Strikes, dataset.Strike{OnsetNs: ms * 1e6})
		for _, who := range []string{"al", "jo", "mo"} {
			deg = bearing.Wrap360(bearing.FaceCentre(face, 6) + 20*rng.NormFloat64())
			m += 0.02 * rng.NormFloat64()
			c := label.Claim{Session: "s", OnsetNs: ms * 1e6, Source: label.Hand, Author: who, At: noon, BearingDeg: &deg, HeightM: &m, Kind: label.Kinds()[rng.IntN(2)]}
			b, h := deg, m
			c.BearingDeg, c.HeightM = &b, &h
			c.ID = c.ContentID()
			s.Claims = append(s.Claims, c)
		}
	}
	r, err := Collect([]Session{s}, label.MatchNs())
	if err != nil {
		t.Fatal(err)
	}
	rows, err := r.Report(t.Context(), Options{Seed: 1, Resamples: 300})
	if err != nil {
		t.Fatal(err)
	}
	again, _ := r.Report(t.Context(), Options{Seed: 1, Resamples: 300})
	other, _ := r.Report(t.Context(), Options{Seed: 2, Resamples: 300})
	if len(rows) != len(again) || len(rows) != len(other) {
		t.Fatalf("%d, %d and %d rows", len(rows), len(again), len(other))
	}
	if fmt.Sprint(rows) != fmt.Sprint(again) {
		t.Errorf("two runs differ:\n%v\n%v", rows, again)
	}
	measures, moved := map[string]int{}, 0
	for i, row := range rows {
		measures[row.What+" "+row.Measure]++
		if row.What == "strike" { // nobody denies one
			if !math.IsNaN(row.Value) {
				t.Errorf("%+v, want no value", row)
			}
			continue
		}
		if row.Measure == "flips" { // none, so that no draw differs
			if row.Value != 0 || !math.IsNaN(row.High) {
				t.Errorf("%+v, want none and no interval", row)
			}
			continue
		}
		if row.Strikes != 60 || !(row.Low <= row.Value && row.Value <= row.High) {
			t.Errorf("%+v: its interval does not hold it", row)
		}
		if row.Low != other[i].Low {
			moved++
		}
		if row.Measure == "alpha, circular" && (row.Value < 0.7 || row.Value > 0.95) {
			t.Errorf("bearings that scatter by 20 degrees about six faces: alpha %.3f", row.Value)
		}
	}
	for want, n := range map[string]int{
		"face alpha, nominal": 1, "face Fleiss' kappa": 1, "face kappa": 3, "band alpha, ordinal": 1, "band kappa, linear": 3, "band kappa": 3,
		"kind kappa": 3, "height alpha, interval": 1, "height bias": 3, "height lower limit": 3, "bearing mean difference": 3,
		"bearing standard deviation": 3, "bearing flips": 3, "bearing alpha, circular": 1,
	} {
		if measures[want] != n {
			t.Errorf("%d rows of %s, want %d", measures[want], want, n)
		}
	}
	if moved < 20 {
		t.Errorf("another seed moves %d intervals, want most", moved)
	}
	if rows, err := (&Ratings{}).Report(t.Context(), Options{}); len(rows) != 0 || err != nil {
		t.Errorf("of nothing: %v, %v", rows, err)
	}
}

// Of more labellers than anybody reads the pairs of, only what all agree on is told.
func TestManyAreNotPaired(t *testing.T) {
	for labellers, paired := range map[int]bool{MostPaired: true, MostPaired + 1: false} {
		s := Session{Name: "monday", Rig: datasettest.Rig(t), Strikes: []dataset.Strike{{Number: 1}, {Number: 2, OnsetNs: 1e9}}}
		for k := range labellers {
			for i := range 2 {
				s.Claims = append(s.Claims, label.Claim{ID: fmt.Sprint(k, i), OnsetNs: int64(i) * 1e9, Source: label.Hand, Author: fmt.Sprint(k), Face: 1 + i})
			}
		}
		r, err := Collect([]Session{s}, label.MatchNs())
		if err != nil {
			t.Fatal(err)
		}
		rows, err := r.Report(t.Context(), Options{Resamples: 2})
		if err != nil {
			t.Fatal(err)
		}
		all, pairs := 0, 0
		for _, row := range rows {
			if len(row.Labellers) == 2 {
				pairs++
			} else {
				all++
			}
		}
		if all == 0 || (pairs > 0) != paired {
			t.Errorf("%d labellers: %d rows of all, %d of pairs", labellers, all, pairs)
		}
	}
}

// A face that no rig has takes no room: it counts as not said.
func TestFaceBeyondTheRig(t *testing.T) {
	s := Session{Name: "monday", Rig: datasettest.Rig(t), Strikes: []dataset.Strike{{Number: 1}}}
	for k := range 2 {
		s.Claims = append(s.Claims, label.Claim{ID: fmt.Sprint(k), Source: label.Hand, Author: fmt.Sprint(k), Face: math.MaxInt32})
	}
	r, err := Collect([]Session{s}, label.MatchNs())
	if err != nil {
		t.Fatal(err)
	}
	rows, err := r.Report(t.Context(), Options{Resamples: 2})
	for _, row := range rows {
		if row.What == "face" {
			t.Errorf("faces are compared: %+v", row)
		}
	}
	if err != nil || r.UnknownFaces != 2 {
		t.Errorf("%d unknown faces, %v; want 2", r.UnknownFaces, err)
	}
}
