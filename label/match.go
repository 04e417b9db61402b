package label

import (
	"cmp"
	"slices"
)

// MatchTimes pairs times of a with times of b, one to one, such that no pair
// is further apart than the tolerance, as many pairs as possible are made and,
// among those, the sum of the distances is least. The times need no order.
// Pairs hold positions in a and b and come in order of time.
//
// On a line an optimal pairing never crosses, so dynamic programming over
// both sorted lists finds it (common knowledge, no source); the lists are cut
// where neighbours are further apart than the tolerance.
func MatchTimes(a, b []int64, toleranceNs int64) [][2]int {
	if toleranceNs < 0 {
		return nil
	}
	ia, ib := sortedIndex(a), sortedIndex(b)
	var pairs [][2]int
	i, j := 0, 0
	for i < len(ia) && j < len(ib) {
		// One cluster: from the earlier of the two on, as long as the next time
		// of either list lies within the tolerance of the latest so far.
		i0, j0 := i, j
		last := min(a[ia[i]], b[ib[j]])
		for {
			if i < len(ia) && a[ia[i]]-last <= toleranceNs {
				last = max(last, a[ia[i]])
				i++
			} else if j < len(ib) && b[ib[j]]-last <= toleranceNs {
				last = max(last, b[ib[j]])
				j++
			} else {
				break
			}
		}
		pairs = append(pairs, matchCluster(a, b, ia[i0:i], ib[j0:j], toleranceNs)...)
	}
	return pairs
}

func sortedIndex(t []int64) []int {
	out := make([]int, len(t))
	for i := range out {
		out[i] = i
	}
	slices.SortStableFunc(out, func(x, y int) int { return cmp.Compare(t[x], t[y]) })
	return out
}

// score of a partial pairing: more pairs first, then less distance.
type score struct {
	pairs  int
	distNs int64
}

func (s score) betterThan(t score) bool {
	return s.pairs > t.pairs || s.pairs == t.pairs && s.distNs < t.distNs
}

// matchCluster pairs the times of one cluster, given by their positions in
// order of time. Of the table of best scores, by how many of a and of b are
// dealt with, only the cells of pairs within the tolerance are worked out: to
// their left the score is that of the row above, to their right that of the
// last one. One row of scores is kept, and of each cell the step that led there.
func matchCluster(a, b []int64, ia, ib []int, toleranceNs int64) [][2]int {
	type span struct{ low, high, at int } // columns low+1 to high, the steps of which begin at at
	spans := make([]span, len(ia)+1)      // by row; none of a has no cells
	for i := 1; i <= len(ia); i++ {
		last := spans[i-1]
		s := span{last.low, last.high, last.at + last.high - last.low}
		t := a[ia[i-1]]
		for s.low < len(ib) && t-b[ib[s.low]] > toleranceNs {
			s.low++
		}
		for s.high = max(s.high, s.low); s.high < len(ib) && b[ib[s.high]]-t <= toleranceNs; {
			s.high++
		}
		spans[i] = s
	}
	last := spans[len(ia)]
	taken := newSteps(last.at + last.high - last.low)
	best := make([]score, len(ib)+1) // of the row above, up to its span's end
	for i := 1; i <= len(ia); i++ {
		s := spans[i]
		for j := spans[i-1].high; j < s.high; j++ {
			best[j+1] = best[j]
		}
		diagonal := best[s.low]
		for j := s.low + 1; j <= s.high; j++ {
			top, step := best[j], skipA
			if left := best[j-1]; left.betterThan(top) {
				top, step = left, skipB
			}
			if both := diagonal.with(a[ia[i-1]], b[ib[j-1]]); both.betterThan(top) {
				top, step = both, pairBoth
			}
			taken.set(s.at+j-s.low-1, step)
			diagonal, best[j] = best[j], top
		}
	}
	var pairs [][2]int
	for i, j := len(ia), len(ib); i > 0; {
		s := spans[i]
		if j = min(j, s.high); j <= s.low {
			i--
			continue
		}
		switch taken.at(s.at + j - s.low - 1) {
		case skipA:
			i--
		case skipB:
			j--
		case pairBoth:
			i, j = i-1, j-1
			pairs = append(pairs, [2]int{ia[i], ib[j]})
		}
	}
	slices.Reverse(pairs)
	return pairs
}

// step is how a cell of the table of scores was reached.
type step byte

const (
	skipA    step = iota // the time of a stays alone
	skipB                // that of b does
	pairBoth             // they are a pair
)

// steps holds steps, four to the byte.
type steps []byte

func newSteps(n int) steps { return make(steps, (n+3)/4) }

// set sets the k-th step, which must not have been set before.
func (s steps) set(k int, to step) { s[k/4] |= byte(to) << (k % 4 * 2) }

func (s steps) at(k int) step { return step(s[k/4]>>(k%4*2)) & 3 }

// with is the score of one pair more.
func (s score) with(a, b int64) score {
	return score{pairs: s.pairs + 1, distNs: s.distNs + max(a-b, b-a)}
}
