package label

import (
	"runtime"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// paired is a score with one pair more, and whether they may be one.
func paired(s score, a, b, tolerance int64) (score, bool) {
	return s.with(a, b), max(a-b, b-a) <= tolerance
}

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

// wholeTable is MatchTimes by the whole table of scores: of pairings that are
// equally good, the one that leaves the last of a alone, else the last of b.
func wholeTable(a, b []int64, tolerance int64) [][2]int {
	ia, ib := sortedIndex(a), sortedIndex(b)
	best := make([][]score, len(a)+1)
	for i := range best {
		best[i] = make([]score, len(b)+1)
		for j := 1; i > 0 && j <= len(b); j++ {
			top := best[i-1][j]
			if s := best[i][j-1]; s.betterThan(top) {
				top = s
			}
			if s, ok := paired(best[i-1][j-1], a[ia[i-1]], b[ib[j-1]], tolerance); ok && s.betterThan(top) {
				top = s
			}
			best[i][j] = top
		}
	}
	var pairs [][2]int
	for i, j := len(a), len(b); i > 0 && j > 0; {
		switch best[i][j] {
		case best[i-1][j]:
			i--
		case best[i][j-1]:
			j--
		default:
			i, j = i-1, j-1
			pairs = append(pairs, [2]int{ia[i], ib[j]})
		}
	}
	slices.Reverse(pairs)
	return pairs
}

// TestMatchTimesIsThatOfTheWholeTable: what lies outside the tolerance, which
// is not worked out, decides nothing, not even among equals.
func TestMatchTimesIsThatOfTheWholeTable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		times := rapid.SliceOfN(rapid.Int64Range(0, rapid.Int64Range(1, 300).Draw(t, "span")), 0, 40)
		a, b := times.Draw(t, "a"), times.Draw(t, "b")
		tolerance := rapid.Int64Range(0, 60).Draw(t, "tolerance")
		if got, want := MatchTimes(a, b, tolerance), wholeTable(a, b, tolerance); !slices.Equal(got, want) {
			t.Fatalf("MatchTimes = %v, the whole table gives %v", got, want)
		}
	})
}

// TestMatchTimesOfManyIsSmall: times without a break take memory by how many
// lie within the tolerance of each other, not by how many there are.
func TestMatchTimesOfManyIsSmall(t *testing.T) {
	const many, apartNs, mostBytes = 20_000, 2_000_000, 16 << 20
	a, b := make([]int64, many), make([]int64, many)
	for i := range a {
		a[i], b[i] = int64(i)*apartNs, int64(i)*apartNs+100_000
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	pairs := MatchTimes(a, b, matchNs)
	runtime.ReadMemStats(&after)
	if len(pairs) != many {
		t.Errorf("%d pairs of %d", len(pairs), many)
	}
	if got := after.TotalAlloc - before.TotalAlloc; got > mostBytes {
		t.Errorf("%d MB were taken, want at most %d", got>>20, mostBytes>>20)
	}
}
