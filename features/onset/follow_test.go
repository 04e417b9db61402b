package onset

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"strikerose/features/featurestest"
)

// Follow and what it leaves to Push say what Push alone says, hand out the same
// samples and take nearly all readings.
func TestFollowSaysWhatPushSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := rapid.SampledFrom([]float64{400, 1000, 1600}).Draw(t, "rate")
		s := featurestest.Scene{RateHz: rate, NoiseMPS2: noise, ClipMPS2: 157, Seed: rapid.Uint64().Draw(t, "seed"),
			Swings: []featurestest.Swing{{Hz: 2.2, BearingDeg: 110, MPS2: 4}}}
		for range rapid.IntRange(0, 4).Draw(t, "blows") {
			s.Blows = append(s.Blows, featurestest.Blow{AtS: rapid.Float64Range(0, 4).Draw(t, "at"), PeakMPS2: rapid.Float64Range(1, 250).Draw(t, "peak")})
		}
		for range rapid.IntRange(0, 20).Draw(t, "blips") {
			s.Blips = append(s.Blips, featurestest.Blip{AtS: rapid.Float64Range(0, 3.9).Draw(t, "blip at"),
				Samples: rapid.IntRange(1, 4).Draw(t, "samples"), Add: [3]float64{rapid.Float64Range(-90, 90).Draw(t, "add"), 4, 9}})
		}
		a, _ := s.Samples(4)
		one, err := New(config(rate))
		if err != nil {
			t.Fatal(err)
		}
		many, err := New(config(rate))
		if err != nil {
			t.Fatal(err)
		}
		push := func(x [3]float64) {
			e, decided := one.Push(x)
			f, said := many.Push(x)
			if d := cmp.Diff(e, f); d != "" || decided != said {
				t.Fatalf("decided %v, %v: %s", decided, said, d)
			}
		}
		followed := 0
		for i := 0; i < len(a); {
			n := many.Follow(a[i:min(len(a), i+rapid.IntRange(0, 300).Draw(t, "readings"))])
			for _, x := range a[i : i+n] {
				if e, decided := one.Push(x); decided {
					t.Fatalf("took a reading that decides %+v", e)
				}
			}
			followed += n
			if i += n; i < len(a) {
				push(a[i])
				i++
			}
			x, mended, ok := one.Clean()
			y, also, have := many.Clean()
			if x != y || mended != also || ok != have || one.Busy() != many.Busy() {
				t.Fatalf("reading %d: hands out %v, %v, %v and %v, %v, %v", i, x, mended, ok, y, also, have)
			}
		}
		if followed < len(a)/2 {
			t.Errorf("followed %d readings of %d", followed, len(a))
		}
	})
}

func BenchmarkFollow(b *testing.B) {
	a, _ := featurestest.Scene{RateHz: 1000, NoiseMPS2: noise}.Samples(20)
	f, err := New(config(1000))
	if err != nil {
		b.Fatal(err)
	}
	for _, x := range a[:2*Lookahead] {
		f.Push(x)
	}
	a = a[2*Lookahead:]
	for b.Loop() {
		if n := f.Follow(a); n != len(a) {
			b.Fatalf("followed %d of %d", n, len(a))
		}
	}
	b.ReportMetric(float64(len(a))*float64(b.N)/b.Elapsed().Seconds(), "samples/s")
}
