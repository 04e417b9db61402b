package ringdown

import (
	"math"
	"slices"
)

// fitting fits modes to one stretch, at one place after another. It keeps what a
// place shares with the last one: waves of modes that have not moved, and the
// basis up to the first that has.
type fitting struct {
	measured
	at    damped      // the last place; NaN before the first
	waves []wave      // of each mode there
	room  [][]float64 // for a basis and what is left of a column
	basis [][]float64 // orthonormal, of an offset and the damped sinusoids
	upTo  []int       // how much of the basis comes before each mode
}

// wave is a mode over the times of a stretch: cosine and sine of its angle, and
// its size as it decays.
type wave struct{ cosine, sine, size []float64 }

// take turns to another stretch and so many modes, in the room of the last.
func (f *fitting) take(m measured, modes int) {
	n := len(m.seconds)
	fit := func(v *[]float64) { *v = slices.Grow((*v)[:0], n)[:n] }
	if len(f.waves) != modes {
		f.at, f.waves, f.upTo = make(damped, 2*modes), make([]wave, modes), make([]int, modes)
		f.room = make([][]float64, 2*modes+2)
	}
	for k := range f.waves {
		w := &f.waves[k]
		fit(&w.cosine)
		fit(&w.sine)
		fit(&w.size)
	}
	for k := range f.room {
		fit(&f.room[k])
	}
	f.measured, f.basis = m, f.room[:0]
	for i := range f.at {
		f.at[i] = math.NaN()
	}
	one := f.next()
	for i := range one {
		one[i] = 1
	}
	f.join()
	f.upTo[0] = len(f.basis)
}

// leastShare of its power a series must leave unexplained: it keeps the
// logarithm finite for motion without noise.
const leastShare = 1e-12

// misfit is minus the log-likelihood of the stretch, up to a constant, with
// amplitudes, phases, offsets and the size of the noise at their best: variable
// projection (Golub and Pereyra 1973, from memory) and, for Gaussian noise of
// unknown size, half the readings times the logarithm of the squares left.
func (f *fitting) misfit(d damped) float64 {
	f.move(d)
	sum := 0.0
	rest := f.next()
	for _, s := range f.series {
		left := 0.0
		for _, column := range s.columns {
			copy(rest, column)
			for _, b := range f.basis {
				addScaled(rest, b, -dot(rest, b))
			}
			left += dot(rest, rest)
		}
		sum += float64(len(rest)*len(s.columns)) / 2 * math.Log(left+leastShare*s.power+math.SmallestNonzeroFloat64)
	}
	return sum
}

// move makes waves and basis those of a place.
func (f *fitting) move(d damped) {
	moved := false
	for k := range f.waves {
		w := &f.waves[k]
		hz, decay := d[2*k], d[2*k+1]
		if hz != f.at[2*k] {
			for i, t := range f.seconds {
				w.sine[i], w.cosine[i] = math.Sincos(2 * math.Pi * hz * (t - f.seconds[0]))
			}
			moved = true
		}
		if decay != f.at[2*k+1] {
			for i, t := range f.seconds {
				w.size[i] = math.Exp(-decay * (t - f.seconds[0]))
			}
			moved = true
		}
		if moved {
			f.basis = f.basis[:f.upTo[k]]
			for _, turning := range [][]float64{w.cosine, w.sine} {
				c := f.next()
				for i, size := range w.size {
					c[i] = size * turning[i]
				}
				f.join()
			}
			if k+1 < len(f.upTo) {
				f.upTo[k+1] = len(f.basis)
			}
		}
	}
	copy(f.at, d)
}

// next is the room for a column after the basis.
func (f *fitting) next() []float64 { return f.room[len(f.basis)] }

// join takes the column after the basis into it, by Gram and Schmidt, unless the
// basis has it already.
func (f *fitting) join() {
	c := f.next()
	was := math.Sqrt(dot(c, c))
	for _, b := range f.basis {
		addScaled(c, b, -dot(c, b))
	}
	if size := math.Sqrt(dot(c, c)); size > 1e-9*was {
		for i := range c {
			c[i] /= size
		}
		f.basis = f.room[:len(f.basis)+1]
	}
}
