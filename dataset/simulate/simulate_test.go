package simulate_test

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
	"strikerose/dataset/simulate"
)

func session(t testing.TB, o simulate.Options) *simulate.Session {
	t.Helper()
	s, err := simulate.NewSession(o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// exactly is a session of given strikes on a stiff bag with a faultless sensor.
func exactly(r *rig.Rig, tailS float64, strikes ...simulate.Strike) simulate.Options {
	return simulate.Options{Rig: r, Exactly: strikes, TailS: tailS}
}

// samples runs a session into memory at full precision.
func samples(t testing.TB, o simulate.Options) []simulate.Sample {
	t.Helper()
	var all []simulate.Sample
	if err := session(t, o).Each(func(x simulate.Sample) error { all = append(all, x); return nil }); err != nil {
		t.Fatal(err)
	}
	return all
}

func TestSeed(t *testing.T) {
	r := framed(t)
	written := func(seed uint64) string {
		s := session(t, simulate.Usual(r, 4, seed))
		var b bytes.Buffer
		if err := simulate.WriteLog(&b, "frames", s); err != nil {
			t.Fatal(err)
		}
		if err := simulate.WriteTruth(&b, s.Truth()); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	if written(1) != written(1) {
		t.Error("the same seed gave two different sessions")
	}
	if written(1) == written(2) {
		t.Error("two seeds gave the same session")
	}
}

// A fault that is turned on leaves the blows as they were.
func TestFaultsLeaveBlowsAlone(t *testing.T) {
	r := datasettest.Rig(t)
	o := simulate.Usual(r, 30, 4)
	want := session(t, o).Truth()
	o.Sensor, o.Board.LossesPerMin, o.Striker.ShovesPerMin = simulate.Sensor{}, 60, 5
	if got := session(t, o).Truth(); !slices.Equal(got, want) {
		t.Error("other faults of the sensor gave other blows")
	}
}

// Specific force over the contact adds up to impulse times accelerance, along
// the push; a blow at the dead height is not felt.
func TestMomentum(t *testing.T) {
	r := datasettest.Rig(t)
	r.Sensor.RateHz = 8000
	m := r.Mechanics()
	dead, _ := m.DeadHeight()
	for _, height := range []float64{0.1, dead, 0.5, 0.9} {
		x := simulate.Strike{TimeS: 0.01, BearingDeg: 130, HeightM: height, PeakN: 160, ContactS: 0.003, ObliqueDeg: 20}
		var sum [3]float64
		for _, v := range samples(t, exactly(r, 0, x)) {
			for k := range sum {
				sum[k] += v.A[k] / r.Sensor.RateHz
			}
		}
		kick := x.ImpulseNs() * m.Accelerance(m.DepthM(height), m.SensorM)
		push := bearing.Unit(130 - 20 + 180)
		if dx, dy := sum[0]-kick*imag(push), sum[1]-kick*real(push); math.Hypot(dx, dy) > 0.01*x.ImpulseNs()/r.Bag.MassKg {
			t.Errorf("blow at %.3f m: a kick of %.5f, %.5f m/s, want %.5f toward bearing 290", height, sum[0], sum[1], kick)
		}
	}
}

// An oblique blow turns the bag by its torque, -R J sin(delta) about the
// vertical.
func TestTwist(t *testing.T) {
	r := datasettest.Rig(t)
	m := r.Mechanics()
	for _, oblique := range []float64{-25, 0, 25} {
		x := simulate.Strike{TimeS: 0.01, HeightM: 0.5, PeakN: 1500, ContactS: 0.012, ObliqueDeg: oblique}
		all := samples(t, exactly(r, 0.001, x))
		got := all[len(all)-1].G[2]
		want := -m.RadiusM * x.ImpulseNs() * math.Sin(bearing.Rad(oblique)) / m.TwistKgM2
		if math.Abs(got-want) > 0.02*math.Abs(want)+1e-9 {
			t.Errorf("oblique by %g degrees: turns at %g rad/s, want %g", oblique, got, want)
		}
	}
}

// Turning all blows turns the horizontal readings and changes nothing else.
func TestRotation(t *testing.T) {
	r := datasettest.Rig(t)
	kinds := []string{"modes", "rods"}
	rapid.Check(t, func(rt *rapid.T) {
		by := rapid.Float64Range(0, 360).Draw(rt, "by")
		kind := rapid.SampledFrom(kinds).Draw(rt, "kind")
		var here, there []simulate.Strike
		at := 0.0
		for range 3 {
			at += rapid.Float64Range(0.2, 0.4).Draw(rt, "gap")
			x := simulate.Strike{
				TimeS: at, BearingDeg: rapid.Float64Range(0, 360).Draw(rt, "bearing"), HeightM: rapid.Float64Range(0, 1).Draw(rt, "height"),
				PeakN: rapid.Float64Range(100, 2000).Draw(rt, "peak"), ContactS: 0.015,
				ObliqueDeg: rapid.Float64Range(-30, 30).Draw(rt, "oblique"), RiseDeg: rapid.Float64Range(0, 40).Draw(rt, "rise"),
			}
			here = append(here, x)
			x.BearingDeg += by
			there = append(there, x)
		}
		o, p := exactly(r, 0.3, here...), exactly(r, 0.3, there...)
		o.LargeAngles, p.LargeAngles = kind == "rods", kind == "rods"
		o.Flex, p.Flex = simulate.UsualFlex(), simulate.UsualFlex()
		a, b := samples(t, o), samples(t, p)
		turn := bearing.Unit(by)
		for i := range a {
			for what, v := range map[string][2][3]float64{"acceleration": {a[i].A, b[i].A}, "rotation rate": {a[i].G, b[i].G}} {
				want := complex(v[0][1], v[0][0]) * turn
				if math.Hypot(v[1][1]-real(want), v[1][0]-imag(want)) > 1e-6 || math.Abs(v[1][2]-v[0][2]) > 1e-6 {
					rt.Fatalf("sample %d: %s %v turned by %g degrees is not %v", i, what, v[0], by, v[1])
				}
			}
		}
	})
}

// What rings after a light blow rings at the rig's modes: a filter that takes
// out exactly these leaves nothing, and one 2 % beside them does.
func TestRingDown(t *testing.T) {
	r := datasettest.Rig(t)
	r.Motion = &rig.Motion{SwingHz: 0.47, SwingDecayS: 25, RockingHz: 2.2, RockingDecayS: 2.5, TwistHz: 0.8, TwistDecayS: 1.2}
	all := samples(t, exactly(r, 3, simulate.Strike{HeightM: 0.8, PeakN: 3, ContactS: 0.012, ObliqueDeg: 20}))
	swing, rocking := r.Mechanics().Modes()
	twist := r.Mechanics().Twist()
	const lag = 100 // samples, a good part of each period
	left := func(axis func(simulate.Sample) float64, factor float64, modes ...rig.Mode) float64 {
		var x []float64
		for _, v := range all[50:] {
			x = append(x, axis(v))
		}
		size := slices.Max(x)
		for _, m := range modes {
			dt := lag / r.Sensor.RateHz
			e, c := math.Exp(-dt/m.DecayS), math.Cos(m.Omega()*factor*dt)
			var y []float64
			for i := range x[2*lag:] {
				y = append(y, x[i+2*lag]-2*e*c*x[i+lag]+e*e*x[i])
			}
			x = y
		}
		most := 0.0
		for _, v := range x {
			most = max(most, math.Abs(v))
		}
		return most / size
	}
	for _, c := range []struct {
		name  string
		axis  func(simulate.Sample) float64
		modes []rig.Mode
	}{
		{"push", func(x simulate.Sample) float64 { return x.A[1] }, []rig.Mode{swing, rocking}},
		{"tilt", func(x simulate.Sample) float64 { return x.G[0] }, []rig.Mode{swing, rocking}},
		{"twist", func(x simulate.Sample) float64 { return x.G[2] }, []rig.Mode{twist}},
	} {
		right, beside := left(c.axis, 1, c.modes...), left(c.axis, 1.02, c.modes...)
		if right > 2e-3 || beside < 3*right {
			t.Errorf("%s: the rig's modes leave %.1e of the motion, modes 2 %% beside them %.1e", c.name, right, beside)
		}
	}
}

// An error of the visitor stops a session.
func TestEachStops(t *testing.T) {
	stop := errors.New("enough")
	n := 0
	err := session(t, simulate.Usual(datasettest.Rig(t), 100, 1)).Each(func(simulate.Sample) error {
		if n++; n == 7 {
			return stop
		}
		return nil
	})
	if err != stop || n != 7 {
		t.Errorf("stopped after %d samples with %v", n, err)
	}
}

// A session ten times as long allocates hardly more.
func TestConstantMemory(t *testing.T) {
	r := datasettest.Rig(t)
	allocated := func(strikes int) float64 {
		s := session(t, simulate.Usual(r, strikes, 1))
		return testing.AllocsPerRun(1, func() { _ = s.Each(func(simulate.Sample) error { return nil }) })
	}
	if few, many := allocated(5), allocated(50); many > few+200 {
		t.Errorf("%g allocations for 5 strikes, %g for 50", few, many)
	}
}

// The truth keeps to what was planned.
func TestTruth(t *testing.T) {
	r := datasettest.Rig(t)
	plan := simulate.RandomPlan(r, 600, simulate.UsualMix(), 9)
	o := simulate.Usual(r, 0, 9)
	o.Plan = slices.Values(plan)
	truth := session(t, o).Truth()
	if len(truth) != len(plan) {
		t.Fatalf("%d strikes of a plan of %d", len(truth), len(plan))
	}
	places, kinds := map[[2]any]int{}, map[string]int{}
	var degrees, metres float64
	pairs := 0
	for i, x := range truth {
		b := plan[i]
		places[[2]any{b.Face, b.Band}]++
		kinds[x.Kind]++
		from, to, _ := r.BandRange(b.Band)
		d, h := bearing.Diff(x.BearingDeg, bearing.FaceCentre(b.Face, r.Faces)), x.HeightM-(from+to)/2
		degrees, metres = degrees+d*d/600, metres+h*h/600
		if x.Kind != b.Kind || x.Face != r.FaceOf(x.BearingDeg) || x.Band != r.BandOf(x.HeightM) {
			t.Fatalf("strike %d %+v does not agree with itself or with blow %+v", i, x, b)
		}
		if x.Kind != "hook" && math.Abs(x.ObliqueDeg) > 8 || x.Kind == "hook" && math.Abs(x.ObliqueDeg) < 12 {
			t.Errorf("%s oblique by %g degrees", x.Kind, x.ObliqueDeg)
		}
		if b.Pair == "two" {
			pairs++
			if gap := x.TimeS - truth[i-1].TimeS; gap < 0.18 || gap > 0.35 || plan[i-1].Pair != "one" {
				t.Errorf("second hit %g s after the first, marked %q", gap, plan[i-1].Pair)
			}
		}
	}
	for place, n := range places {
		if n < 600/18 || n > 600/18+1 {
			t.Errorf("%v planned %d times of 600", place, n)
		}
	}
	if math.Abs(math.Sqrt(degrees)-8) > 0.8 || math.Abs(math.Sqrt(metres)-0.04) > 0.004 {
		t.Errorf("scatter of %g degrees and %g m, want 8 and 0.04", math.Sqrt(degrees), math.Sqrt(metres))
	}
	// Five standard deviations of the shares drawn.
	for kind, share := range map[string]float64{"hook": 0.25, "uppercut": 0.1, "tap": 0.05} {
		if math.Abs(float64(kinds[kind])-600*share) > 5*math.Sqrt(600*share) {
			t.Errorf("%d of 600 are of kind %s, want about %g", kinds[kind], kind, 600*share)
		}
	}
	if math.Abs(float64(pairs)-60) > 5*math.Sqrt(60) {
		t.Errorf("%d double hits of 600 strikes, want about 60", pairs)
	}
}

func TestTables(t *testing.T) {
	var b strings.Builder
	if err := simulate.WritePlan(&b, slices.Values([]simulate.Blow{{1, 3, "mid", "hook", "one"}, {2, 4, "low", "tap", "two"}})); err != nil {
		t.Fatal(err)
	}
	if err := simulate.WriteTruth(&b, []simulate.Strike{{TimeS: 1.25, BearingDeg: 118.5, HeightM: 0.51, Face: 3, Band: "mid", Kind: "hook"}}); err != nil {
		t.Fatal(err)
	}
	want := "order,face,band,kind,pair\n1,3,mid,hook,one\n2,4,low,tap,two\ntime_s,bearing_deg,height_m,face,band,kind\n1.250000,118.500,0.5100,3,mid,hook\n"
	if b.String() != want {
		t.Errorf("wrote %q, want %q", b.String(), want)
	}
}

func TestRefusals(t *testing.T) {
	r := datasettest.Rig(t)
	for _, c := range []struct {
		name string
		do   func(*simulate.Options)
		want string
	}{
		{"no rig", func(o *simulate.Options) { o.Rig = nil }, "no rig"},
		{"bad rig", func(o *simulate.Options) { o.Rig = &rig.Rig{} }, "name"},
		{"nothing thrown", func(o *simulate.Options) { o.Plan = nil }, "either a plan or"},
		{"both thrown", func(o *simulate.Options) { o.Exactly = []simulate.Strike{} }, "either a plan or"},
		{"face", func(o *simulate.Options) {
			o.Plan = slices.Values([]simulate.Blow{{Face: 7, Band: "mid", Kind: "tap"}})
		}, "face 7"},
		{"kind", func(o *simulate.Options) {
			o.Plan = slices.Values([]simulate.Blow{{Face: 1, Band: "mid", Kind: "kick"}})
		}, `"kick"`},
		{"no gaps", func(o *simulate.Options) { o.Striker = simulate.Striker{} }, "gaps of 0 to 0"},
		{"order", func(o *simulate.Options) {
			o.Plan, o.Exactly = nil, []simulate.Strike{{TimeS: 2, ContactS: 1}, {TimeS: 1, ContactS: 1}}
		}, "order of time"},
		{"contact", func(o *simulate.Options) { o.Plan, o.Exactly = nil, []simulate.Strike{{TimeS: 2}} }, "contact of 0"},
		{"not a number", func(o *simulate.Options) {
			o.Plan, o.Exactly = nil, []simulate.Strike{{TimeS: 2, ContactS: 1, PeakN: math.NaN()}}
		}, "numbers only"},
		{"tail", func(o *simulate.Options) { o.TailS = math.Inf(1) }, "tail"},
		{"low-pass", func(o *simulate.Options) { o.Sensor.LowPassHz = 600 }, "half the rate"},
		{"order of low-pass", func(o *simulate.Options) { o.Sensor.LowPassHz = 200 }, "order 0"},
		{"bias", func(o *simulate.Options) { o.Sensor.AccelBiasMPS2[1] = math.Inf(1) }, "numbers only"},
		{"noise", func(o *simulate.Options) { o.Sensor.AccelNoiseMPS2 = -1 }, "noise -1"},
		{"rate", func(o *simulate.Options) { o.Board.RateError = 0.5 }, "rate off by 0.5"},
		{"losses", func(o *simulate.Options) { o.Board.LossesPerMin = -1 }, "-1 losses"},
		{"flex", func(o *simulate.Options) { o.Flex.DecayS = 0 }, "bending"},
	} {
		o := simulate.Usual(r, 3, 1)
		c.do(&o)
		if _, err := simulate.NewSession(o); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v does not say %q", c.name, err, c.want)
		}
	}
	s := session(t, simulate.Usual(r, 1, 1))
	if err := simulate.WriteLog(new(bytes.Buffer), "morse", s); err == nil || !strings.Contains(err.Error(), "morse") {
		t.Errorf("an unknown dialect gave %v", err)
	}
	if err := simulate.WriteLog(new(bytes.Buffer), "frames", s); err == nil || !strings.Contains(err.Error(), "[log.frame]") {
		t.Errorf("frames of a rig without a layout gave %v", err)
	}
	r.Sensor.AccelLSBPerG = 0
	if err := simulate.WriteLog(new(bytes.Buffer), "jsonl", s); err == nil || !strings.Contains(err.Error(), "accel_lsb_per_g") {
		t.Errorf("counts of a rig without any gave %v", err)
	}
}

// BenchmarkSession measures how many times faster than real time a session is
// made, at 1 kHz with all usual faults.
func BenchmarkSession(b *testing.B) {
	for name, large := range map[string]bool{"modes": false, "rods": true} {
		b.Run(name, func(b *testing.B) {
			o := simulate.Usual(datasettest.Rig(b), 50, 1)
			o.LargeAngles = large
			s := session(b, o)
			seconds := 0.0
			for b.Loop() {
				if err := s.Each(func(x simulate.Sample) error { seconds = x.TimeS; return nil }); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(seconds*float64(b.N)/b.Elapsed().Seconds(), "x_real_time")
		})
	}
}
