package cost_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/simulate"
	"strikerose/models"
	"strikerose/models/firmware"
	"strikerose/models/firmware/cost"
	"strikerose/models/firmware/emulate"
)

// tried is what each target runs: every kind in fixed point on processors that
// differ in their arithmetic, in float32 what has other functions of math.h. Where
// measurements are wanted, everything.
func tried(target emulate.Target) map[string][]kind {
	all := kinds()
	some := []kind{all[0], all[4], all[5]}
	if os.Getenv("STRIKEROSE_RECORDINGS") != "" && !target.NoFloat {
		return map[string][]kind{firmware.Fixed: all, firmware.Float32: all}
	}
	switch {
	case target.NoFloat:
		return map[string][]kind{firmware.Fixed: all}
	case target.Name == "cortex-m0", target.Name == "rv32imc":
		return map[string][]kind{firmware.Fixed: all, firmware.Float32: some}
	}
	return map[string][]kind{firmware.Fixed: some, firmware.Float32: some}
}

// Every target computes what Go computes, and within what it has.
func TestTargetsSayWhatGoSays(t *testing.T) {
	for _, target := range emulate.Targets() {
		t.Run(target.Name, func(t *testing.T) {
			require(t, target)
			t.Parallel()
			if target.RAMMax < 4<<10 {
				t.Skipf("%d bytes of memory are for slow rigs: TestSmallestBoard", target.RAMMax)
			}
			for profile, list := range tried(target) {
				for _, k := range list {
					v, f := device(t, k, profile)
					samples := stream(t, v, k.gyro, 900)
					events, err := v.Run(t.Context(), samples)
					if err != nil {
						t.Fatal(err)
					}
					if len(events) < 2 {
						t.Fatalf("%s: %d events in the stream", k.name, len(events))
					}
					c, err := cost.Run(t.Context(), target, exported(t, v, f), samples)
					if err != nil {
						t.Fatalf("%s, %s: %v", k.name, profile, err)
					}
					if err := differ(profile, c.Events, firmware.Lines(events)); err != nil {
						t.Errorf("%s, %s: %v", k.name, profile, err)
					}
					if c.PerSample <= 0 || c.WorstSample < int(c.PerSample) || c.WorstAnswer <= 0 || c.StackBytes < 50 || c.StackBytes > 2000 {
						t.Errorf("%s, %s: a cost that cannot be: %+v", k.name, profile, *c)
					}
				}
			}
		})
	}
}

// A log goes through replay.c on the board as through Go.
func TestReplayOnTargets(t *testing.T) {
	for _, target := range emulate.Targets() {
		if !target.HasLibrary() {
			continue
		}
		t.Run(target.Name, func(t *testing.T) {
			require(t, target)
			t.Parallel()
			k := kinds()[0]
			v, f := device(t, k, firmware.Fixed)
			dir := t.TempDir()
			for _, x := range exported(t, v, f) {
				if err := os.WriteFile(filepath.Join(dir, x.Name), x.Data, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			p, err := target.Build(t.Context(), dir, dir, []string{"replay.c", "strikerose.c"}, true)
			if err != nil {
				t.Fatal(err)
			}
			samples := stream(t, v, k.gyro, 1500)
			events, err := v.Run(t.Context(), samples)
			if err != nil {
				t.Fatal(err)
			}
			ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute) // one that hangs
			defer cancel()
			out, err := p.Run(ctx, log(samples))
			if err != nil {
				t.Fatal(err)
			}
			if err := differ(v.Profile, string(out), firmware.Lines(events)); err != nil {
				t.Error(err)
			}
		})
	}
}

// The whole cost on the smallest processor that takes every detector.
func TestMeasure(t *testing.T) {
	target, err := emulate.Find("cortex-m0")
	if err != nil {
		t.Fatal(err)
	}
	require(t, target)
	t.Parallel()
	var small, large *cost.Cost
	for i, k := range []kind{kinds()[0], kinds()[5]} {
		v, f := device(t, k, firmware.Fixed)
		c, err := cost.Measure(t.Context(), target, exported(t, v, f), stream(t, v, k.gyro, 900))
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: flash %d, state %d of which ring %d, stack %d (bound %d), %s: %.0f a sample, %d at worst, %d with an answer",
			k.name, c.FlashBytes, c.RAMBytes, c.RingBytes, c.StackBytes, c.BoundBytes, c.Unit, c.PerSample, c.WorstSample, c.WorstAnswer)
		if c.RingBytes < v.Ring*8 { // three readings and a stamp of 16 bits each
			t.Errorf("%s: the ring of %d takes %d bytes", k.name, v.Ring, c.RingBytes)
		}
		if c.RAMBytes <= c.RingBytes || c.FlashBytes < 2000 || c.FlashBytes > target.FlashMax {
			t.Errorf("%s: %+v", k.name, *c)
		}
		// The trial's own frame is in what was measured, the library's are not in
		// the bound.
		if c.BoundBytes < c.StackBytes/2 || c.BoundBytes > 2*c.StackBytes {
			t.Errorf("%s: %d bytes of stack measured, bound %d", k.name, c.StackBytes, c.BoundBytes)
		}
		if i == 0 {
			small = c
		} else {
			large = c
		}
	}
	if large.FlashBytes <= small.FlashBytes || large.WorstAnswer <= small.WorstAnswer {
		t.Errorf("nets take no more than an arctangent: %+v, %+v", *large, *small)
	}
}

// The smallest board takes the simplest detector at 200 samples a second, its noise
// known; at 1000 it has no room, and that is said.
func TestSmallestBoard(t *testing.T) {
	target, err := emulate.Find("atmega328p")
	if err != nil {
		t.Fatal(err)
	}
	require(t, target)
	t.Parallel()
	try := func(rateHz float64) (*cost.Cost, string, error) {
		r := datasettest.Rig(t)
		r.Sensor.RateHz, r.Sensor.AccelNoiseMPS2 = rateHz, 0.05
		family, _ := models.FamilyByName("peak-arctangent")
		d, err := family.Fit(t.Context(), nil, models.Options{})
		if err != nil {
			t.Fatal(err)
		}
		v, err := firmware.NewDevice(d, r, firmware.Fixed)
		if err != nil {
			t.Fatal(err)
		}
		s, err := simulate.NewSession(simulate.Usual(r, 3, 5))
		if err != nil {
			t.Fatal(err)
		}
		all := firmware.Samples(r, s.Signal(), 1e6)
		events, err := v.Run(t.Context(), all)
		if err != nil || len(events) == 0 {
			t.Fatalf("%d events, %v", len(events), err)
		}
		samples := all[max(0, events[0].Onset-100):min(len(all), events[0].Onset+200)]
		if events, err = v.Run(t.Context(), samples); err != nil {
			t.Fatal(err)
		}
		c, err := cost.Measure(t.Context(), target, exported(t, v, &models.File{Detector: d}), samples)
		return c, firmware.Lines(events), err
	}
	c, want, err := try(200)
	if err != nil {
		t.Fatal(err)
	}
	if err := differ(firmware.Fixed, c.Events, want); err != nil || want == "" {
		t.Errorf("events %q: %v", want, err)
	}
	t.Logf("flash %d, state %d of which ring %d, stack %d (bound %d), %s: %.0f a sample, %d at worst, %d with an answer",
		c.FlashBytes, c.RAMBytes, c.RingBytes, c.StackBytes, c.BoundBytes, c.Unit, c.PerSample, c.WorstSample, c.WorstAnswer)
	if _, _, err = try(1000); err == nil {
		t.Error("it fits at 1000 samples a second: say so in the doc of the target")
	}
}

func TestBudget(t *testing.T) {
	c := &cost.Cost{Target: "cortex-m0", Unit: "instructions", FlashBytes: 8000, RAMBytes: 2400, StackBytes: 400, BoundBytes: 300, WorstSample: 500, WorstAnswer: 9000}
	for _, x := range []struct {
		budget cost.Budget
		want   []string
	}{
		{cost.Budget{}, nil},
		{cost.Budget{FlashBytes: 8000, RAMBytes: 2800, Work: 9000}, nil},
		{cost.Budget{FlashBytes: 7999}, []string{"flash on cortex-m0: 8000 bytes, 7999 allowed"}},
		{cost.Budget{RAMBytes: 2799, Work: 8999}, []string{"memory on cortex-m0: 2800 bytes, 2799 allowed", "the work of a sample on cortex-m0: 9000 instructions, 8999 allowed"}},
	} {
		got := x.budget.Over(c)
		if len(got) != len(x.want) {
			t.Errorf("%+v: %q, want %q", x.budget, got, x.want)
			continue
		}
		for i := range got {
			if got[i] != x.want[i] {
				t.Errorf("%+v: %q, want %q", x.budget, got[i], x.want[i])
			}
		}
	}
	if got := c.Late(16e6, 1000); got != 0.5625 {
		t.Errorf("%g samples come meanwhile", got)
	}
}
