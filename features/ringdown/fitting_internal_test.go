package ringdown

import (
	"math/rand/v2"
	"testing"
)

// invented is a stretch of two readings of noise about a swing.
func invented(n int, rng *rand.Rand) measured {
	m := measured{}
	x, y := make([]float64, n), make([]float64, n)
	for i := range n {
		m.seconds = append(m.seconds, 0.25+0.02*float64(i))
		x[i], y[i] = 5-m.seconds[i]+rng.NormFloat64(), rng.NormFloat64()
	}
	m.series = []series{newSeries(x, y), newSeries(y)}
	return m
}

// A fit that goes from place to place and from stretch to stretch says to the last
// bit what one says that was never anywhere else.
func TestFittingKeepsNothingStale(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	kept := &fitting{}
	for _, n := range []int{80, 400, 61} {
		m := invented(n, rng)
		for _, modes := range []int{2, 1} {
			kept.take(m, modes)
			d := make(damped, 2*modes)
			for i := range d {
				d[i] = 0.3 + rng.Float64()
			}
			for range 200 {
				for range 1 + rng.IntN(2) {
					d[rng.IntN(len(d))] = 0.3 + float64(rng.IntN(4))
				}
				fresh := &fitting{}
				fresh.take(m, modes)
				if got, want := kept.misfit(d), fresh.misfit(d); got != want {
					t.Fatalf("%d readings, misfit at %v: %v after other places, %v at once", n, d, got, want)
				}
			}
		}
	}
}

// BenchmarkSlopes takes the slopes of a stretch of swing and rocking, in which
// nearly all of Measure's time goes.
func BenchmarkSlopes(b *testing.B) {
	m := invented(200, rand.New(rand.NewPCG(1, 2)))
	f := &fitting{}
	for b.Loop() {
		f.take(m, 2)
		f.slopes(damped{0.5, 0.05, 2, 0.5})
	}
}
