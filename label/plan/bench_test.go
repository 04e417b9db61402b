package plan

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

func BenchmarkAlign(b *testing.B) {
	for _, n := range []int{100, 400} {
		b.Run(fmt.Sprintf("entries=%d", n), func(b *testing.B) {
			rng := rand.New(rand.NewPCG(1, 2))
			entries := randomPlan(n, rng)
			finds, _ := blur{sdDeg: 8, hookDeg: 20, flipLow: 0.5, dropShare: 0.03, extras: n / 10, heightSD: 0.05}.finds(carryOut(entries, rng), rng)
			for b.Loop() {
				if _, err := Align(b.Context(), entries, finds, Options{Faces: 6}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// randomPlan draws a plan, one entry in eight the first of a double hit.
func randomPlan(n int, rng *rand.Rand) []Entry {
	bands := []string{"low", "mid", "high"}
	kinds := []string{"straight", "straight", "straight", "hook", "uppercut", "tap"}
	var out []Entry
	for len(out) < n {
		e := Entry{Order: len(out) + 1, Face: 1 + rng.IntN(6), Band: bands[rng.IntN(3)], Kind: kinds[rng.IntN(6)]}
		if last := len(out) - 1; last >= 0 && out[last].Pair == "one" {
			e.Pair = "two"
		} else if rng.IntN(8) == 0 && len(out) < n-1 {
			e.Pair = "one"
		}
		out = append(out, e)
	}
	return out
}

// carryOut strikes a plan: one strike every two seconds, aimed with the usual scatter.
func carryOut(entries []Entry, rng *rand.Rand) []struck {
	heights := map[string]float64{"low": 0.22, "mid": 0.5, "high": 0.78}
	var out []struck
	t := 0.0
	for _, e := range entries {
		if e.Pair == "two" {
			t += 0.2 + 0.15*rng.Float64()
		} else {
			t += 1 + 2*rng.Float64()
		}
		out = append(out, struck{
			timeS: t, bearingDeg: float64(60*(e.Face-1)) + 8*rng.NormFloat64(), heightM: heights[e.Band] + 0.04*rng.NormFloat64(),
			planOrder: e.Order, band: e.Band, kind: e.Kind,
		})
	}
	return out
}
