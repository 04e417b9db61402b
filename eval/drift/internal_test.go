package drift

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"strikerose/models"
)

// Drawn is a session of 80 strikes whose numbers are drawn at random, shifted by
// so many standard deviations, and whose figures are right but for their errors.
func Drawn(seed, session uint64, shift float64) models.Seen {
	rng := rand.New(rand.NewPCG(seed, session))
	s := models.Seen{Session: "drawn", Rig: "garage-r1", Strikes: 80}
	for _, n := range numbers() {
		var v []float64
		for range s.Strikes {
			v = append(v, rng.NormFloat64()+shift)
		}
		s.Spreads = append(s.Spreads, spreadOf(n.name, v))
	}
	for _, g := range figures() {
		s.Figures = append(s.Figures, models.SeenFigure{Name: g.name, Value: 1 + 0.003*rng.NormFloat64(), SD: 0.003})
	}
	return s
}

// TestKolmogorov holds the limit against scipy.special.kolmogorov, scipy 1.10.1.
func TestKolmogorov(t *testing.T) {
	for _, c := range []struct{ x, want float64 }{
		{0.3, 0.9999906941986655},
		{0.5, 0.9639452436648751},
		{0.8276, 0.49995841656354456},
		{1.0, 0.26999967167735456},
		{1.3581, 0.0499996304316674},
		{1.6276, 0.010001537333060776},
		{2.5, 7.453306344157342e-06},
		{0, 1},
	} {
		if got := kolmogorov(c.x); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("kolmogorov(%g) = %.15g, not %.15g", c.x, got, c.want)
		}
	}
}

// TestSmirnov holds distance and p-value against scipy.stats.ks_2samp, scipy
// 1.10.1: the exact p-value of a small sample, which the limit approximates.
func TestSmirnov(t *testing.T) {
	old := []float64{0.61, 0.29, 0.06, 0.59, -1.73, -0.74, 0.51, -0.56, 0.39, 1.64, 0.05, -0.06, 0.64, -0.82, 0.37, 1.77, 1.09, -1.28, 2.36, 1.31, 1.05, -0.32, -0.40, 1.06, -2.47}
	now := []float64{2.20, 1.66, 1.38, 0.20, 0.36, 0.00, 0.96, 1.56, 0.44, 1.50, -0.30, 0.66, 2.31, 3.29, -0.27, -0.37, 0.38, 0.70, 0.52, -0.71}
	// In two parts: pooling must not matter.
	d, p := smirnov([]models.SeenSpread{spreadOf("x", slices.Clone(old[:9])), spreadOf("x", slices.Clone(old[9:]))}, spreadOf("x", now))
	if math.Abs(d-0.23) > 1e-9 || math.Abs(p-0.5286) > 0.03 {
		t.Errorf("distance %.12g and p %.4g, not 0.23 and about 0.5286", d, p)
	}
}

// TestLongSpreads keeps 33 order statistics of many strikes, ends included.
func TestLongSpreads(t *testing.T) {
	var v []float64
	for i := range 1001 {
		v = append(v, float64((i*37)%1001))
	}
	s := spreadOf("x", v)
	if s.N != 1001 || len(s.Quantiles) != keptQuantiles || s.Quantiles[0] != 0 || s.Quantiles[32] != 1000 || s.Quantiles[16] != 500 {
		t.Errorf("%d strikes kept as %v", s.N, s.Quantiles)
	}
}
