package firmware_test

import (
	"math"
	"strings"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
	"strikerose/dataset/simulate"
	"strikerose/models"
	"strikerose/models/firmware"
	"strikerose/models/firmware/answer"
)

// rule fits a rule without labels.
func rule(t testing.TB, name string) models.Detector {
	t.Helper()
	f, ok := models.FamilyByName(name)
	if !ok {
		t.Fatalf("no family %s", name)
	}
	d, err := f.Fit(t.Context(), nil, models.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// rigs are mounted, calibrated and sampled in every way that the numbers fold in.
func rigs(t testing.TB) map[string]*rig.Rig {
	out := map[string]*rig.Rig{}
	for name, change := range map[string]func(*rig.Rig){
		"plain":       func(*rig.Rig) {},
		"noise given": func(r *rig.Rig) { r.Sensor.AccelNoiseMPS2 = 0.05 },
		"yaw":         func(r *rig.Rig) { r.Sensor.YawDeg = -137 },
		"upside down": func(r *rig.Rig) { r.Sensor.Axes = rig.Axes{X: "90", Y: "180", Z: "down"} },
		"on its side": func(r *rig.Rig) { r.Sensor.Axes = rig.Axes{X: "up", Y: "0", Z: "270"} },
		"calibrated": func(r *rig.Rig) {
			r.Sensor.YawDeg = 40
			r.Calibration = &rig.Calibration{
				AccelBiasMPS2: []float64{0.3, -0.4, 0.5}, GyroBiasRadps: []float64{0.02, -0.03, 0.04},
				AccelMatrix: [][]float64{{1.02, 0.01, 0}, {0, 0.98, -0.01}, {0.01, 0, 1.01}},
			}
		},
		"400 Hz":         func(r *rig.Rig) { r.Sensor.RateHz = 400 },
		"833 Hz":         func(r *rig.Rig) { r.Sensor.RateHz = 833 },
		"3200 Hz":        func(r *rig.Rig) { r.Sensor.RateHz = 3200 },
		"coarse":         func(r *rig.Rig) { r.Sensor.AccelRangeG, r.Sensor.AccelLSBPerG = 32, 256 },
		"counts unknown": func(r *rig.Rig) { r.Sensor.AccelLSBPerG, r.Sensor.GyroLSBPerDPS = 0, 0 },
		"clips":          func(r *rig.Rig) { r.Sensor.AccelRangeG, r.Sensor.AccelLSBPerG = 4, 8192 },
	} {
		r := datasettest.Rig(t)
		change(r)
		if err := r.Validate(); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		out[name] = r
	}
	return out
}

// What a board says must be what apply says in float64, whatever the rig: the same
// strikes at the same samples, bearings and heights but for rounding. Shares of
// strikes are allowed for where one sample more or less decides.
func TestBoardSaysWhatFloat64Says(t *testing.T) {
	for name, r := range rigs(t) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s, err := simulate.NewSession(simulate.Usual(r, 24, 5))
			if err != nil {
				t.Fatal(err)
			}
			sig := s.Signal()
			for _, family := range []string{"peak-arctangent", "kick-direction", "pendulum"} {
				d := rule(t, family)
				want, err := models.Apply(t.Context(), d, r, sig)
				if err != nil {
					t.Fatal(err)
				}
				for _, profile := range []string{firmware.Fixed, firmware.Float32} {
					v, err := firmware.NewDevice(d, r, profile)
					if err != nil {
						t.Fatal(err)
					}
					events, err := v.Apply(t.Context(), sig, 1e6)
					if err != nil {
						t.Fatal(err)
					}
					paired(t, family+" "+profile, events)
					compare(t, family+" "+profile, r, v.Rows(sig, events), want)
				}
			}
		})
	}
}

// paired holds that numbers rise one by one, and that an early answer is followed
// by one final answer of its number: the strike's, or what takes it back.
func paired(t *testing.T, what string, events []firmware.Answered) {
	t.Helper()
	early, last := 0, uint32(0)
	open := false
	for _, e := range events {
		if e.Stage == answer.Early {
			early++
			if open || e.Number != last+1 || e.HeightMM != -1 {
				t.Errorf("%s: early answer %+v after number %d", what, e.Event, last)
			}
			open, last = true, e.Number
			continue
		}
		if open && e.Number != last || !open && (e.Number != last+1 || e.Flags&answer.Retracted != 0) {
			t.Errorf("%s: final answer %+v after number %d", what, e.Event, last)
		}
		open, last = false, e.Number
	}
	if open || 2*early < len(events)/2 {
		t.Errorf("%s: %d of %d events are early, the last one open: %v", what, early, len(events), open)
	}
}

func compare(t *testing.T, what string, r *rig.Rig, got, want []models.ApplyRow) {
	t.Helper()
	if len(got) != len(want) || len(want) < 15 {
		t.Errorf("%s: %d strikes, in float64 %d", what, len(got), len(want))
		return
	}
	moved, turn, height := 0, 0.0, 0.0
	for i, w := range want {
		d := math.Abs(float64(got[i].OnsetNs-w.OnsetNs)) * r.Sensor.RateHz / 1e9
		if d > 0.5 {
			moved++
		}
		if d > 1.6 {
			t.Errorf("%s: strike %d: onset off by %.1f samples", what, i+1, d)
		}
		turn += math.Abs(bearing.Diff(got[i].BearingDeg, w.BearingDeg)) / float64(len(want))
		height += math.Abs(got[i].HeightM-w.HeightM) / float64(len(want))
	}
	if moved > len(want)/5 || turn > 0.3 || height > 0.003 {
		t.Errorf("%s: %d of %d onsets moved, bearings off by %.2f degrees, heights by %.1f mm on average", what, moved, len(want), turn, 1000*height)
	}
}

// A stamp in milliseconds counts as a thousand microseconds, and wraps.
func TestStamp(t *testing.T) {
	for _, c := range []struct {
		raw       int64
		perSecond float64
		want      uint32
	}{{1234, 1e6, 1234}, {1234, 1000, 1234000}, {1<<32 + 5, 1e6, 5}, {4294968, 1000, 704}, {7, 1e5, 70}} {
		if got := firmware.Stamp(c.raw, c.perSecond); got != c.want {
			t.Errorf("%d in units of 1/%g s: %d, want %d", c.raw, c.perSecond, got, c.want)
		}
	}
}

// What cannot go to a board is refused with the reason.
func TestRefuses(t *testing.T) {
	r := datasettest.Rig(t)
	without := *r
	without.Sensor.GyroRangeDPS = 0
	slow := *r
	slow.Sensor.RateHz = 100
	long := *r
	long.Bag.LengthM = 2.5
	for name, c := range map[string]struct {
		family, profile string
		rig             *rig.Rig
		want            string
	}{
		"no C":     {"principal-axis", firmware.Fixed, r, "not for boards"},
		"physics":  {"physics", firmware.Fixed, r, "not for boards"},
		"no gyro":  {"pendulum", firmware.Fixed, &without, "needs a gyroscope"},
		"profile":  {"pendulum", "double", r, `profile "double"`},
		"too slow": {"pendulum", firmware.Fixed, &slow, "rate_hz"},
		"too long": {"pendulum", firmware.Fixed, &long, "length_m"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := firmware.NewDevice(rule(t, c.family), c.rig, c.profile)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v, want a word of %q", err, c.want)
			}
		})
	}
}
