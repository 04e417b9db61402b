package onset

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"strikerose/features/featurestest"
)

const noise = 0.045

// find sends a scene's samples through a new finder and pads its end.
func find(t testing.TB, c Config, a [][3]float64) []Event {
	t.Helper()
	f, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	var out []Event
	keep := func(e Event, ok bool) {
		if ok {
			out = append(out, e)
		}
	}
	for _, x := range a {
		keep(f.Push(x))
	}
	for i := 0; i < Lookahead || f.Busy(); i++ {
		keep(f.Pad())
	}
	return out
}

func strikes(events []Event) (out []Event) {
	for _, e := range events {
		if e.Verdict == Strike {
			out = append(out, e)
		}
	}
	return out
}

func config(rateHz float64) Config {
	return Config{RateHz: rateHz, ClipMPS2: 157, NoiseMPS2: noise, MassKg: 35}
}

func TestFinderTellsStrikesFromTheRest(t *testing.T) {
	blow := func(atS float64) featurestest.Blow {
		return featurestest.Blow{AtS: atS, BearingDeg: 200, PeakMPS2: 40}
	}
	swings := []featurestest.Swing{
		{Hz: 0.42, BearingDeg: 20, MPS2: 3},
		{Hz: 2.2, BearingDeg: 110, MPS2: 4},
	}
	blip := func(atS float64, n int) featurestest.Blip {
		return featurestest.Blip{AtS: atS, Samples: n, Add: [3]float64{60, -25, 10}}
	}
	for _, c := range []struct {
		name  string
		scene featurestest.Scene
		want  []float64 // onsets, s
	}{
		{name: "noise only"},
		{name: "swing and rocking only", scene: featurestest.Scene{Swings: swings}},
		{name: "strike", scene: featurestest.Scene{Blows: []featurestest.Blow{blow(1)}}, want: []float64{1}},
		{name: "strike while swinging", scene: featurestest.Scene{Blows: []featurestest.Blow{blow(1)}, Swings: swings}, want: []float64{1}},
		{name: "tap", scene: featurestest.Scene{Blows: []featurestest.Blow{{AtS: 1, BearingDeg: 30, PeakMPS2: 2}}}, want: []float64{1}},
		{name: "short contact", scene: featurestest.Scene{Blows: []featurestest.Blow{{AtS: 1, PeakMPS2: 60, ContactMs: 14}}}, want: []float64{1}},
		{name: "long contact", scene: featurestest.Scene{Blows: []featurestest.Blow{{AtS: 1, PeakMPS2: 30, ContactMs: 29}}}, want: []float64{1}},
		{name: "one-two", scene: featurestest.Scene{Blows: []featurestest.Blow{blow(1), {AtS: 1.18, BearingDeg: 140, PeakMPS2: 20}}}, want: []float64{1, 1.18}},
		{name: "clipped", scene: featurestest.Scene{ClipMPS2: 157, Blows: []featurestest.Blow{{AtS: 1, BearingDeg: 5, PeakMPS2: 260}}}, want: []float64{1}},
		{name: "soon after the start", scene: featurestest.Scene{Blows: []featurestest.Blow{blow(0.05)}}, want: []float64{0.05}},
		{name: "at the end", scene: featurestest.Scene{Blows: []featurestest.Blow{blow(1.975)}}, want: []float64{1.975}},
		{name: "blip of one", scene: featurestest.Scene{Blips: []featurestest.Blip{blip(1, 1)}}},
		{name: "blip of two", scene: featurestest.Scene{Blips: []featurestest.Blip{blip(1, 2)}}},
		{name: "blip of three", scene: featurestest.Scene{Blips: []featurestest.Blip{blip(1, 3)}}},
		{name: "blip while swinging", scene: featurestest.Scene{Swings: swings, Blips: []featurestest.Blip{blip(0.7, 2), blip(1.3, 3)}}},
		{name: "blips in a row", scene: featurestest.Scene{Blips: []featurestest.Blip{blip(1, 1), blip(1.02, 2), blip(1.045, 3)}}},
		{name: "blip before a strike", scene: featurestest.Scene{Blows: []featurestest.Blow{blow(1)}, Blips: []featurestest.Blip{blip(0.99, 2)}}, want: []float64{1}},
		{name: "blip on a strike", scene: featurestest.Scene{Blows: []featurestest.Blow{blow(1)}, Blips: []featurestest.Blip{blip(1.012, 1)}}, want: []float64{1}},
		{name: "blip after a strike", scene: featurestest.Scene{Blows: []featurestest.Blow{blow(1)}, Blips: []featurestest.Blip{blip(1.06, 3)}}, want: []float64{1}},
		{name: "shove", scene: featurestest.Scene{Shoves: []featurestest.Shove{{AtS: 1, BearingDeg: 80, PeakMPS2: 8, LengthMs: 110}}}},
		{name: "long shove", scene: featurestest.Scene{Shoves: []featurestest.Shove{{AtS: 0.8, BearingDeg: 80, PeakMPS2: 9, LengthMs: 160}}}},
		{name: "strike after a shove", scene: featurestest.Scene{
			Shoves: []featurestest.Shove{{AtS: 0.8, BearingDeg: 80, PeakMPS2: 8, LengthMs: 110}},
			Blows:  []featurestest.Blow{blow(0.96)}}, want: []float64{0.96}},
	} {
		for _, rate := range []float64{400, 800, 1000, 1600} {
			t.Run(fmt.Sprintf("%s/rate=%g", c.name, rate), func(t *testing.T) {
				c.scene.RateHz, c.scene.NoiseMPS2, c.scene.Seed = rate, noise, 7
				a, _ := c.scene.Samples(2)
				found := strikes(find(t, config(rate), a))
				if len(found) != len(c.want) {
					t.Fatalf("found %d strikes, want %d: %+v", len(found), len(c.want), found)
				}
				for i, e := range found {
					if off := float64(e.Onset)/rate - c.want[i]; math.Abs(off) > 0.004 {
						t.Errorf("onset %d is off by %.1f ms", i, 1000*off)
					}
					if delay := float64(e.Decided-e.Onset) / rate; c.want[i] < 1.9 && (delay < 0.03 || delay > 0.07) {
						t.Errorf("decision %d came %.1f ms after the onset", i, 1000*delay)
					}
				}
			})
		}
	}
}

// A low rate shows a contact in few samples, which must not pass for a blip.
func TestContactsAtLowRates(t *testing.T) {
	for _, rate := range []float64{minRateHz, 250, 300, 333, 400} {
		for _, contactMs := range []float64{14, 20, 28} {
			rng := rand.New(rand.NewPCG(1, 2))
			scene := featurestest.Scene{RateHz: rate, NoiseMPS2: noise, Seed: 3}
			const blows = 20
			for i := range blows {
				scene.Blows = append(scene.Blows, featurestest.Blow{
					AtS: 1 + float64(i) + 0.01*rng.Float64(), BearingDeg: 360 * rng.Float64(), PeakMPS2: 10 + 90*rng.Float64(), ContactMs: contactMs,
				})
				scene.Blips = append(scene.Blips, featurestest.Blip{AtS: 1.5 + float64(i), Samples: 1, Add: [3]float64{20, -30, 0}})
			}
			a, _ := scene.Samples(blows + 2)
			if got := len(strikes(find(t, config(rate), a))); got != blows {
				t.Errorf("%g Hz, contacts of %g ms: %d strikes of %d", rate, contactMs, got, blows)
			}
		}
	}
}

func TestShovesAreCalledShoves(t *testing.T) {
	s := featurestest.Scene{RateHz: 1000, NoiseMPS2: noise, Shoves: []featurestest.Shove{{AtS: 1, PeakMPS2: 8, LengthMs: 110}}}
	a, _ := s.Samples(2)
	events := find(t, config(1000), a)
	if len(events) == 0 {
		t.Fatal("a shove of 280 N triggers nothing: the case no longer tests the rules")
	}
	for _, e := range events {
		if e.Verdict == Strike || e.Verdict == Blip {
			t.Errorf("verdict %v: %+v", e.Verdict, e)
		}
	}
}

// A blip anywhere on a strike must neither hide it nor move it far, and the
// run that was replaced must be told.
func TestBlipAnywhereOnAStrike(t *testing.T) {
	for _, rate := range []float64{400, 1000} {
		for _, n := range []int{1, 2, 3} {
			for ms := -12.0; ms <= 30; ms += 1.5 {
				s := featurestest.Scene{RateHz: rate, NoiseMPS2: noise, Seed: 3,
					Blows: []featurestest.Blow{{AtS: 0.5, BearingDeg: 200, PeakMPS2: 30}},
					Blips: []featurestest.Blip{{AtS: 0.5 + ms/1000, Samples: n, Add: [3]float64{-40, 50, 0}}}}
				a, _ := s.Samples(1)
				found := strikes(find(t, config(rate), a))
				if len(found) != 1 {
					t.Errorf("rate %g, blip of %d at %+g ms: %d strikes", rate, n, ms, len(found))
					continue
				}
				if off := 1000 * (float64(found[0].Onset)/rate - 0.5); math.Abs(off) > 13 { // one that ends with the onset joins it
					t.Errorf("rate %g, blip of %d at %+g ms: onset off by %.1f ms", rate, n, ms, off)
				}
			}
		}
	}
}

func TestLighterBagShovesHarder(t *testing.T) {
	// The same forces on bags of other masses: accelerations go as 1/mass.
	for _, mass := range []float64{15, 35, 70} {
		s := featurestest.Scene{RateHz: 1000, NoiseMPS2: 0.01,
			Blows:  []featurestest.Blow{{AtS: 0.5, PeakMPS2: 700 / mass}},
			Shoves: []featurestest.Shove{{AtS: 1.2, PeakMPS2: 280 / mass, LengthMs: 110}}}
		a, _ := s.Samples(2)
		c := Config{RateHz: 1000, ClipMPS2: 157, NoiseMPS2: 0.01, MassKg: mass}
		if found := strikes(find(t, c, a)); len(found) != 1 || math.Abs(float64(found[0].Onset)-500) > 4 {
			t.Errorf("mass %g kg: %+v", mass, found)
		}
	}
}

// More noise must not make strikes; it may hide the lightest.
func TestNoiseMakesNoStrikes(t *testing.T) {
	for _, times := range []float64{1, 4, 16} {
		s := featurestest.Scene{RateHz: 800, NoiseMPS2: times * noise, Seed: 11}
		for i := range 5 {
			s.Blows = append(s.Blows, featurestest.Blow{AtS: 3 + float64(i), BearingDeg: float64(50 * i), PeakMPS2: 40})
		}
		a, _ := s.Samples(8)
		for _, known := range []float64{times * noise, 0} {
			c := Config{RateHz: 800, ClipMPS2: 157, NoiseMPS2: known, MassKg: 35}
			if found := strikes(find(t, c, a)); len(found) != 5 {
				t.Errorf("noise times %g, given %g: %d strikes, want 5", times, known, len(found))
			}
		}
	}
}

func TestGainOfAStrikeScalesItsMeasures(t *testing.T) {
	measure := func(peak float64) Event {
		s := featurestest.Scene{RateHz: 1000, NoiseMPS2: 1e-4, Blows: []featurestest.Blow{{AtS: 0.5, BearingDeg: 77, PeakMPS2: peak}}}
		a, _ := s.Samples(1)
		found := strikes(find(t, config(1000), a))
		if len(found) != 1 {
			t.Fatalf("peak %g: %d strikes", peak, len(found))
		}
		return found[0]
	}
	one, four := measure(20), measure(80)
	for _, m := range [][2]float64{{one.ShortMPS2, four.ShortMPS2}, {one.LongMPS2, four.LongMPS2}, {one.RawMPS2, four.RawMPS2}, {one.VerticalMPS2, four.VerticalMPS2}} {
		if math.Abs(m[1]/m[0]-4) > 0.01 {
			t.Errorf("four times the blow gives %.4f times the measure", m[1]/m[0])
		}
	}
	if math.Abs(one.Tail-four.Tail) > 0.01 {
		t.Errorf("tail %.3f and %.3f", one.Tail, four.Tail)
	}
}

func TestBadReadingsDoNoHarm(t *testing.T) {
	s := featurestest.Scene{RateHz: 1000, NoiseMPS2: noise, Blows: []featurestest.Blow{{AtS: 1.2, PeakMPS2: 40}}}
	a, _ := s.Samples(2)
	a[100][0] = math.NaN()
	a[300][1] = math.Inf(1)
	a[301][1] = math.Inf(-1)
	for i := 600; i < 640; i++ {
		a[i] = [3]float64{math.NaN(), math.NaN(), math.NaN()}
	}
	if found := strikes(find(t, config(1000), a)); len(found) != 1 || math.Abs(float64(found[0].Onset)-1200) > 4 {
		t.Errorf("%+v", found)
	}
}

func TestRestartForgetsTheSegment(t *testing.T) {
	s := featurestest.Scene{RateHz: 1000, NoiseMPS2: noise, Blows: []featurestest.Blow{{AtS: 0.3, PeakMPS2: 60}}}
	a, _ := s.Samples(0.4)
	f, err := New(config(1000))
	if err != nil {
		t.Fatal(err)
	}
	for round := range 3 {
		n := 0
		for _, x := range a {
			if e, ok := f.Push(x); ok && e.Verdict == Strike {
				n++
				if e.Onset < 296 || e.Onset > 304 {
					t.Errorf("round %d: onset %d", round, e.Onset)
				}
			}
		}
		if n != 1 {
			t.Errorf("round %d: %d strikes", round, n)
		}
		f.Restart()
	}
}

func TestConfigIsChecked(t *testing.T) {
	good := config(1000)
	for name, spoil := range map[string]func(*Config){
		"slow":           func(c *Config) { c.RateHz = 100 },
		"rate no number": func(c *Config) { c.RateHz = math.NaN() },
		"no mass":        func(c *Config) { c.MassKg = 0 },
		"no limit":       func(c *Config) { c.ClipMPS2 = 0 },
		"negative noise": func(c *Config) { c.NoiseMPS2 = -1 },
		"noise nan":      func(c *Config) { c.NoiseMPS2 = math.NaN() },
	} {
		c := good
		spoil(&c)
		if _, err := New(c); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
	if _, err := New(good); err != nil {
		t.Error(err)
	}
}

func TestPushAllocatesNothing(t *testing.T) {
	s := featurestest.Scene{RateHz: 1000, NoiseMPS2: noise, Blows: []featurestest.Blow{{AtS: 0.3, PeakMPS2: 60}}}
	a, _ := s.Samples(1)
	f, err := New(config(1000))
	if err != nil {
		t.Fatal(err)
	}
	if n := testing.AllocsPerRun(3, func() {
		for _, x := range a {
			f.Push(x)
		}
	}); n != 0 {
		t.Errorf("%g allocations for %d samples and a strike", n, len(a))
	}
}

func BenchmarkPush(b *testing.B) {
	for _, rate := range []float64{400, 1600} {
		b.Run(fmt.Sprintf("rate=%g", rate), func(b *testing.B) {
			s := featurestest.Scene{RateHz: rate, NoiseMPS2: noise}
			for i := range 20 {
				s.Blows = append(s.Blows, featurestest.Blow{AtS: float64(i) + 0.5, BearingDeg: float64(31 * i), PeakMPS2: 50})
			}
			a, _ := s.Samples(20)
			f, err := New(config(rate))
			if err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				for _, x := range a {
					f.Push(x)
				}
			}
			b.ReportMetric(float64(len(a))*float64(b.N)/b.Elapsed().Seconds(), "samples/s")
		})
	}
}
