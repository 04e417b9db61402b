package onset

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"strikerose/features/featurestest"
)

// Running sums must equal sums taken afresh, bit for bit, however long they
// have run and however large the samples were.
func TestDifferenceDoesNotDrift(t *testing.T) {
	const k = 8
	rng := rand.New(rand.NewPCG(1, 2))
	d := difference{k: k}
	var x []float64
	at := func(i int) float64 { return x[max(i, 0)] }
	for n := range 300_000 {
		x = append(x, snap([3]float64{rng.NormFloat64() * math.Pow(10, float64(n%7)-4)})[0])
		d.push(x[n], at(n-k), at(n-2*k), at(n-3*k))
		if n%997 != 0 || n < 3*k {
			continue
		}
		p := make(prefix, 3*k+1)
		fresh := make([][3]float64, 3*k)
		for i := range fresh {
			fresh[i][0] = x[n-3*k+1+i]
		}
		p.fill(fresh)
		if got, want := d.sum/(2*k), p.second(3*k-1, k)[0]; got != want {
			t.Fatalf("sample %d: running %g, afresh %g", n, got, want)
		}
	}
}

func TestDifferenceIsBlindToSlopes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.IntRange(2, 40).Draw(t, "k")
		// On the grid, so that exactly nothing is left.
		at := float64(rapid.IntRange(-100000, 100000).Draw(t, "at")) * gridMPS2
		slope := float64(rapid.IntRange(-1000, 1000).Draw(t, "slope")) * gridMPS2
		x := make([][3]float64, 3*k)
		for i := range x {
			x[i] = [3]float64{at + slope*float64(i), -at, slope}
		}
		p := make(prefix, len(x)+1)
		p.fill(x)
		if d := p.second(len(x)-1, k); d != [3]float64{} {
			t.Fatalf("%v left", d)
		}
	})
}

// The median of third differences must give the noise, and motion must not
// show in it.
func TestNoiseIsMeasured(t *testing.T) {
	for _, rate := range []float64{400, 1000, 1600} {
		for _, sd := range []float64{0.02, 0.05, 0.4} {
			s := featurestest.Scene{RateHz: rate, NoiseMPS2: sd, Seed: 5,
				Blows:  []featurestest.Blow{{AtS: 0.5, PeakMPS2: 80}, {AtS: 1.1, PeakMPS2: 60}},
				Swings: []featurestest.Swing{{Hz: 2.2, MPS2: 5}}}
			a, _ := s.Samples(2.5)
			c := Config{RateHz: rate, ClipMPS2: 157, MassKg: 35}
			p, err := paramsFor(c)
			if err != nil {
				t.Fatal(err)
			}
			m := newNoiseMeter(c, p)
			var got float64
			for i, x := range a {
				got = m.push(x)
				if i == 0 && got != p.StartMPS2 {
					t.Errorf("starts with %g, want %g", got, p.StartMPS2)
				}
			}
			if math.Abs(got/sd-1) > 0.06 {
				t.Errorf("rate %g: measured %.4f, true %.4f", rate, got, sd)
			}
		}
	}
}

// A converter too coarse to show the noise must not bring the level to zero.
func TestNoiseHasAFloor(t *testing.T) {
	c := Config{RateHz: 400, ClipMPS2: 157, MassKg: 35}
	p, err := paramsFor(c)
	if err != nil {
		t.Fatal(err)
	}
	m := newNoiseMeter(c, p)
	var got float64
	for range 1000 {
		got = m.push([3]float64{0, 0, 9.8})
	}
	if got != p.StartMPS2/8 {
		t.Errorf("noise of a still column is %g, want %g", got, p.StartMPS2/8)
	}
}

func TestDespikeReplacesBlipsOnly(t *testing.T) {
	run := func(rateHz float64, x [][3]float64) (out [][3]float64, fixed []bool) {
		d := newDespiker(rateHz)
		for i := range len(x) + Lookahead {
			a, f, ok := d.push(x[min(i, len(x)-1)], noise)
			if ok {
				out, fixed = append(out, a), append(fixed, f)
			}
		}
		return out, fixed
	}
	for rate, longest := range map[float64]int{200: 1, 299: 1, 300: 2, 399: 2, 400: 3, 1000: 3} {
		for n := 1; n <= longestRun+1; n++ {
			x := make([][3]float64, 40)
			for i := range x {
				x[i] = [3]float64{0.01 * float64(i), 0, 9.8}
			}
			want := append([][3]float64(nil), x...)
			for i := 20; i < 20+n; i++ {
				x[i][1] += 3
			}
			got, fixed := run(rate, x)
			for i := range x {
				inside := i >= 20 && i < 20+n
				if n > longest {
					if fixed[i] || got[i] != x[i] {
						t.Errorf("%g Hz, run of %d: sample %d was replaced", rate, n, i)
					}
					continue
				}
				if fixed[i] != inside || math.Sqrt(distance2(got[i], want[i])) > 1e-12 {
					t.Errorf("run of %d: sample %d is %v, fixed %v; want %v", n, i, got[i], fixed[i], want[i])
				}
			}
		}
	}
	// A contact of any strength passes untouched.
	for _, rate := range []float64{400, 1000} {
		s := featurestest.Scene{RateHz: rate, NoiseMPS2: noise, Blows: []featurestest.Blow{{AtS: 0.1, BearingDeg: 33, PeakMPS2: 150, ContactMs: 14}}}
		a, _ := s.Samples(0.3)
		got, fixed := run(rate, a)
		for i := range a {
			if fixed[i] || got[i] != a[i] {
				t.Errorf("rate %g: sample %d of a strike was replaced", rate, i)
			}
		}
	}
}

// The pick must be the least of the criterion computed plainly.
func TestAICPickAgainstPlainSums(t *testing.T) {
	plain := func(x []float64, floor float64) (best int) {
		v := func(x []float64) float64 {
			var m, s float64
			for _, a := range x {
				m += a / float64(len(x))
			}
			for _, a := range x {
				s += (a - m) * (a - m) / float64(len(x))
			}
			return max(s, floor)
		}
		least := math.Inf(1)
		for c := 2; c <= len(x)-2; c++ {
			if a := float64(c)*math.Log(v(x[:c])) + float64(len(x)-c)*math.Log(v(x[c:])); a < least {
				least, best = a, c
			}
		}
		return best
	}
	rng := rand.New(rand.NewPCG(9, 9))
	for range 300 {
		n := 5 + rng.IntN(80)
		x := make([]float64, n)
		onset := 2 + rng.IntN(n-4)
		for i := range x {
			x[i] = rng.NormFloat64()
			if i >= onset {
				x[i] += 5 * float64(i-onset+1)
			}
		}
		if got, want := aicPick(x, 0.01), plain(x, 0.01); got != want {
			t.Fatalf("picked %d, want %d", got, want)
		}
	}
	if got := aicPick([]float64{1, 2}, 1); got != 0 {
		t.Errorf("two samples: %d", got)
	}
}

func TestMendingFindsTheRun(t *testing.T) {
	p, err := paramsFor(config(1000))
	if err != nil {
		t.Fatal(err)
	}
	s := featurestest.Scene{RateHz: 1000, NoiseMPS2: noise, Blows: []featurestest.Blow{{AtS: 0.5, BearingDeg: 90, PeakMPS2: 10}}}
	a, _ := s.Samples(1)
	for _, n := range []int{1, 2, 3} {
		e := newEvent(p)
		e.noise, e.level = noise, 0.3
		for i := range e.x {
			e.x[i] = snap(a[503-e.trig+i])
		}
		at := e.trig + 7
		for i := range n {
			e.x[at+i][1] += 25 * float64(1-2*(i%2)) // a fault rings
		}
		if v := e.decide(0, false); v != Strike {
			t.Errorf("run of %d: %v", n, v)
		}
		if e.nMends != 1 || e.mended[0] != (Run{Start: int64(at), N: n}) {
			t.Errorf("run of %d at %d: mended %+v", n, at, e.mended[:e.nMends])
		}
	}
}
