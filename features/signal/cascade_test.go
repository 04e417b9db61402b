package signal_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"strikerose/features/signal"
)

func noise(n int) []float64 {
	rng := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, n)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	return x
}

func TestForwardBackwardAgainstReference(t *testing.T) {
	ref := reference(t).ForwardBackward
	s := design(t, ref.Key)
	differ(t, "forward", run(s, ref.X), ref.Forward, 1e-9)
	before := slices.Clone(ref.X)
	differ(t, "both ways", signal.ForwardBackward(s, ref.X), ref.Both, 1e-9)
	if !slices.Equal(ref.X, before) {
		t.Error("ForwardBackward changed its input")
	}
}

func TestForwardBackwardOfShortInput(t *testing.T) {
	s := design(t, "lowpass_n4_fc50_fs1000")
	for n := range 40 {
		x := slices.Repeat([]float64{3}, n)
		differ(t, "constant", signal.ForwardBackward(s, x), x, 1e-9)
	}
}

func TestSettle(t *testing.T) {
	for name, want := range map[string]float64{
		"lowpass_n4_fc5_fs1000": 9.8, "highpass_n4_fc5_fs1000": 0, "bandpass_n4_5_50_fs1000": 0,
	} {
		c := signal.NewCascade(design(t, name))
		c.Settle(9.8)
		for i := range 500 {
			if got := c.Step(9.8); math.Abs(got-want) > 1e-9 {
				t.Fatalf("%s settled on 9.8: sample %d = %g, want %g", name, i, got, want)
			}
		}
	}
}

func TestResetIsLikeNew(t *testing.T) {
	s := design(t, "bandpass_n4_5_50_fs1000")
	x := noise(100)
	c := signal.NewCascade(s)
	for _, v := range x {
		c.Step(v)
	}
	c.Reset()
	for i, want := range run(s, x) {
		if got := c.Step(x[i]); got != want {
			t.Fatalf("sample %d after Reset = %g, want %g", i, got, want)
		}
	}
}

func TestCascadeKeepsItsSections(t *testing.T) {
	s := design(t, "lowpass_n2_fc50_fs1000")
	c := signal.NewCascade(s)
	want := signal.NewCascade(s).Step(1)
	s[0].B0 = 77
	if got := c.Step(1); got != want {
		t.Errorf("changing the caller's sections changed Step to %g, want %g", got, want)
	}
}

func TestStepAllocatesNothing(t *testing.T) {
	c := signal.NewCascade(design(t, "bandpass_n4_5_50_fs1000"))
	if n := testing.AllocsPerRun(100, func() { c.Step(1); c.Settle(2); c.Reset() }); n != 0 {
		t.Errorf("Step, Settle and Reset allocate %g times, want 0", n)
	}
}

func BenchmarkStep(b *testing.B) {
	s, err := signal.LowPass(4, 50, rateHz)
	if err != nil {
		b.Fatal(err)
	}
	c := signal.NewCascade(s)
	for b.Loop() {
		c.Step(1)
	}
}
