package onset

// A second difference of boxcar means, over k samples each,
//
//	d(n) = S(n-k) - (S(n) + S(n-2k)) / 2,   S(n) the mean of the last k samples,
//
// is blind to a constant and to a slope: gravity that leaks in, swing and most
// of the rocking vanish. It answers to what happens within 3k samples.

// difference is a running second difference of one axis, times 2k.
//
// The sum of three boxcars changes from one sample to the next by
// -x[n] + 3 x[n-k] - 3 x[n-2k] + x[n-3k]. Samples lie on a grid (gridMPS2), so
// every step is exact and the running sum never drifts.
type difference struct {
	k   int
	sum float64
}

// push takes x[n], x[n-k], x[n-2k] and x[n-3k].
func (d *difference) push(x0, x1, x2, x3 float64) {
	d.sum += 3*(x1-x2) + (x3 - x0)
}

// toGrid has the grid as the step of its last bit, so that adding it rounds a
// reading to the grid, the nearest and at a tie the even one. Readings lie far
// below it, so that no sum leaves its binade.
const toGrid = 3 << 51 * gridMPS2

// snap rounds a reading to the grid.
func snap(a [3]float64) [3]float64 {
	for k := range a {
		a[k] = (a[k] + toGrid) - toGrid
	}
	return a
}

// prefix holds running totals of an event's samples: prefix[i] is the sum of
// the first i. Sums over a stretch are differences of two, exact on the grid.
type prefix [][3]float64

func (p prefix) fill(x [][3]float64) {
	p[0] = [3]float64{}
	for i, a := range x {
		for k := range a {
			p[i+1][k] = p[i][k] + a[k]
		}
	}
}

// mean returns the mean of samples from to to-1, clipped to those there are;
// it is 0 where none are left.
func (p prefix) mean(from, to int) (m [3]float64) {
	from, to = max(from, 0), min(to, len(p)-1)
	if to <= from {
		return m
	}
	for k := range m {
		m[k] = (p[to][k] - p[from][k]) / float64(to-from)
	}
	return m
}

// second returns the second difference of boxcars of k samples that ends with
// sample n; n must be 3k - 1 at least.
func (p prefix) second(n, k int) (d [3]float64) {
	for i := range d {
		newest := p[n+1][i] - p[n+1-k][i]
		middle := p[n+1-k][i] - p[n+1-2*k][i]
		oldest := p[n+1-2*k][i] - p[n+1-3*k][i]
		d[i] = (2*middle - newest - oldest) / float64(2*k)
	}
	return d
}

// across2 is the squared size of a vector's horizontal part.
func across2(a [3]float64) float64 { return float64(a[0]*a[0]) + float64(a[1]*a[1]) }
