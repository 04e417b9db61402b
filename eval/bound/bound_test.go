package bound_test

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"strikerose/dataset/datasettest"
	"strikerose/eval/bound"
)

// With everything known and the gyroscope alone of use, a short window reads
// the rate of turning n times: sd(depth) = sigma I / (J sqrt n), and the
// bearing's is smaller by the lever arm.
func TestOneParameterByHand(t *testing.T) {
	r := datasettest.Rig(t)
	s := bound.Setting{
		Rig: r, Gyro: true, RateHz: 10_000, AccelNoiseMPS2: 1e9, GyroNoiseRadps: 0.002,
		BeforeS: 0.01, AfterS: 0.01, ImpulseNs: 20, ContactS: 1e-6,
		Known: bound.Known{Impulse: true, Contact: true, Onset: true, Swing: true, Bias: true},
	}
	m := r.Mechanics()
	for _, height := range []float64{0.1, 0.9} {
		got, err := bound.At(s, height)
		if err != nil {
			t.Fatal(err)
		}
		const n = 100 // samples after the onset
		sd := s.GyroNoiseRadps * m.MassKg * m.GyrationM * m.GyrationM / (s.ImpulseNs * math.Sqrt(n))
		lever := math.Abs(m.DepthM(height) - m.CentreM)
		// Gravity turns the bag back by less than 2 % within 10 ms.
		if want := sd; math.Abs(got.HeightSDM/want-1) > 0.02 {
			t.Errorf("height %g: sd of the height %g m, by hand %g m", height, got.HeightSDM, want)
		}
		if want := sd / lever * 180 / math.Pi; math.Abs(got.BearingSDDeg/want-1) > 0.02 {
			t.Errorf("height %g: sd of the bearing %g deg, by hand %g deg", height, got.BearingSDDeg, want)
		}
	}
}

// Knowing or measuring more never raises the bound.
func TestMoreNeverHurts(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := datasettest.Rig(t)
		r.Sensor.DepthM = rapid.Float64Range(0.02, 0.9).Draw(rt, "depth")
		ms := func(from, to int, name string) float64 {
			return float64(rapid.IntRange(from, to).Draw(rt, name)) / 1000
		}
		base := bound.Setting{
			Rig: r, Gyro: rapid.Bool().Draw(rt, "gyro"), RateHz: float64(rapid.IntRange(200, 800).Draw(rt, "rate")),
			AccelNoiseMPS2: ms(10, 100, "accel"), GyroNoiseRadps: ms(1, 10, "turn"),
			BeforeS: ms(20, 150, "before"), AfterS: ms(30, 250, "after"),
			ImpulseNs: 10 + 1000*ms(0, 30, "impulse"), ContactS: ms(10, 25, "contact"),
			Known: bound.Known{Onset: rapid.Bool().Draw(rt, "onset"), Bias: rapid.Bool().Draw(rt, "bias")},
		}
		height := ms(20, 980, "height")
		at := func(s bound.Setting) bound.Least {
			l, err := bound.At(s, height)
			if err != nil {
				rt.Fatal(err)
			}
			if math.IsNaN(l.BearingSDDeg) || math.IsNaN(l.HeightSDM) || l.BearingSDDeg <= 0 || l.HeightSDM <= 0 {
				rt.Fatalf("bounds %+v", l)
			}
			return l
		}
		less := at(base)
		better := func(name string, change func(*bound.Setting)) {
			s := base
			change(&s)
			more := at(s)
			const rounding = 1 + 1e-6
			if more.BearingSDDeg > rounding*less.BearingSDDeg || more.HeightSDM > rounding*less.HeightSDM {
				rt.Errorf("%s: %+v becomes %+v", name, less, more)
			}
		}
		worse := func(name string, change func(*bound.Setting)) {
			s := base
			change(&s)
			more := at(s)
			const rounding = 1 - 1e-6
			if more.BearingSDDeg < rounding*less.BearingSDDeg || more.HeightSDM < rounding*less.HeightSDM {
				rt.Errorf("%s: %+v becomes %+v", name, less, more)
			}
		}
		better("twice the rate", func(s *bound.Setting) { s.RateHz *= 2 })
		better("less noise", func(s *bound.Setting) { s.AccelNoiseMPS2 /= 2; s.GyroNoiseRadps /= 3 })
		better("longer after", func(s *bound.Setting) { s.AfterS += 0.05 })
		better("longer before", func(s *bound.Setting) { s.BeforeS += 0.05 })
		better("a gyroscope", func(s *bound.Setting) { s.Gyro = true })
		better("known onset", func(s *bound.Setting) { s.Known.Onset = true })
		better("known bias", func(s *bound.Setting) { s.Known.Bias = true })
		better("known swing", func(s *bound.Setting) { s.Known.Swing = true })
		better("known impulse and contact", func(s *bound.Setting) { s.Known.Impulse, s.Known.Contact = true, true })
		worse("model noise", func(s *bound.Setting) { s.Model = bound.UsualModelNoise() })
		worse("an uncertain rig", func(s *bound.Setting) { p := bound.UsualRigPrior(); s.Prior = &p })
	})
}

// In a short window without a gyroscope, a strike at the dead height leaves
// nothing to tell the bearing by; a gyroscope mends it.
func TestDeadHeight(t *testing.T) {
	r := datasettest.Rig(t)
	dead, on := r.Mechanics().DeadHeight()
	if !on {
		t.Fatal("the dead height is not on the bag")
	}
	s := bound.Setting{Rig: r, AfterS: 0.02, ContactS: 0.015}
	along, err := bound.AlongBag(s, []float64{dead - 0.15, dead, dead + 0.15})
	if err != nil {
		t.Fatal(err)
	}
	for _, beside := range []bound.Least{along[0], along[2]} {
		if along[1].BearingSDDeg < 10*beside.BearingSDDeg {
			t.Errorf("at the dead height the bearing's bound is %g deg, %g deg at %g m", along[1].BearingSDDeg, beside.BearingSDDeg, beside.HeightM)
		}
	}
	s.Gyro = true
	with, err := bound.At(s, dead)
	if err != nil {
		t.Fatal(err)
	}
	if with.BearingSDDeg > along[1].BearingSDDeg/10 {
		t.Errorf("with a gyroscope the bound is %g deg, without %g deg", with.BearingSDDeg, along[1].BearingSDDeg)
	}
}

// A window of a few samples has fewer readings than unknowns.
func TestCannotTell(t *testing.T) {
	s := bound.Setting{Rig: datasettest.Rig(t), RateHz: 200, BeforeS: 0.006, AfterS: 0.011}
	l, err := bound.At(s, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	if l.TellsBearing() || l.TellsHeight() {
		t.Errorf("4 samples tell %+v", l)
	}
	data, err := json.Marshal(l)
	if err != nil {
		t.Fatal(err)
	}
	if want := `{"height_m":0.5,"bearing_sd_deg":null,"height_sd_m":null}`; string(data) != want {
		t.Errorf("got %s, want %s", data, want)
	}
}

// Maps, lines along the bag and single bounds are the same numbers.
func TestOneComputation(t *testing.T) {
	r := datasettest.Rig(t)
	s := bound.Setting{Rig: r, Gyro: true}
	heights := []float64{0.1, 0.5, 0.9}
	m, err := bound.OverDepth(t.Context(), s, []float64{0.3, r.Sensor.DepthM}, heights)
	if err != nil {
		t.Fatal(err)
	}
	along, err := bound.AlongBag(s, heights)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(along, m.Least[1]); diff != "" {
		t.Errorf("along the bag and in the map (-along +map):\n%s", diff)
	}
	moved := *r
	moved.Sensor.DepthM = 0.3
	at, err := bound.At(bound.Setting{Rig: &moved, Gyro: true}, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	if at != m.Least[0][1] {
		t.Errorf("with the sensor moved %+v, in the map %+v", at, m.Least[0][1])
	}
}

func TestRefusals(t *testing.T) {
	r := datasettest.Rig(t)
	nan := math.NaN()
	for name, c := range map[string]struct {
		setting bound.Setting
		height  float64
		want    string
	}{
		"no rig":          {bound.Setting{}, 0.5, "no rig"},
		"below the bag":   {bound.Setting{Rig: r}, -0.1, "not on the bag"},
		"no height":       {bound.Setting{Rig: r}, nan, "not on the bag"},
		"negative rate":   {bound.Setting{Rig: r, RateHz: -1}, 0.5, "rate_hz is -1"},
		"noise not known": {bound.Setting{Rig: r, AccelNoiseMPS2: nan}, 0.5, "noise_mps2 is NaN"},
		"long window":     {bound.Setting{Rig: r, AfterS: 1e6}, 0.5, "shorten it"},
		"model noise":     {bound.Setting{Rig: r, Model: bound.ModelNoise{Gyro: -1}}, 0.5, "model noise -1"},
		"prior":           {bound.Setting{Rig: r, Prior: &bound.RigPrior{ChainM: 3}}, 0.5, "prior on the chain"},
	} {
		if _, err := bound.At(c.setting, c.height); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
	if _, err := bound.OverDepth(t.Context(), bound.Setting{Rig: r}, []float64{2}, []float64{0.5}); err == nil {
		t.Error("a sensor below the bag is allowed")
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := bound.OverDepth(ctx, bound.Setting{Rig: r}, []float64{0.1}, []float64{0.5}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: error %v", err)
	}
}
