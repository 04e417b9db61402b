package doubt

import "math"

// shifts are the states of a label in its session: it belongs to its own
// strike, or to one or two later (positive) or earlier.
func shifts() []int { return []int{0, 1, -1, 2, -2} }

const (
	slipStarts = 0.001 // a label, that a slip by one either way begins at it
	slipEnds   = 0.04  // a label of a slip, that it is the last
	leastSlip  = 3     // labels; shorter ones are single wrong labels
)

// passage returns the log probability of going from one state to another: one
// by two is a fifth as likely as one by one.
func passage(from, to int) float64 {
	steps := shifts()
	begin := func(k int) float64 {
		if steps[k] == 1 || steps[k] == -1 {
			return slipStarts / 2.4
		}
		return slipStarts / 2.4 / 5
	}
	switch {
	case from == to && from == 0:
		return math.Log1p(-slipStarts)
	case from == to:
		return math.Log1p(-slipEnds)
	case from == 0:
		return math.Log(begin(to))
	case to == 0:
		return math.Log(0.9 * slipEnds)
	}
	return math.Log(0.1 * slipEnds / float64(len(steps)-2)) // from one slip into another
}

// sequence runs the hidden Markov model over a session: emission[i][k] is the
// log density of label i in state k. It returns the posterior of each state and
// the likeliest path.
func sequence(emission [][]float64) (posterior [][]float64, path []int) {
	n, m := len(emission), len(shifts())
	if n == 0 {
		return nil, nil
	}
	forward, backward := table(n, m), table(n, m)
	best, from := table(n, m), make([][]int, n)
	for i := range n {
		from[i] = make([]int, m)
		for k := range m {
			if i == 0 {
				forward[i][k] = passage(0, k) + emission[i][k]
				best[i][k] = forward[i][k]
				continue
			}
			terms := make([]float64, m)
			best[i][k] = math.Inf(-1)
			for j := range m {
				terms[j] = forward[i-1][j] + passage(j, k)
				if v := best[i-1][j] + passage(j, k); v > best[i][k] {
					best[i][k], from[i][k] = v, j
				}
			}
			forward[i][k] = logSum(terms) + emission[i][k]
			best[i][k] += emission[i][k]
		}
	}
	for i := n - 2; i >= 0; i-- {
		for k := range m {
			terms := make([]float64, m)
			for j := range m {
				terms[j] = passage(k, j) + emission[i+1][j] + backward[i+1][j]
			}
			backward[i][k] = logSum(terms)
		}
	}
	all := logSum(forward[n-1])
	posterior = table(n, m)
	for i := range n {
		for k := range m {
			posterior[i][k] = math.Exp(forward[i][k] + backward[i][k] - all)
		}
	}
	path = make([]int, n)
	for k := range m {
		if best[n-1][k] > best[n-1][path[n-1]] {
			path[n-1] = k
		}
	}
	for i := n - 1; i > 0; i-- {
		path[i-1] = from[i][path[i]]
	}
	return posterior, path
}

func table(n, m int) [][]float64 {
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, m)
	}
	return out
}

// logSum is the logarithm of the sum of exponentials.
func logSum(x []float64) float64 {
	top := math.Inf(-1)
	for _, v := range x {
		top = math.Max(top, v)
	}
	if math.IsInf(top, -1) {
		return top
	}
	sum := 0.0
	for _, v := range x {
		sum += math.Exp(v - top)
	}
	return top + math.Log(sum)
}
