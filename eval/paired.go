package eval

import (
	"math"
	"math/rand/v2"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

// exactFlips is the number of units up to which the sign-flip test goes
// through every arrangement (65,536 of them).
const exactFlips = 16

// SignFlip is the two-sided paired randomisation test of R. A. Fisher (1935,
// The Design of Experiments, section 21): if two detectors were alike, each
// unit's difference could as well have the other sign. P is the share of
// arrangements of signs whose sum is at least as far from 0 as the sum of d:
// of all of them up to 16 units, else of that many random ones, the observed
// one counted in.
func SignFlip(d []float64, arrangements int, rng *rand.Rand) float64 {
	var sum, size float64
	for _, x := range d {
		sum += x
		size += math.Abs(x)
	}
	if size == 0 {
		return 1
	}
	limit := math.Abs(sum) - 1e-12*size // equal sums must count whatever the order of adding
	if len(d) <= exactFlips {
		hits := 0
		for mask := range 1 << len(d) {
			var s float64
			for i, x := range d {
				if mask>>i&1 == 1 {
					x = -x
				}
				s += x
			}
			if math.Abs(s) >= limit {
				hits++
			}
		}
		return float64(hits) / float64(int(1)<<len(d))
	}
	hits := 1
	for range arrangements {
		var s float64
		var bits uint64
		for i, x := range d {
			if i%64 == 0 {
				bits = rng.Uint64()
			}
			if bits&1 == 1 {
				x = -x
			}
			bits >>= 1
			s += x
		}
		if math.Abs(s) >= limit {
			hits++
		}
	}
	return float64(hits) / float64(arrangements+1)
}

// wilcoxonExact is the number of differences up to which the signed-rank
// distribution is worked out exactly.
const wilcoxonExact = 100

// Wilcoxon is the signed-rank test of paired differences (Wilcoxon 1945,
// Biometrics Bulletin 1:80-83): v is the sum of the ranks of the positive
// ones, p the two-sided probability. Zeros are dropped and ties share their
// mean rank; the distribution is that given the ranks, exact up to 100
// differences and normal beyond. Without differences v is 0 and p 1.
func Wilcoxon(d []float64) (v, p float64) {
	var x []float64
	for _, a := range d {
		if a != 0 {
			x = append(x, a)
		}
	}
	sort.SliceStable(x, func(i, j int) bool { return math.Abs(x[i]) < math.Abs(x[j]) })
	twice := make([]int, len(x)) // ranks doubled, so that shared ones are whole
	for i := 0; i < len(x); {
		j := i
		for j < len(x) && math.Abs(x[j]) == math.Abs(x[i]) {
			j++
		}
		for k := i; k < j; k++ {
			twice[k] = i + 1 + j
		}
		i = j
	}
	total, positive := 0, 0
	for i, r := range twice {
		total += r
		if x[i] > 0 {
			positive += r
		}
	}
	v = float64(positive) / 2
	if len(x) == 0 {
		return 0, 1
	}
	small := min(positive, total-positive)
	if len(x) > wilcoxonExact {
		return v, min(1, 2*signedRankNormal(twice, small))
	}
	return v, min(1, 2*signedRankExact(twice, small))
}

// signedRankExact is the probability that the doubled ranks of the positive
// differences sum to at most limit when every sign is as likely as the other.
func signedRankExact(twice []int, limit int) float64 {
	total := 0
	for _, r := range twice {
		total += r
	}
	prob := make([]float64, total+1)
	prob[0] = 1
	reach := 0
	for _, r := range twice {
		reach += r
		for s := reach; s >= 0; s-- {
			p := prob[s] / 2
			if s >= r {
				p += prob[s-r] / 2
			}
			prob[s] = p
		}
	}
	var tail float64
	for s := range limit + 1 {
		tail += prob[s]
	}
	return tail
}

// signedRankNormal is the same by the normal distribution.
func signedRankNormal(twice []int, limit int) float64 {
	var total, squares float64
	for _, r := range twice {
		total += float64(r)
		squares += float64(r) * float64(r)
	}
	return distuv.UnitNormal.CDF((float64(limit) - total/2) / (math.Sqrt(squares) / 2))
}

// Holm corrects p-values for their number (Holm 1979, Scandinavian Journal of
// Statistics 6:65-70). The order is kept.
func Holm(p []float64) []float64 {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return p[order[a]] < p[order[b]] })
	out := make([]float64, len(p))
	var running float64
	for k, i := range order {
		running = max(running, min(1, float64(len(p)-k)*p[i]))
		out[i] = running
	}
	return out
}

// smallestP is the least p-value that the sign-flip test can give for so many
// units; it grows with the number of comparisons that Holm corrects for.
func smallestP(units, arrangements, comparisons int) float64 {
	p := 2 / math.Pow(2, float64(units))
	if units > exactFlips {
		p = max(p, 1/float64(arrangements+1))
	}
	return min(1, p*float64(max(1, comparisons)))
}
