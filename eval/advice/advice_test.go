package advice_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
	"strikerose/eval/advice"
)

// quiet returns a rig about which nothing needs to be said: the sensor sits
// near the centre of mass, turns are read, masses were measured.
func quiet(t *testing.T) *rig.Rig {
	t.Helper()
	r := datasettest.Rig(t)
	centre, gyration := 0.5, 0.28
	r.Bag.CentreOfMassDepthM, r.Bag.RadiusOfGyrationM = &centre, &gyration
	r.Sensor.DepthM, r.Sensor.RateHz = 0.48, 350
	return r
}

func of(t *testing.T, r *rig.Rig, o advice.Options) *advice.Sheet {
	t.Helper()
	s, err := advice.Of(t.Context(), r, o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func kinds(s *advice.Sheet) []string {
	var out []string
	for _, a := range s.Advice {
		out = append(out, a.Kind)
	}
	return out
}

// The quiet rig calls for nothing, and each change of it for its advice.
func TestAdviceFires(t *testing.T) {
	if got := kinds(of(t, quiet(t), advice.Options{})); len(got) > 0 {
		t.Errorf("the quiet rig gets advice: %v", got)
	}
	noGyro := func(r *rig.Rig) { r.Sensor.GyroRangeDPS, r.Sensor.GyroLSBPerDPS = 0, 0 }
	atTop := func(r *rig.Rig) { r.Sensor.DepthM = 0.06 }
	for _, c := range []struct {
		name    string
		change  func(*rig.Rig)
		options advice.Options
		want    []string // among others
	}{
		{"sensor at the top", atTop, advice.Options{}, []string{advice.MoveSensor, advice.KnowTheRig, advice.ListenOn, advice.RaiseRange}},
		{"sensor at the bottom", func(r *rig.Rig) { r.Sensor.DepthM = 0.95 }, advice.Options{}, []string{advice.MoveSensor, advice.KnowTheRig}},
		{"no gyroscope", noGyro, advice.Options{}, []string{advice.AddGyroscope, advice.WaitLonger}},
		{"small range", func(r *rig.Rig) { r.Sensor.AccelRangeG = 4 }, advice.Options{}, []string{advice.RaiseRange}},
		{"harder blow", func(*rig.Rig) {}, advice.Options{PeakForceN: 8000}, []string{advice.RaiseRange}},
		{"small gyroscope range", func(r *rig.Rig) { r.Sensor.GyroRangeDPS = 125 }, advice.Options{}, []string{advice.RaiseGyroRange}},
		{"slow", func(r *rig.Rig) { r.Sensor.RateHz = 200 }, advice.Options{}, []string{advice.RaiseRate}},
		{"tight tolerance", func(*rig.Rig) {}, advice.Options{HeightToleranceM: 0.03}, []string{advice.WaitLonger}},
		{"hopeless tolerance", func(*rig.Rig) {}, advice.Options{HeightToleranceM: 1e-4}, []string{advice.WaitLonger}},
		{"narrow band", func(r *rig.Rig) {
			r.Bands = []rig.Band{{Name: "foot", ToM: 0.05}, {Name: "ankle", ToM: 0.1}, {Name: "rest"}}
		}, advice.Options{}, []string{advice.WidenBand}},
		{"height out of reach", func(r *rig.Rig) {
			noGyro(r)
			r.Sensor.DepthM = 0.6
		}, advice.Options{}, []string{advice.SkipHeights}},
		{"masses estimated", func(r *rig.Rig) {
			r.Bag.CentreOfMassDepthM, r.Bag.RadiusOfGyrationM = nil, nil
			atTop(r)
		}, advice.Options{}, []string{advice.MeasureMass}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := quiet(t)
			c.change(r)
			if err := r.Validate(); err != nil {
				t.Fatal(err)
			}
			s := of(t, r, c.options)
			got := kinds(s)
			for _, want := range c.want {
				if !slices.Contains(got, want) {
					t.Errorf("advice is %v and lacks %s", got, want)
				}
			}
			if !ranked(s.Advice) {
				t.Errorf("advice is not ranked by its gain: %+v", s.Advice)
			}
			for _, a := range s.Advice {
				if a.Do == "" || a.Because == "" || a.Gain == "" || !(a.GainStrikes >= 0 && a.GainStrikes <= 100) {
					t.Errorf("advice says too little: %+v", a)
				}
			}
		})
	}
}

func ranked(all []advice.Advice) bool {
	for i := 1; i < len(all); i++ {
		if all[i].GainStrikes > all[i-1].GainStrikes {
			return false
		}
	}
	return true
}

// Advice taken is advice no longer given, and what it promised has come true.
func TestAdviceTaken(t *testing.T) {
	r := quiet(t)
	r.Sensor.DepthM = 0.06
	before := of(t, r, advice.Options{})
	after := *r
	after.Sensor.DepthM = 0.4
	after.Sensor.AccelRangeG = 64
	c, err := advice.Between(t.Context(), r, &after, advice.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]advice.Value{{Key: "sensor.depth_m", Before: "0.06", After: "0.4"}, {Key: "sensor.accel_range_g", Before: "16", After: "64"}}, c.Values); diff != "" {
		t.Errorf("values (-want +got):\n%s", diff)
	}
	if got := kinds(c.After); slices.Contains(got, advice.MoveSensor) || slices.Contains(got, advice.RaiseRange) || slices.Contains(got, advice.KnowTheRig) {
		t.Errorf("advice stands after it was taken: %v", got)
	}
	if before.Dead.FlipShare < 0.2 || c.After.Dead.FlipShare != 0 || before.Whole.ClippedShare < 0.2 || c.After.Whole.ClippedShare != 0 {
		t.Errorf("flips %g to %g, clipped %g to %g: want much to none", before.Dead.FlipShare, c.After.Dead.FlipShare, before.Whole.ClippedShare, c.After.Whole.ClippedShare)
	}
}

// An even bag of length L with the sensor at its top edge has its dead height
// a third of the way up, less the little that its thickness adds (textbook:
// centre of percussion of a rod, and k^2 = L^2/12 + r^2/4).
func TestDeadHeightOfEvenBag(t *testing.T) {
	r := datasettest.Rig(t)
	r.Sensor.DepthM = 0
	s := of(t, r, advice.Options{})
	k2 := 1/12.0 + 0.175*0.175/4
	want := 0.5 - k2/0.5
	if got := *s.Dead.HeightM; math.Abs(got-want) > 1e-9 {
		t.Errorf("dead height %g, want %g", got, want)
	}
	if got := s.Dead.FlipShare; math.Abs(got-want) > 1e-9 {
		t.Errorf("flips on %g of the bag, want %g", got, want)
	}
	if low := s.Bands[0]; low.Name != "low" || math.Abs(low.FlipShare-want/0.35) > 1e-9 || !low.HoldsDeadHeight {
		t.Errorf("band low: %+v, want a flip share of %g and the dead height in it", low, want/0.35)
	}
}

// Where a mode's value comes from is said.
func TestModesSayTheirSource(t *testing.T) {
	r := datasettest.Rig(t)
	r.Motion = &rig.Motion{RockingHz: 2.2, TwistDecayS: 3}
	var got []string
	for _, m := range of(t, r, advice.Options{}).Modes {
		got = append(got, m.Name, m.From, m.DecayFrom)
		if math.Abs(m.Hz*m.PeriodS-1) > 1e-12 {
			t.Errorf("%s: %g Hz and %g s a cycle", m.Name, m.Hz, m.PeriodS)
		}
	}
	want := []string{"swing", "computed", "usual", "rocking", "measured", "usual", "twist", "usual", "measured"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("sources (-want +got):\n%s", diff)
	}
}

func TestRefusesOptions(t *testing.T) {
	for _, o := range []advice.Options{{PeakForceN: -1}, {BearingToleranceDeg: math.NaN()}, {HeightToleranceM: math.Inf(1)}} {
		if _, err := advice.Of(t.Context(), quiet(t), o); err == nil {
			t.Errorf("%+v passes", o)
		}
	}
}

// Whatever the rig, shares are shares and everything fits into JSON and comes
// back from it.
func TestAnyRig(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	between := func(a, b float64) float64 { return a * math.Exp(rng.Float64()*math.Log(b/a)) }
	for range 6 {
		r := datasettest.Rig(t)
		r.Bag = rig.Bag{MassKg: between(1, 500), LengthM: between(0.1, 5), DiameterM: between(0.05, 2)}
		r.Hang = rig.Hang{ChainM: between(0.01, 20), StrapM: between(0.001, 5)}
		r.Sensor.DepthM = r.Bag.LengthM*rng.Float64()*1.1 - 0.1*r.Hang.StrapM
		r.Sensor.DepthM = min(r.Sensor.DepthM, r.Bag.LengthM)
		r.Sensor.RateHz, r.Sensor.AccelRangeG = between(50, 2000), between(2, 400)
		r.Bands = []rig.Band{{Name: "a", ToM: 0.1 * r.Bag.LengthM}, {Name: "b"}}
		if rng.IntN(2) == 0 {
			r.Sensor.GyroRangeDPS, r.Sensor.GyroLSBPerDPS = 0, 0
		}
		if err := r.Validate(); err != nil {
			t.Fatal(err)
		}
		s, err := advice.Of(t.Context(), r, advice.Options{})
		if err != nil {
			continue // a rig of no use, such as one whose rocking is overdamped: refused in words
		}
		for _, b := range s.Bands {
			for _, share := range []float64{b.FlipShare, b.MisplacedShare, b.OtherMisplaced, b.WrongBandShare} {
				if !(share >= 0 && share <= 1) {
					t.Errorf("a share of %g in %+v of %+v", share, b, r)
				}
			}
		}
		for _, d := range s.Depths {
			for _, share := range []float64{d.FlipShare, d.MisplacedShare, d.ClippedShare} {
				if !(share >= 0 && share <= 1+1e-12) {
					t.Errorf("a share of %g in %+v of %+v", share, d, r)
				}
			}
		}
		data, err := json.Marshal(s)
		if err != nil {
			t.Fatalf("%+v: %v", r, err)
		}
		var back advice.Sheet
		if err := json.Unmarshal(data, &back); err != nil {
			t.Fatal(err)
		}
		again, err := json.Marshal(&back)
		if err != nil {
			t.Fatal(err)
		}
		if string(again) != string(data) {
			t.Error("a sheet read back from JSON marshals to something else")
		}
	}
}

// The parts of a sheet agree: the other sensor is the rig with it, the depth
// that the sensor has is the rig as it is, and the usual wait is the limit.
func TestSheetAgreesWithItself(t *testing.T) {
	r := quiet(t) // its sensor sits on a step of the scan
	with := of(t, r, advice.Options{})
	bare := *r
	bare.Sensor.GyroRangeDPS, bare.Sensor.GyroLSBPerDPS = 0, 0
	without := of(t, &bare, advice.Options{})
	if with.Whole.OtherMisplaced != without.Whole.MisplacedShare || without.Whole.OtherMisplaced != with.Whole.MisplacedShare {
		t.Errorf("misplaced %g and, without gyroscope, %g; the bare rig says %g and %g", with.Whole.MisplacedShare, with.Whole.OtherMisplaced,
			without.Whole.OtherMisplaced, without.Whole.MisplacedShare)
	}
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: %g, want %g", what, got, want)
		}
	}
	for _, d := range with.Depths {
		if math.Abs(d.DepthM-r.Sensor.DepthM) < 1e-9 {
			near("misplaced at the present depth", d.MisplacedShare, with.Whole.MisplacedShare)
			near("flips at the present depth", d.FlipShare, with.Dead.FlipShare)
			near("clipped at the present depth", d.ClippedShare, with.Whole.ClippedShare)
		}
	}
	for _, w := range with.Waits {
		if w.AfterS == with.Assumed.AfterS {
			near("misplaced after the usual wait", w.MisplacedShare, with.Whole.MisplacedShare)
		}
	}
	var byBand float64
	for _, b := range with.Bands {
		byBand += b.MisplacedShare * (b.ToM - b.FromM) / r.Bag.LengthM
	}
	near("misplaced over all bands", byBand, with.Whole.MisplacedShare)
}
