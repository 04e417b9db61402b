package chain_test

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/features/chain"
	"strikerose/features/featurestest"
)

// pushed sends a signal through a chain sample by sample, which is what a board
// does and what everything else is held against.
func pushed(t rapid.TB, rg *rig.Rig, sig *dataset.Signal, o chain.Options) (out []*dataset.Window) {
	c, err := chain.New(rg, o)
	if err != nil {
		t.Fatal(err)
	}
	for i := range sig.Len() {
		if w, ok := c.Push(sig.At(i)); ok {
			out = append(out, w)
		}
	}
	return append(out, c.Flush()...)
}

// sameWindow compares what there is of two windows.
func sameWindow(a, b *dataset.Window) bool {
	same := a.Strike == b.Strike && a.Found == b.Found && a.RateHz == b.RateHz && a.Pre == b.Pre && a.HasGyro() == b.HasGyro()
	for k := range 3 {
		same = same && slices.Equal(a.A[k], b.A[k]) && slices.Equal(a.G[k], b.G[k])
	}
	return same
}

// By the column, in stretches of any length, some samples pushed one by one
// between them, a chain gives the windows that it gives sample by sample: the
// same bits.
func TestStretchesDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := rapid.SampledFrom([]float64{200, 400, 999}).Draw(t, "rate")
		rg := featurestest.Rig(rate)
		rg.Sensor.YawDeg = rapid.SampledFrom([]float64{0, 31}).Draw(t, "yaw")
		if rapid.Bool().Draw(t, "noise known") {
			rg.Sensor.AccelNoiseMPS2 = rapid.SampledFrom([]float64{0.02, 0.045, 0.3}).Draw(t, "noise")
		}
		scene := busy(rate, rapid.Uint64().Draw(t, "seed"))
		for range rapid.IntRange(0, 30).Draw(t, "blips") {
			scene.Blips = append(scene.Blips, featurestest.Blip{
				AtS: rapid.Float64Range(0, 3.9).Draw(t, "at"), Samples: rapid.IntRange(1, 4).Draw(t, "samples"),
				Add: [3]float64{rapid.Float64Range(-90, 90).Draw(t, "add"), 5, -3},
			})
		}
		sig := scene.Signal(rg, 4)
		for range rapid.IntRange(0, 3).Draw(t, "beyond") {
			at := rapid.IntRange(0, sig.Len()-1).Draw(t, "sample")
			v := rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), 1e30, -400, 156.9}).Draw(t, "reading")
			sig.A[rapid.IntRange(0, 2).Draw(t, "axis")][at] = float32(v)
			if math.IsNaN(v) {
				sig.G[1][at/2] = float32(v)
			}
		}
		if rapid.Bool().Draw(t, "broken") {
			sig = broken(sig, rate)
		}
		if rapid.Bool().Draw(t, "no rotation rates") {
			sig.G = [3][]float32{}
		}
		o := chain.Options{PreMs: 300, PostMs: rapid.SampledFrom([]float64{0, 20, 350}).Draw(t, "post")}
		want := pushed(t, rg, sig, o)

		c, err := chain.New(rg, o)
		if err != nil {
			t.Fatal(err)
		}
		var got []*dataset.Window
		for i := 0; i < sig.Len(); {
			if rapid.IntRange(0, 3).Draw(t, "one") == 0 {
				if w, ok := c.Push(sig.At(i)); ok {
					got = append(got, w)
				}
				i++
				continue
			}
			n := min(sig.Len()-i, rapid.IntRange(0, sig.Len()/2).Draw(t, "samples"))
			part := sig.Slice(i, i+n)
			got = append(got, c.PushSignal(&part)...)
			i += n
		}
		got = append(got, c.Flush()...)
		if !slices.EqualFunc(want, got, sameWindow) {
			t.Fatalf("%d windows sample by sample, %d in stretches:\n%s", len(want), len(got), cmp.Diff(want, got))
		}
	})
}

// So it is on what sensors logged.
func TestStretchesDoNotMatterOnRecordings(t *testing.T) {
	rg, recordings := committedRecordings(t)
	unknown := *rg
	unknown.Sensor.AccelNoiseMPS2 = 0
	for _, c := range recordings {
		for _, r := range []*rig.Rig{rg, &unknown} {
			o := chain.Options{PreMs: 300, PostMs: 350}
			if want, got := pushed(t, r, c.signal, o), run(t, r, c.signal, o); !slices.EqualFunc(want, got, sameWindow) {
				t.Errorf("%s, noise %g:\n%s", c.name, r.Sensor.AccelNoiseMPS2, cmp.Diff(want, got))
			}
		}
	}
}
