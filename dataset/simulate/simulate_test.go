package simulate_test

import (
	"context"
	"math"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/simulate"
	"strikerose/features/chain"
)

func session(t testing.TB, o simulate.Options) *simulate.Session {
	t.Helper()
	s, err := simulate.NewSession(o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestFinderX(t *testing.T) {
	r := datasettest.Rig(t)
	s := session(t, simulate.Usual(r, 300, 5))
	sig := s.Signal()
	w, err := chain.Run(context.Background(), r, sig, chain.Options{PreMs: 10, PostMs: 50})
	if err != nil {
		t.Fatal(err)
	}
	truth := s.Truth()
	hit := 0
	for _, x := range truth {
		for _, v := range w {
			if math.Abs(float64(v.Strike.OnsetNs)/1e9-x.TimeS) < 0.05 {
				hit++
				break
			}
		}
	}
	var most, least, mostG float64
	least = 99
	for i := range sig.A[2] {
		most = max(most, float64(sig.A[2][i]))
		least = min(least, float64(sig.A[2][i]))
		mostG = max(mostG, math.Abs(float64(sig.G[0][i])))
	}
	t.Log(len(truth), len(w), hit, sig.Len(), most, least, mostG)
}

func BenchmarkSession(b *testing.B) {
	r := datasettest.Rig(b)
	s := session(b, simulate.Usual(r, 200, 1))
	n := 0.0
	for b.Loop() {
		_ = s.Each(func(x simulate.Sample) error { n = max(n, x.TimeS); return nil })
	}
	b.ReportMetric(n*float64(b.N)/b.Elapsed().Seconds(), "x_real_time")
}
