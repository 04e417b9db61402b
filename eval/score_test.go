package eval

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/models"
)

var both = []string{"bearing", "height"}

func testRig() *rig.Rig {
	return &rig.Rig{Name: "shed", Revision: 1, Faces: 6, Bag: rig.Bag{LengthM: 1},
		Bands: []rig.Band{{Name: "low", ToM: 0.35}, {Name: "mid", ToM: 0.65}, {Name: "high"}}}
}

func TestNewScore(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name  string
		e     models.Estimate
		truth Target
		gives []string
		want  Score
	}{
		{"right", models.Estimate{BearingDeg: 355, HeightM: 0.5, BearingHalf90Deg: 12, HeightHalf90M: 0.05}, Target{BearingDeg: 5, HeightM: 0.52}, both,
			Score{BearingErrDeg: -10, HeightErrM: -0.02, RightFace: 1, RightBand: 1, BearingInside: 1, HeightInside: 1, BearingHalfDeg: 12, HeightHalfM: 0.05, BearingCRPSDeg: nan}},
		{"flip, wrong band, outside", models.Estimate{BearingDeg: 180, HeightM: 0.9, BearingHalf90Deg: 12, HeightHalf90M: 0.05}, Target{BearingDeg: 0, HeightM: 0.1}, both,
			Score{BearingErrDeg: 180, HeightErrM: 0.8, BearingHalfDeg: 12, HeightHalfM: 0.05, BearingCRPSDeg: nan}},
		{"no answer pays dearly", models.Estimate{BearingDeg: nan, HeightM: nan}, Target{BearingDeg: 0, HeightM: 0.1}, both,
			Score{BearingErrDeg: 180, HeightErrM: 1, BearingHalfDeg: nan, HeightHalfM: nan, BearingCRPSDeg: 180}},
		{"truth without height", models.Estimate{BearingDeg: 10, HeightM: 0.5}, Target{BearingDeg: 0, HeightM: nan}, both,
			Score{BearingErrDeg: 10, HeightErrM: nan, RightFace: 1, RightBand: nan, BearingInside: nan, HeightInside: nan, BearingHalfDeg: nan, HeightHalfM: nan, BearingCRPSDeg: nan}},
		{"detector without height", models.Estimate{BearingDeg: 40, HeightM: 0}, Target{BearingDeg: 0, HeightM: 0.5}, both[:1],
			Score{BearingErrDeg: 40, HeightErrM: nan, RightBand: nan, BearingInside: nan, HeightInside: nan, BearingHalfDeg: nan, HeightHalfM: nan, BearingCRPSDeg: nan}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := NewScore(c.e, c.truth, testRig(), c.gives)
			g, w := fields(got), fields(c.want)
			for i := range g {
				if math.Abs(g[i]-w[i]) > 1e-12 || math.IsNaN(g[i]) != math.IsNaN(w[i]) {
					t.Errorf("got %+v, want %+v", got, c.want)
					break
				}
			}
		})
	}
}

func fields(s Score) []float64 {
	return []float64{s.BearingErrDeg, s.HeightErrM, s.RightFace, s.RightBand, s.BearingInside, s.HeightInside, s.BearingHalfDeg, s.HeightHalfM, s.BearingCRPSDeg}
}

// Turning estimate and truth together changes no bearing error; mirroring the
// bag changes its sign.
func TestBearingErrorTurnsWithTheBag(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0, 360).Draw(t, "estimate")
		b := rapid.Float64Range(0, 360).Draw(t, "truth")
		by := rapid.Float64Range(-720, 720).Draw(t, "turn")
		err := func(e, truth float64) float64 {
			return NewScore(models.Estimate{BearingDeg: e}, Target{BearingDeg: truth, HeightM: math.NaN()}, testRig(), both).BearingErrDeg
		}
		if d := math.Abs(bearing.Diff(err(a, b), err(a+by, b+by))); d > 1e-9 {
			t.Fatalf("turned by %g, the error moves by %g", by, d)
		}
		if d := math.Abs(bearing.Diff(err(a, b), -err(-a, -b))); d > 1e-9 {
			t.Fatalf("mirrored, the error differs by %g", d)
		}
	})
}

// circularCRPSBySum is the definition by brute force over a fine grid.
func circularCRPSBySum(errDeg float64, stated bearing.Spread) float64 {
	const n = 720
	p := make([]float64, n)
	var total float64
	for i := range p {
		p[i] = stated.Density(bearing.Wrap180(360 * float64(i) / n))
		total += p[i]
	}
	var toTruth, apart float64
	for i := range p {
		x := 360 * float64(i) / n
		toTruth += p[i] / total * math.Abs(bearing.Diff(x, errDeg))
		for j := range p {
			apart += p[i] / total * p[j] / total * math.Abs(bearing.Diff(x, 360*float64(j)/n))
		}
	}
	return toTruth - apart/2
}

func TestCircularCRPS(t *testing.T) {
	for _, flip := range []float64{0, 0.04, 0.3} {
		for _, kappa := range []float64{3000, 300, 8, 0.3} {
			stated := bearing.Spread{Kappa: kappa, FlipShare: flip}
			for _, err := range []float64{0, 2, 25, -100, 180} {
				near(t, "CircularCRPS", CircularCRPS(err, stated), circularCRPSBySum(err, stated), 0.03)
			}
		}
	}
	near(t, "without spread", CircularCRPS(-7, bearing.SpreadOf(0, 0)), 7, 1e-9)
	near(t, "hardly any spread", CircularCRPS(3, bearing.SpreadOf(0.06, 0)), 3, 0.04)
	for _, err := range []float64{0, 40, 175} { // the two formulas meet
		near(t, "flips alone", CircularCRPS(err, bearing.Spread{Kappa: 1.01e6, FlipShare: 0.2}),
			CircularCRPS(err, bearing.Spread{Kappa: 0.99e6, FlipShare: 0.2}), 0.05)
	}
}

// On average the score is least for the distribution that the errors come from.
func TestCircularCRPSRewardsTheTruth(t *testing.T) {
	errors := bearing.Spread{Kappa: 40, FlipShare: 0.1}
	mean := func(stated bearing.Spread) float64 {
		var sum float64
		for deg := -179.5; deg < 180; deg++ {
			sum += errors.Density(deg) * bearing.Rad(1) * CircularCRPS(deg, stated)
		}
		return sum
	}
	least := mean(errors)
	for _, other := range []bearing.Spread{{Kappa: 20, FlipShare: 0.1}, {Kappa: 80, FlipShare: 0.1}, {Kappa: 40}, {Kappa: 40, FlipShare: 0.2}} {
		if got := mean(other); got <= least {
			t.Errorf("%+v scores %.4f, the truth itself %.4f", other, got, least)
		}
	}
}

func TestWeightedQuantile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 30).Draw(t, "n")
		p := rapid.SampledFrom([]float64{0, 0.25, 0.5, 0.95, 1}).Draw(t, "p")
		values, owner := make([]float64, n), make([]int, n)
		for i := range values {
			values[i] = float64(rapid.IntRange(0, 9).Draw(t, "value"))
			owner[i] = rapid.IntRange(0, 4).Draw(t, "unit")
		}
		w := make([]float64, 5)
		var repeated []float64 // each value as often as its unit counts
		for u := range w {
			w[u] = float64(rapid.IntRange(0, 3).Draw(t, "weight"))
		}
		for i, v := range values {
			for range int(w[owner[i]]) {
				repeated = append(repeated, v)
			}
		}
		got := weightedQuantile(values, owner, p)(w)
		if len(repeated) == 0 {
			if !math.IsNaN(got) {
				t.Fatalf("quantile of nothing = %g", got)
			}
			return
		}
		slices.Sort(repeated)
		if want := quantileOfSorted(repeated, p); math.Abs(got-want) > 1e-12 {
			t.Fatalf("weighted quantile %g of %v = %g, want %g", p, repeated, got, want)
		}
	})
}

func TestMeasureOf(t *testing.T) {
	var scores []Score
	for _, e := range []float64{-10, 10, 20, 150} {
		s := noScore()
		s.BearingErrDeg = e
		scores = append(scores, s)
	}
	for name, want := range map[string]float64{
		BearingMAE: 47.5, "bearing_median_deg": 15, "bearing_p95_deg": 130.5, "flip_share": 0.25,
		"bearing_bias_deg": bearing.Deg(math.Atan2(
			math.Sin(bearing.Rad(20))+math.Sin(bearing.Rad(150)),
			2*math.Cos(bearing.Rad(10))+math.Cos(bearing.Rad(20))+math.Cos(bearing.Rad(150)))),
	} {
		m, ok := MeasureByName(name)
		if !ok {
			t.Fatalf("no measure %s", name)
		}
		got, n := m.Of(scores)
		near(t, name, got, want, 1e-9)
		if n != 4 {
			t.Errorf("%s counts %d, want 4", name, n)
		}
	}
	m, _ := MeasureByName(HeightMAE)
	if v, n := m.Of(scores); !math.IsNaN(v) || n != 0 {
		t.Errorf("height error without heights = %g of %d, want NaN of 0", v, n)
	}
	if _, ok := MeasureByName("luck"); ok {
		t.Error("there is a measure called luck")
	}
}

// A bias near 180 degrees must not have an interval across the whole circle.
func TestBiasAcrossTheCut(t *testing.T) {
	var scores []Score
	unit := make([]int, 40)
	for i := range unit {
		s := noScore()
		s.BearingErrDeg = bearing.Wrap180(179 + float64(i%5))
		scores = append(scores, s)
		unit[i] = i
	}
	m, _ := MeasureByName("bearing_bias_deg")
	f := m.column(scores).figure(unit, newResampler(40, 500, stream(1, "cut")), 0.95)
	if f.High-f.Low > 3 || !(f.Low <= f.Value && f.Value <= f.High) {
		t.Errorf("bias %+v, want a narrow interval about it", f)
	}
}
