package ringdown_test

import (
	"context"
	"errors"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
	"strikerose/features/ringdown"
)

// decay is a bag whose free motion is written down: a swing, a rocking and a
// twist that begin anew with each strike.
type decay struct {
	swingHz, swingS, rockingHz, rockingS, twistHz, twistS float64
	leverM                                                float64
	strikes                                               int
	size                                                  float64
	turnDeg                                               float64 // all bearings turned
	noiseMPS2                                             float64
	seed                                                  uint64
	spoilt                                                int // strikes followed by another motion
}

var plain = decay{swingHz: 0.47, swingS: 25, rockingHz: 2.1, rockingS: 1.9, twistHz: 1.1, twistS: 0.9,
	leverM: -0.3, strikes: 24, size: 1, noiseMPS2: 0.05, seed: 1}

const everyS, rateHz = 3.0, 400

// signal is the recording of it, and the onsets.
func (d decay) signal() (*dataset.Signal, []int64) {
	rng := rand.New(rand.NewPCG(d.seed, 2))
	sig := &dataset.Signal{}
	var onsets []int64
	for strike := range d.strikes {
		draw := func() complex128 { return complex(rng.NormFloat64(), rng.NormFloat64()) }
		slow, slowBack, fast, fastBack, spin := draw(), draw(), 3*draw(), draw(), rng.NormFloat64()
		onsets = append(onsets, int64(float64(strike)*everyS*1e9))
		for i := range int(everyS * rateHz) {
			t := float64(i) / rateHz
			tip, bend := complex128(0), complex128(0) // q' and q''
			add := func(hz, decayS float64, there, back complex128) {
				for _, way := range []struct {
					amplitude complex128
					turn      float64
				}{{there, 1}, {back, -1}} {
					rate := complex(-1/decayS, way.turn*2*math.Pi*hz)
					v := way.amplitude * complex(0.2*d.size, 0) * cmplx.Exp(rate*complex(t, 0))
					tip += v
					bend += rate * v
				}
			}
			add(d.swingHz, d.swingS, slow, slowBack)
			rockingHz := d.rockingHz
			if strike < d.spoilt {
				rockingHz *= 1.2
			}
			add(rockingHz, d.rockingS, fast, fastBack)
			turn := cmplx.Rect(1, -bearing.Rad(d.turnDeg)) // clockwise
			tip, bend = tip*turn, bend*turn
			f := bend * complex(d.leverM, 0)
			sig.TNs = append(sig.TNs, onsets[strike]+int64(t*1e9))
			sig.TRaw, sig.Segment = append(sig.TRaw, sig.TNs[len(sig.TNs)-1]/1000), append(sig.Segment, 0)
			w := [3]float64{imag(tip), -real(tip), spin * 0.3 * d.size * math.Exp(-t/d.twistS) * math.Cos(2*math.Pi*d.twistHz*t)}
			a := [3]float64{real(f), imag(f), dataset.StandardGravity}
			for k := range 3 {
				sig.A[k] = append(sig.A[k], float32(a[k]+0.2+d.noiseMPS2*rng.NormFloat64()))
				sig.G[k] = append(sig.G[k], float32(w[k]+0.01+d.noiseMPS2/20*rng.NormFloat64()))
			}
		}
	}
	return sig, onsets
}

func bench(t testing.TB, gyro bool) *rig.Rig {
	r := datasettest.Rig(t)
	r.Sensor.RateHz = rateHz
	if !gyro {
		r.Sensor.GyroRangeDPS = 0
	}
	return r
}

func measure(t testing.TB, d decay, r *rig.Rig) ringdown.Found {
	t.Helper()
	sig, onsets := d.signal()
	f, err := ringdown.Measure(t.Context(), ringdown.Cut(sig, r, onsets), r.Mechanics(), 1)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// holds tells whether a value is within a part of what is wanted, and its
// interval about it and not wider than ten such parts.
func holds(t *testing.T, what string, v *ringdown.Value, want, part float64) {
	t.Helper()
	if v == nil {
		t.Errorf("%s is not told, want %g", what, want)
		return
	}
	if off := math.Abs(v.Value - want); off > part*math.Abs(want) {
		t.Errorf("%s is %g, want %g", what, v.Value, want)
	}
	if !(v.Low <= v.Value && v.Value <= v.High && v.High-v.Low < 10*part*math.Abs(want)) {
		t.Errorf("%s has the interval %g to %g about %g", what, v.Low, v.High, v.Value)
	}
}

func TestKnownDecays(t *testing.T) {
	f := measure(t, plain, bench(t, true))
	if f.Strikes != plain.strikes {
		t.Errorf("%d stretches, want %d", f.Strikes, plain.strikes)
	}
	holds(t, "swing", &f.Swing.Hz, plain.swingHz, 0.002)
	holds(t, "its decay", f.Swing.DecayS, plain.swingS, 0.1)
	holds(t, "rocking", &f.Rocking.Hz, plain.rockingHz, 0.001)
	holds(t, "its decay", f.Rocking.DecayS, plain.rockingS, 0.01)
	if f.Twist == nil {
		t.Fatal("no twist")
	}
	holds(t, "twist", &f.Twist.Hz, plain.twistHz, 0.005)
	holds(t, "its decay", f.Twist.DecayS, plain.twistS, 0.05)
	holds(t, "lever", f.LeverM, plain.leverM, 0.005)
}

func TestWithoutGyroscope(t *testing.T) {
	f := measure(t, plain, bench(t, false))
	holds(t, "swing", &f.Swing.Hz, plain.swingHz, 0.01)
	holds(t, "rocking", &f.Rocking.Hz, plain.rockingHz, 0.002)
	holds(t, "its decay", f.Rocking.DecayS, plain.rockingS, 0.03)
	if f.Twist != nil || f.LeverM != nil {
		t.Errorf("twist %v and lever %v without a gyroscope", f.Twist, f.LeverM)
	}
}

// A rig file that is wrong by a third only says where to begin.
func TestWrongRigFile(t *testing.T) {
	r := bench(t, true)
	r.Hang.ChainM = 0.9
	f := measure(t, plain, r)
	holds(t, "swing", &f.Swing.Hz, plain.swingHz, 0.002)
	holds(t, "rocking", &f.Rocking.Hz, plain.rockingHz, 0.001)
}

// Stretches with another motion are held: one in eight hardly counts.
func TestOddStretches(t *testing.T) {
	odd := plain
	odd.spoilt = 3
	f := measure(t, odd, bench(t, true))
	if off := f.Rocking.Hz.Value/plain.rockingHz - 1; math.Abs(off) > 0.01 {
		t.Errorf("rocking is off by %.2f %%: a mean would be by 2.5", 100*off)
	}
}

// Bearings do not matter to frequencies, nor does how hard the strikes are.
func TestTurnedAndScaled(t *testing.T) {
	want := measure(t, plain, bench(t, true))
	for name, c := range map[string]struct {
		change func(d *decay)
		part   float64
	}{
		"turned":       {func(d *decay) { d.turnDeg = 73 }, 3e-4}, // the noise is not turned with it
		"twice":        {func(d *decay) { d.size = 2; d.noiseMPS2 *= 2 }, 1e-4},
		"a tenth":      {func(d *decay) { d.size = 0.1; d.noiseMPS2 *= 0.1 }, 1e-4},
		"other noises": {func(d *decay) { d.seed = 9 }, 2e-3},
	} {
		d := plain
		c.change(&d)
		f := measure(t, d, bench(t, true))
		for what, pair := range map[string][2]float64{
			"swing":   {f.Swing.Hz.Value, want.Swing.Hz.Value},
			"rocking": {f.Rocking.Hz.Value, want.Rocking.Hz.Value},
		} {
			if off := math.Abs(pair[0]/pair[1] - 1); off > c.part {
				t.Errorf("%s: %s moves by %.2g", name, what, off)
			}
		}
	}
}

// The mount does not matter either, as long as the rig file tells it.
func TestMounted(t *testing.T) {
	r := bench(t, true)
	r.Sensor.Axes = rig.Axes{X: "up", Y: "0", Z: "270"}
	sig, onsets := plain.signal()
	sig.A[0], sig.A[2] = sig.A[2], negative(sig.A[0])
	sig.G[0], sig.G[2] = sig.G[2], negative(sig.G[0])
	f, err := ringdown.Measure(t.Context(), ringdown.Cut(sig, r, onsets), r.Mechanics(), 1)
	if err != nil {
		t.Fatal(err)
	}
	holds(t, "rocking", &f.Rocking.Hz, plain.rockingHz, 0.001)
	holds(t, "lever", f.LeverM, plain.leverM, 0.005)
}

func negative(x []float32) []float32 {
	out := make([]float32, len(x))
	for i, v := range x {
		out[i] = -v
	}
	return out
}

func TestCutKeepsToSegments(t *testing.T) {
	sig, onsets := plain.signal()
	r := bench(t, true)
	for i := range sig.Segment[:] {
		if sig.TNs[i] >= 7e9 { // in the middle of the third stretch
			sig.Segment[i] = 1
		}
	}
	got := ringdown.Cut(sig, r, onsets)
	if len(got) != plain.strikes-1 { // one second of the third is too short
		t.Fatalf("%d stretches, want %d", len(got), plain.strikes-1)
	}
	for i, s := range got {
		if s.S[0] < 0.25 || s.S[len(s.S)-1] > everyS {
			t.Errorf("stretch %d runs from %g to %g s", i, s.S[0], s.S[len(s.S)-1])
		}
		if len(s.Force) != len(s.S) || len(s.Tip) != len(s.S) || len(s.Spin) != len(s.S) {
			t.Errorf("stretch %d has columns of unequal length", i)
		}
	}
}

func TestTooFew(t *testing.T) {
	few := plain
	few.strikes = 7
	sig, onsets := few.signal()
	r := bench(t, true)
	if _, err := ringdown.Measure(t.Context(), ringdown.Cut(sig, r, onsets), r.Mechanics(), 1); !errors.Is(err, ringdown.ErrFew) {
		t.Errorf("seven strikes: error %v", err)
	}
	if got := ringdown.Cut(&dataset.Signal{}, r, nil); got != nil {
		t.Errorf("%d stretches of nothing", len(got))
	}
}

func TestInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	sig, onsets := plain.signal()
	r := bench(t, true)
	if _, err := ringdown.Measure(ctx, ringdown.Cut(sig, r, onsets), r.Mechanics(), 1); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
}

// A recording at rest after strikes that are none tells nothing, without a panic.
func TestNoise(t *testing.T) {
	still := plain
	still.size = 0
	sig, onsets := still.signal()
	r := bench(t, true)
	f, err := ringdown.Measure(t.Context(), ringdown.Cut(sig, r, onsets), r.Mechanics(), 1)
	if err == nil && f.Rocking.DecayS != nil && f.Rocking.Hz.High-f.Rocking.Hz.Low < 0.02 {
		t.Errorf("noise alone gives %+v", f)
	}
}
