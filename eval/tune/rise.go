package tune

import "math/rand/v2"

// Rise is permutation importance (Breiman 2001, Machine Learning 45:5-32, section
// 10) by cyclic shifts in place of random permutations: how far each item's losses
// rise, on the mean over the shifts, when item i is given the values that belong
// to item (i + shift) mod n. Over all shifts from 1 to n-1 every item meets every
// other's values once, and nothing is left to chance.
//
// loss returns lists of each item's loss, one list a kind of loss, for the position
// that each item takes its values from; so does Rise of the rises. It returns fresh
// lists every time.
func Rise(n int, shifts []int, loss func(from []int) [][]float64) [][]float64 {
	from := make([]int, n)
	for i := range from {
		from[i] = i
	}
	base := loss(from)
	out := make([][]float64, len(base))
	for k := range out {
		out[k] = make([]float64, n)
	}
	for _, shift := range shifts {
		for i := range from {
			from[i] = (i + shift) % n
		}
		for k, values := range loss(from) {
			for i, v := range values {
				out[k][i] += (v - base[k][i]) / float64(len(shifts))
			}
		}
	}
	return out
}

// Shifts returns all shifts of n items, 1 to n-1, or as many as most of them by
// chance.
func Shifts(n, most int, rng *rand.Rand) []int {
	if n < 2 {
		return nil
	}
	all := rng.Perm(n - 1)
	for i := range all {
		all[i]++
	}
	return all[:min(most, n-1)]
}
