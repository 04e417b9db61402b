package label

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// bestPairing tries every pairing: the most pairs, then the least distance.
func bestPairing(a, b []int64, tolerance int64) score {
	if len(a) == 0 {
		return score{}
	}
	best := bestPairing(a[1:], b, tolerance)
	for j := range b {
		rest := slices.Delete(slices.Clone(b), j, j+1)
		if s, ok := paired(bestPairing(a[1:], rest, tolerance), a[0], b[j], tolerance); ok && s.betterThan(best) {
			best = s
		}
	}
	return best
}

func TestMatchTimesIsBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		times := rapid.SliceOfN(rapid.Int64Range(0, 40), 0, 6)
		a, b := times.Draw(t, "a"), times.Draw(t, "b")
		tolerance := rapid.Int64Range(-1, 12).Draw(t, "tolerance")
		var got score
		usedA, usedB := make(map[int]bool), make(map[int]bool)
		last := int64(-1)
		for _, p := range MatchTimes(a, b, tolerance) {
			s, ok := paired(got, a[p[0]], b[p[1]], tolerance)
			if !ok || usedA[p[0]] || usedB[p[1]] || a[p[0]] < last {
				t.Fatalf("pair %v is too far apart, used twice or out of order", p)
			}
			got, last = s, a[p[0]]
			usedA[p[0]], usedB[p[1]] = true, true
		}
		if want := bestPairing(a, b, tolerance); got != want {
			t.Fatalf("MatchTimes reaches %+v, the best is %+v", got, want)
		}
	})
}

func TestMatchTimesPrefersMorePairs(t *testing.T) {
	// Nearest first would pair 100 with 104 and leave two alone.
	got := MatchTimes([]int64{100, 110}, []int64{104, 60}, 45)
	if want := [][2]int{{0, 1}, {1, 0}}; !slices.Equal(got, want) {
		t.Errorf("MatchTimes = %v, want %v", got, want)
	}
}
