package models_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/dataset/simulate"
	"strikerose/features"
	"strikerose/features/chain"
	"strikerose/models"
)

// bags are three unlike rigs: a long one with the sensor near its top, one with
// it at mid-length, and one without a core on a long chain.
func bags() map[string]*rig.Rig {
	top := &rig.Rig{
		Name: "top", Revision: 1, Faces: 6,
		Bands: []rig.Band{{Name: "low", ToM: 0.4}, {Name: "mid", ToM: 0.8}, {Name: "high"}},
		Bag:   rig.Bag{MassKg: 45, LengthM: 1.2, DiameterM: 0.35, CoverMassKg: 3},
		Core:  &rig.Core{MassKg: 22, LengthM: 0.9, DiameterM: 0.14, TopDepthM: 0.15},
		Hang:  rig.Hang{ChainM: 0.5, StrapM: 0.1},
		Sensor: rig.Sensor{
			DepthM: 0.15, RateHz: 1000, AccelRangeG: 16, GyroRangeDPS: 2000,
			Axes: rig.Axes{X: "90", Y: "0", Z: "up"},
		},
	}
	mid := *top
	mid.Name, mid.Bag.LengthM, mid.Bag.MassKg, mid.Sensor.DepthM = "mid", 1.0, 35, 0.45
	mid.Core = &rig.Core{MassKg: 19, LengthM: 0.7, DiameterM: 0.14, TopDepthM: 0.15}
	mid.Sensor.RateHz, mid.Sensor.Axes, mid.Sensor.YawDeg = 400, rig.Axes{X: "up", Y: "180", Z: "90"}, 25
	bare := *top
	bare.Name, bare.Core, bare.Bag.MassKg, bare.Hang.ChainM = "bare", nil, 30, 0.8
	bare.Bag.CoverMassKg, bare.Sensor.DepthM, bare.Sensor.RateHz, bare.Sensor.AccelRangeG = 0, 0.6, 800, 32
	out := map[string]*rig.Rig{}
	for _, r := range []*rig.Rig{top, &mid, &bare} {
		out[r.Name] = r
	}
	return out
}

// simulated finds the strikes of a simulated session on rods that swing at any
// angle, and joins them with their truth.
func simulated(t testing.TB, r *rig.Rig, n int, seed uint64, spoil func(*simulate.Options)) []labelled {
	t.Helper()
	o := simulate.Usual(r, n, seed)
	o.LargeAngles = true
	if spoil != nil {
		spoil(&o)
	}
	s, err := simulate.NewSession(o)
	if err != nil {
		t.Fatal(err)
	}
	pre, post := features.Longest()
	windows, err := chain.Run(t.Context(), r, s.Signal(), chain.Options{PreMs: pre, PostMs: post})
	if err != nil {
		t.Fatal(err)
	}
	var out []labelled
	for _, x := range s.Truth() {
		var best *dataset.Window
		for _, w := range windows {
			if late := float64(w.Strike.OnsetNs)/1e9 - x.TimeS; math.Abs(late) < 0.03 {
				best = w
			}
		}
		if best == nil {
			continue
		}
		l := labelled{kind: x.Kind, band: x.Band}
		l.Session, l.Input, l.BearingDeg, l.HeightM = fmt.Sprint(seed), models.InputOf(best, r), x.BearingDeg, x.HeightM
		out = append(out, l)
	}
	if 10*len(out) < 8*n {
		t.Fatalf("%s: found %d of some %d strikes", r.Name, len(out), n)
	}
	return out
}

func physicsUntrained(t testing.TB) models.Detector {
	t.Helper()
	family, _ := models.FamilyByName("physics")
	d, err := family.Fit(t.Context(), nil, models.Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// scored answers strikes and collects figures without taking any bias off: the
// simulated mount is turned as the rig file says.
func scored(d models.Detector, all []labelled) figures {
	var a about
	for _, l := range all {
		a.add(d.Estimate(l.Input), l)
	}
	return a.figures(0, func(labelled) bool { return true })
}

// Without a label physics answers on any rig, and what it states holds.
func TestPhysicsIntervalsHold(t *testing.T) {
	if testing.Short() {
		t.Skip("long, and starts nothing at once")
	}
	d := physicsUntrained(t)
	for name, r := range bags() {
		all := simulated(t, r, 100, 7, nil)
		for _, v := range []struct {
			name           string
			all            []labelled
			bearing, flips float64
		}{{"gyroscope", all, 1.5, 0}, {"accelerometer", withoutGyro(all), 7, 0.02}} {
			f := scored(d, v.all)
			t.Logf("%-5s %-13s %s", name, v.name, f)
			if f.mae > v.bearing || f.heightM > 0.06 || f.flips > v.flips {
				t.Errorf("%s, %s: bearing %.2f deg, height %.3f m, flips %.3f", name, v.name, f.mae, f.heightM, f.flips)
			}
			if f.coverB < 0.85 || f.coverH < 0.85 {
				t.Errorf("%s, %s: intervals of 90 %% hold %.0f %% of bearings and %.0f %% of heights", name, v.name, 100*f.coverB, 100*f.coverH)
			}
		}
	}
}

// Rates from slow to fast, a low limit, and readings in whole counts.
func TestPhysicsAtAnyRate(t *testing.T) {
	d := physicsUntrained(t)
	for _, c := range []struct {
		rateHz, rangeG float64
		n              int
		bearing        float64 // degrees, at most
	}{{200, 32, 40, 3}, {400, 32, 40, 1.5}, {800, 32, 40, 1.5}, {1600, 32, 30, 1.5}, {6400, 32, 12, 1.5}, {1000, 8, 40, 2}} {
		r := *bags()["top"]
		r.Sensor.RateHz, r.Sensor.AccelRangeG, r.Sensor.AccelLSBPerG = c.rateHz, c.rangeG, 32768/c.rangeG
		f := scored(d, simulated(t, &r, c.n, 3, func(o *simulate.Options) { o.LargeAngles = false }))
		t.Logf("%g Hz, %g g: %s", c.rateHz, c.rangeG, f)
		if f.mae > c.bearing || f.heightM > 0.045 || f.flips > 0 {
			t.Errorf("%g Hz, %g g: bearing %.2f deg, height %.3f m, flips %.3f", c.rateHz, c.rangeG, f.mae, f.heightM, f.flips)
		}
	}
}

// Without a gyroscope it waits longer, and no longer than it says: cutting the
// log just after a row is ready leaves the row as it was, double hits included.
func TestPhysicsCutAfterReadyWithoutGyroscope(t *testing.T) {
	d := physicsUntrained(t)
	r := *bags()["top"]
	r.Sensor.GyroRangeDPS = 0
	o := simulate.Usual(&r, 14, 11)
	s, err := simulate.NewSession(o)
	if err != nil {
		t.Fatal(err)
	}
	sig := s.Signal()
	whole, err := models.Apply(t.Context(), d, &r, sig)
	if err != nil {
		t.Fatal(err)
	}
	if len(whole) < 10 {
		t.Fatalf("found %d strikes", len(whole))
	}
	for i, row := range whole {
		n, _ := slices.BinarySearch(sig.TNs, row.ReadyNs)
		cut := sig.Slice(0, min(n+1, sig.Len()))
		got, err := models.Apply(t.Context(), d, &r, &cut)
		if err != nil {
			t.Fatal(err)
		}
		if len(got) <= i || got[i].Estimate != row.Estimate || got[i].ReadyNs != row.ReadyNs {
			t.Fatalf("strike %d: cut just after ready %+v, whole %+v", i+1, got[len(got)-1], row)
		}
		if waited := float64(row.ReadyNs-row.OnsetNs) / 1e6; waited > 215 {
			t.Errorf("strike %d: ready %.1f ms after its onset", i+1, waited)
		}
	}
}

// BenchmarkPhysics answers one strike.
func BenchmarkPhysics(b *testing.B) {
	family, _ := models.FamilyByName("physics")
	d, err := family.Fit(b.Context(), nil, models.Options{Seed: 1})
	if err != nil {
		b.Fatal(err)
	}
	all := simulated(b, bags()["top"], 30, 5, nil)
	for _, v := range []struct {
		name string
		all  []labelled
	}{{"gyroscope", all}, {"accelerometer", withoutGyro(all)}} {
		b.Run(v.name, func(b *testing.B) {
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				d.Estimate(v.all[i%len(v.all)].Input)
			}
		})
	}
}
