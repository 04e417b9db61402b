package chain_test

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/features/chain"
	"strikerose/features/featurestest"
)

var usual = chain.Options{PreMs: 300, PostMs: 65}

// busy is a scene with most of what can happen, for signals of 4 s.
func busy(rateHz float64, seed uint64) featurestest.Scene {
	return featurestest.Scene{
		RateHz: rateHz, NoiseMPS2: 0.045, ClipMPS2: 157, Seed: seed,
		Swings: []featurestest.Swing{{Hz: 0.42, BearingDeg: 15, MPS2: 1, Radps: 0.1}},
		Blows: []featurestest.Blow{
			{AtS: 0.2, BearingDeg: 10, PeakMPS2: 50, TwistRadps: 1},
			{AtS: 1.1, BearingDeg: 130, PeakMPS2: 90},
			{AtS: 1.3, BearingDeg: 190, PeakMPS2: 30},
			{AtS: 2.4, BearingDeg: 250, PeakMPS2: 300},
			{AtS: 3.2, BearingDeg: 300, PeakMPS2: 3},
			{AtS: 3.98, BearingDeg: 60, PeakMPS2: 45},
		},
		Shoves: []featurestest.Shove{{AtS: 1.8, BearingDeg: 80, PeakMPS2: 8, LengthMs: 110}},
		Blips: []featurestest.Blip{
			{AtS: 0.9, Samples: 2, Add: [3]float64{50, 20, -30}},
			{AtS: 1.112, Samples: 1, Add: [3]float64{0, 400, 0}},
		},
		RestA: [3]float64{0.2, -0.1, 0}, RestG: [3]float64{0.02, -0.01, 0.01},
	}
}

// broken takes samples away: short losses, a long one, and a new segment.
func broken(sig *dataset.Signal, rateHz float64) *dataset.Signal {
	out := &dataset.Signal{}
	at := func(s float64) int { return int(s * rateHz) }
	for i := range sig.Len() {
		switch {
		case i == at(0.205), i >= at(1.15) && i < at(1.15)+4, i >= at(2.0) && i < at(2.0)+5, i >= at(2.9) && i < at(2.9)+7:
			continue
		}
		out.TNs = append(out.TNs, sig.TNs[i])
		out.TRaw = append(out.TRaw, sig.TRaw[i])
		seg := int32(0)
		if i > at(2.425) { // in the middle of a strike's window
			seg = 1
		}
		out.Segment = append(out.Segment, seg)
		for k := range 3 {
			out.A[k] = append(out.A[k], sig.A[k][i])
			if sig.HasGyro() {
				out.G[k] = append(out.G[k], sig.G[k][i])
			}
		}
	}
	return out
}

// Whole, sample by sample and in odd blocks the windows are the same bits.
func TestBlocksDoNotMatter(t *testing.T) {
	for _, rate := range []float64{400, 800, 1000, 1600} {
		rg := featurestest.Rig(rate)
		sig := broken(busy(rate, 1).Signal(rg, 4), rate)
		whole := run(t, rg, sig, usual)
		if len(whole) < 6 {
			t.Fatalf("rate %g: %d windows: the case tests too little", rate, len(whole))
		}
		for _, block := range []int{1, 7, 333} {
			c, err := chain.New(rg, usual)
			if err != nil {
				t.Fatal(err)
			}
			var got []*dataset.Window
			for i := 0; i < sig.Len(); i += block {
				part := sig.Slice(i, min(i+block, sig.Len()))
				for j := range part.Len() {
					if w, ok := c.Push(part.At(j)); ok {
						got = append(got, w)
					}
				}
			}
			got = append(got, c.Flush()...)
			if d := cmp.Diff(whole, got); d != "" {
				t.Errorf("rate %g, blocks of %d:\n%s", rate, block, d)
			}
		}
	}
}

// Cutting the recording just after a window was ready leaves it as it is.
func TestCutJustAfterReady(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := rapid.SampledFrom([]float64{400, 800, 1000}).Draw(t, "rate")
		rg := featurestest.Rig(rate)
		if rapid.Bool().Draw(t, "measured noise") {
			rg.Sensor.AccelNoiseMPS2 = 0.045
		}
		sig := busy(rate, rapid.Uint64().Draw(t, "seed")).Signal(rg, 4)
		if rapid.Bool().Draw(t, "broken") {
			sig = broken(sig, rate)
		}
		o := chain.Options{PreMs: 300, PostMs: rapid.SampledFrom([]float64{0, 20, 65, 350}).Draw(t, "post")}
		whole := mustRun(t, rg, sig, o)
		i := rapid.IntRange(0, len(whole)-1).Draw(t, "window")
		w := whole[i]
		end := 0
		for end < sig.Len() && sig.TNs[end] <= w.Strike.ReadyNs {
			end++
		}
		part := sig.Slice(0, end)
		cut := mustRun(t, rg, &part, o)
		if len(cut) <= i {
			t.Fatalf("post %g: window %d is gone", o.PostMs, i)
		}
		if d := cmp.Diff(w, cut[i]); d != "" {
			t.Fatalf("post %g: window %d changed:\n%s", o.PostMs, i, d)
		}
	})
}

func mustRun(t *rapid.T, rg *rig.Rig, sig *dataset.Signal, o chain.Options) []*dataset.Window {
	w, err := chain.Run(context.Background(), rg, sig, o)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// A longer window holds the shorter one.
func TestLongerWindowsHoldShorterOnes(t *testing.T) {
	rg := featurestest.Rig(1000)
	sig := busy(1000, 4).Signal(rg, 4)
	short := run(t, rg, sig, usual)
	long := run(t, rg, sig, chain.Options{PreMs: 500, PostMs: 350})
	if len(short) != len(long) {
		t.Fatalf("%d and %d windows", len(short), len(long))
	}
	for i, s := range short {
		l := long[i]
		if l.Strike.OnsetNs != s.Strike.OnsetNs || l.Strike.PeakMPS2 != s.Strike.PeakMPS2 || l.Strike.Clipped != s.Strike.Clipped {
			t.Errorf("strike %+v became %+v", s.Strike, l.Strike)
		}
		for k := range 3 {
			off := l.Pre - s.Pre
			if d := cmp.Diff(s.A[k], l.A[k][off:off+len(s.A[k])]); d != "" {
				t.Errorf("window %d, axis %d: %s", i, k, d)
			}
			if d := cmp.Diff(s.G[k], l.G[k][off:off+len(s.G[k])]); d != "" {
				t.Errorf("window %d, gyroscope axis %d: %s", i, k, d)
			}
		}
	}
}

// What a longer window says of the find is what the shortest says of the strike.
func TestFoundIsAsTheShortestWindowTells(t *testing.T) {
	for _, rate := range []float64{400, 1000} {
		rg := featurestest.Rig(rate)
		sig := broken(busy(rate, 6).Signal(rg, 4), rate)
		shortest, differ := run(t, rg, sig, chain.Options{}), 0
		for i, w := range run(t, rg, sig, chain.Options{PreMs: 300, PostMs: 350}) {
			if w.Found != shortest[i].Strike {
				t.Errorf("rate %g: %+v, shortest %+v", rate, w.Found, shortest[i].Strike)
			}
			if w.Found.NearGap != w.Strike.NearGap {
				differ++
			}
		}
		if differ == 0 {
			t.Errorf("rate %g: no gap after an onset: the case tests too little", rate)
		}
	}
}

func TestStrikeFlags(t *testing.T) {
	blow := func(atS, peak float64) featurestest.Scene {
		return featurestest.Scene{RateHz: 1000, NoiseMPS2: 0.045, ClipMPS2: 157, Blows: []featurestest.Blow{{AtS: atS, BearingDeg: 120, PeakMPS2: peak}}}
	}
	with := func(s featurestest.Scene, b ...featurestest.Blip) featurestest.Scene { s.Blips = b; return s }
	for _, c := range []struct {
		name             string
		scene            featurestest.Scene
		drop             []int // samples lost
		clipped, nearGap bool
	}{
		{name: "plain", scene: blow(1, 80)},
		{name: "clipped", scene: blow(1, 260), clipped: true},
		{name: "blip at the limit", scene: with(blow(1, 80), featurestest.Blip{AtS: 1.012, Samples: 2, Add: [3]float64{0, 500, 0}})},
		{name: "start of the segment", scene: blow(0.02, 80), nearGap: true},
		{name: "well after the start", scene: blow(0.06, 80)},
		{name: "end of the segment", scene: blow(1.97, 80), nearGap: true},
		{name: "window just inside the segment", scene: blow(1.92, 80)},
		{name: "loss before", scene: blow(1, 80), drop: []int{985, 986}, nearGap: true},
		{name: "loss in contact", scene: blow(1, 80), drop: []int{1003}, nearGap: true},
		{name: "loss long before", scene: blow(1, 80), drop: []int{900, 901, 902}},
		{name: "loss after the window", scene: blow(1, 80), drop: []int{1075}},
		{name: "segment broken before", scene: blow(1, 80), drop: []int{980, 981, 982, 983, 984, 985}, nearGap: true},
	} {
		t.Run(c.name, func(t *testing.T) {
			rg := featurestest.Rig(1000)
			rg.Sensor.AccelNoiseMPS2 = 0.045 // known from the first sample
			sig := without(c.scene.Signal(rg, 2), c.drop)
			windows := run(t, rg, sig, usual)
			if len(windows) != 1 {
				t.Fatalf("%d windows", len(windows))
			}
			s := windows[0].Strike
			if s.Clipped != c.clipped || s.NearGap != c.nearGap {
				t.Errorf("clipped %v, near gap %v; want %v, %v", s.Clipped, s.NearGap, c.clipped, c.nearGap)
			}
			if off := float64(s.OnsetNs)/1e9 - c.scene.Blows[0].AtS; math.Abs(off) > 0.004 {
				t.Errorf("onset off by %.1f ms", 1000*off)
			}
			if want := min(c.scene.Blows[0].PeakMPS2, 210); math.Abs(s.PeakMPS2-want) > 0.1*want {
				t.Errorf("peak %.1f, want about %.1f", s.PeakMPS2, want)
			}
		})
	}
}

func without(sig *dataset.Signal, drop []int) *dataset.Signal {
	out := &dataset.Signal{}
	for i := range sig.Len() {
		lost := false
		for _, d := range drop {
			lost = lost || d == i
		}
		if lost {
			continue
		}
		out.TNs, out.TRaw, out.Segment = append(out.TNs, sig.TNs[i]), append(out.TRaw, sig.TRaw[i]), append(out.Segment, sig.Segment[i])
		for k := range 3 {
			out.A[k] = append(out.A[k], sig.A[k][i])
			if sig.HasGyro() {
				out.G[k] = append(out.G[k], sig.G[k][i])
			}
		}
	}
	return out
}

// The last reading stands for what comes after a segment's end, the first for
// what came before its start.
func TestWindowsAreHeldAtTheEdges(t *testing.T) {
	rg := featurestest.Rig(1000)
	s := featurestest.Scene{RateHz: 1000, NoiseMPS2: 0.045, Blows: []featurestest.Blow{{AtS: 0.1, PeakMPS2: 50}, {AtS: 0.38, PeakMPS2: 50}}}
	windows := run(t, rg, s.Signal(rg, 0.4), usual)
	if len(windows) != 2 {
		t.Fatalf("%d windows", len(windows))
	}
	first, last := windows[0].A[1], windows[1].A[1]
	if first[0] != first[150] || first[0] == first[250] {
		t.Errorf("before the start: %g, %g, then %g", first[0], first[150], first[250])
	}
	n := len(last)
	if last[n-1] != last[n-40] || last[n-1] == last[n-50] {
		t.Errorf("after the end: %g, %g, before it %g", last[n-1], last[n-40], last[n-50])
	}
	if got := windows[1].Strike.ReadyNs; got != 399e6 {
		t.Errorf("ready at %d, want the last sample's time", got)
	}
}

// A segment's end may make several windows ready at once: they follow one by
// one, in order.
func TestSeveralWindowsAtASegmentsEnd(t *testing.T) {
	rg := featurestest.Rig(1000)
	s := featurestest.Scene{RateHz: 1000, NoiseMPS2: 0.045,
		Blows: []featurestest.Blow{{AtS: 0.5, PeakMPS2: 50}, {AtS: 0.7, BearingDeg: 90, PeakMPS2: 50}, {AtS: 0.9, PeakMPS2: 50}}}
	sig := s.Signal(rg, 1.2)
	for i := 1000; i < sig.Len(); i++ {
		sig.Segment[i] = 1
	}
	c, err := chain.New(rg, chain.Options{PostMs: 1000})
	if err != nil {
		t.Fatal(err)
	}
	for i := range sig.Len() {
		w, ok := c.Push(sig.At(i))
		if want := i >= 1000 && i < 1003; ok != want {
			t.Fatalf("sample %d: window %v, want %v", i, ok, want)
		}
		if ok && (w.Strike.Number != i-999 || w.Strike.Segment != 0 || w.Strike.ReadyNs != 999e6) {
			t.Errorf("sample %d: %+v", i, w.Strike)
		}
	}
	if rest := c.Flush(); len(rest) != 0 {
		t.Errorf("%d windows left", len(rest))
	}
}

// Slant and bias are taken off once a swing has been seen, and nothing is
// before.
func TestLevelIsTakenOff(t *testing.T) {
	rg := featurestest.Rig(400)
	s := featurestest.Scene{RateHz: 400, NoiseMPS2: 0.03, RestA: [3]float64{0.2, -0.3, 0}, RestG: [3]float64{0.02, -0.03, 0.01},
		Swings: []featurestest.Swing{{Hz: 0.48, BearingDeg: 40, MPS2: 0.4, Radps: 0.1}},
		Blows:  []featurestest.Blow{{AtS: 1, PeakMPS2: 40}, {AtS: 29, PeakMPS2: 40}}}
	rest := func(o featurestest.Scene) []*dataset.Window { return run(t, rg, o.Signal(rg, 30), usual) }
	biased := rest(s)
	s.RestA, s.RestG = [3]float64{}, [3]float64{}
	clean := rest(s)
	if len(biased) != 2 || len(clean) != 2 {
		t.Fatalf("%d and %d windows", len(biased), len(clean))
	}
	for k, want := range []float64{0.2, -0.3, 0} {
		if got := biased[0].A[k][0] - clean[0].A[k][0]; math.Abs(got-want) > 1e-5 {
			t.Errorf("first strike, axis %d: %g left, want all of %g", k, got, want)
		}
		if got := biased[1].A[k][0] - clean[1].A[k][0]; math.Abs(got) > 0.02 {
			t.Errorf("last strike, axis %d: %g left", k, got)
		}
		if got := biased[1].G[k][0] - clean[1].G[k][0]; math.Abs(got) > 0.003 {
			t.Errorf("last strike, gyroscope axis %d: %g left", k, got)
		}
	}
}

func TestAccelerometerAlone(t *testing.T) {
	rg := featurestest.Rig(800)
	sig := busy(800, 3).Signal(rg, 4)
	with := run(t, rg, sig, usual)
	sig.G = [3][]float32{}
	bare := run(t, rg, sig, usual)
	rg.Sensor.GyroRangeDPS = 0
	none := run(t, rg, sig, usual)
	if d := cmp.Diff(bare, none); d != "" {
		t.Errorf("no rates in the signal and no gyroscope in the rig differ:\n%s", d)
	}
	if len(none) != len(with) {
		t.Fatalf("%d windows without gyroscope, %d with", len(none), len(with))
	}
	for i := range none {
		if none[i].HasGyro() || !with[i].HasGyro() {
			t.Errorf("window %d: gyroscope %v, %v", i, none[i].HasGyro(), with[i].HasGyro())
		}
		if d := cmp.Diff(with[i].A, none[i].A); d != "" {
			t.Errorf("window %d: %s", i, d)
		}
	}
}

// A reading that is no number must neither stop the chain nor spread.
func TestBadReadings(t *testing.T) {
	rg := featurestest.Rig(1000)
	sig := busy(1000, 5).Signal(rg, 4)
	want := len(run(t, rg, sig, usual))
	sig.A[0][500] = float32(math.NaN())
	sig.G[2][1105] = float32(math.Inf(-1))
	got := run(t, rg, sig, usual)
	if len(got) != want {
		t.Fatalf("%d windows, want %d", len(got), want)
	}
	for i, w := range got {
		for k := range 3 {
			for j := range w.A[k] {
				if s := w.A[k][j] + w.G[k][j]; math.IsNaN(s) || math.IsInf(s, 0) {
					t.Fatalf("window %d, sample %d: %g", i, j, s)
				}
			}
		}
	}
	if !got[1].Strike.NearGap {
		t.Error("a reading that was no number is not flagged")
	}
}

func TestOptionsAreChecked(t *testing.T) {
	rg := featurestest.Rig(1000)
	for _, o := range []chain.Options{{PreMs: -1}, {PostMs: math.NaN()}, {PostMs: 6000}, {PreMs: math.Inf(1)}} {
		if _, err := chain.New(rg, o); err == nil {
			t.Errorf("%+v was accepted", o)
		}
	}
	rg.Sensor.RateHz = 50
	if _, err := chain.New(rg, usual); err == nil {
		t.Error("50 Hz was accepted")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := chain.Run(ctx, featurestest.Rig(1000), &dataset.Signal{TNs: []int64{0}, TRaw: []int64{0}, Segment: []int32{0}, A: [3][]float32{{0}, {0}, {9}}}, usual); err == nil {
		t.Error("a cancelled run says nothing")
	}
}

// What the steps declare must fit what the chain does.
func TestSteps(t *testing.T) {
	rg := featurestest.Rig(1000)
	c, err := chain.New(rg, usual)
	if err != nil {
		t.Fatal(err)
	}
	seen, ops, state := map[string]bool{}, 0, 0
	for _, s := range c.Steps() {
		if s.Name == "" || s.Doc == "" || seen[s.Name] || !s.Board || s.StateBytes <= 0 && s.OpsPerSample > 0 {
			t.Errorf("step %+v", s)
		}
		for _, p := range s.Params {
			if p.Name == "" || p.Doc == "" || math.IsNaN(p.Value) {
				t.Errorf("step %s: parameter %+v", s.Name, p)
			}
		}
		seen[s.Name] = true
		ops += s.OpsPerSample
		state += s.StateBytes
	}
	if ops > 150 {
		t.Errorf("%d operations a sample: no longer cheap", ops)
	}
	if state > 128<<10 {
		t.Errorf("%d bytes of state", state)
	}
}

func TestPushAllocatesNothingBetweenStrikes(t *testing.T) {
	rg := featurestest.Rig(1000)
	sig := featurestest.Scene{RateHz: 1000, NoiseMPS2: 0.045}.Signal(rg, 3)
	c, err := chain.New(rg, usual)
	if err != nil {
		t.Fatal(err)
	}
	if n := testing.AllocsPerRun(2, func() {
		for i := range sig.Len() {
			c.Push(sig.At(i))
		}
	}); n != 0 {
		t.Errorf("%g allocations in %d samples", n, sig.Len())
	}
}

func BenchmarkRun(b *testing.B) {
	for _, rate := range []float64{400, 1000} {
		b.Run(fmt.Sprintf("rate=%g/len=200k", rate), func(b *testing.B) {
			rg := featurestest.Rig(rate)
			seconds := 200_000 / rate
			s := featurestest.Scene{RateHz: rate, NoiseMPS2: 0.045}
			for t := 1.0; t < seconds-1; t += 2 {
				// One blow would ring on in the formula for ever: keep it cheap.
				s.Blows = append(s.Blows[:min(len(s.Blows), 3)], featurestest.Blow{AtS: t, BearingDeg: 37 * t, PeakMPS2: 60})
			}
			sig := s.Signal(rg, seconds)
			start := time.Now()
			for b.Loop() {
				if _, err := chain.Run(context.Background(), rg, sig, usual); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(sig.Len())*float64(b.N)/time.Since(start).Seconds(), "samples/s")
		})
	}
}
