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

func matchCluster(a, b []int64, ia, ib []int, toleranceNs int64) [][2]int {
	if len(ia) == 0 || len(ib) == 0 {
		return nil
	}
	width := len(ib) + 1
	best := make([]score, (len(ia)+1)*width)
	for i := 1; i <= len(ia); i++ {
		for j := 1; j <= len(ib); j++ {
			s := best[(i-1)*width+j]
			if t := best[i*width+j-1]; t.betterThan(s) {
				s = t
			}
			if t, ok := paired(best[(i-1)*width+j-1], a[ia[i-1]], b[ib[j-1]], toleranceNs); ok && t.betterThan(s) {
				s = t
			}
			best[i*width+j] = s
		}
	}
	var pairs [][2]int
	for i, j := len(ia), len(ib); i > 0 && j > 0; {
		switch s := best[i*width+j]; {
		case s == best[(i-1)*width+j]:
			i--
		case s == best[i*width+j-1]:
			j--
		default:
			i, j = i-1, j-1
			pairs = append(pairs, [2]int{ia[i], ib[j]})
		}
	}
	slices.Reverse(pairs)
	return pairs
}

func paired(s score, a, b, toleranceNs int64) (score, bool) {
	d := a - b
	if d < 0 {
		d = -d
	}
	return score{pairs: s.pairs + 1, distNs: s.distNs + d}, d <= toleranceNs
}
