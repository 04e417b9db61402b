package ringdown_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/features/chain"
	"strikerose/features/ringdown"
)

// How the modes found on the simulated recordings compare with those that their
// rig files say, with the gyroscope and without.
//
//	STRIKEROSE_RECORDINGS=DIR go test -run TestRecordings -v ./features/ringdown
func TestRecordings(t *testing.T) {
	dir := datasettest.Recordings(t)
	for _, name := range []string{"A", "B0", "B1", "C"} {
		r, err := rig.Load(filepath.Join(dir, name, "rig.toml"))
		if err != nil {
			t.Fatal(err)
		}
		var with, without []ringdown.Stretch
		logs, err := filepath.Glob(filepath.Join(dir, name, "logs", "*"))
		if err != nil || len(logs) == 0 {
			t.Fatalf("%s: %d logs, error %v", name, len(logs), err)
		}
		for _, log := range logs {
			if strings.HasPrefix(filepath.Base(log), ".") {
				continue
			}
			f, err := os.Open(log)
			if err != nil {
				t.Fatal(err)
			}
			res, err := intake.Read(t.Context(), f, log, r, intake.Options{}, nil)
			f.Close()
			if err != nil {
				t.Fatal(err)
			}
			windows, err := chain.Run(t.Context(), r, &res.Signal, chain.Options{})
			if err != nil {
				t.Fatal(err)
			}
			var onsets []int64
			for _, w := range windows {
				onsets = append(onsets, w.Strike.OnsetNs)
			}
			with = append(with, ringdown.Cut(&res.Signal, r, onsets)...)
			blind := *r
			blind.Sensor.GyroRangeDPS = 0
			without = append(without, ringdown.Cut(&res.Signal, &blind, onsets)...)
		}
		m := r.Mechanics()
		swing, rocking := m.Modes()
		e := m.CentreM + m.GyrationM*m.GyrationM/m.CentreM
		t.Logf("%s: rig file: swing %.3f Hz, rocking %.3f Hz, e %.3f m", name, swing.Hz, rocking.Hz, e)
		for i, how := range []string{"with gyroscope", "without"} {
			found, err := ringdown.Measure(t.Context(), [][]ringdown.Stretch{with, without}[i], m, 1)
			if err != nil {
				t.Errorf("%s, %s: %v", name, how, err)
				continue
			}
			t.Logf("%s, %s: %d stretches", name, how, found.Strikes)
			if _, advice := ringdown.Compare(found, m); len(advice) > 0 {
				t.Errorf("%s, %s: a right rig file is doubted: %q", name, how, advice)
			}
			show := func(what string, mode ringdown.Mode, hz float64) {
				t.Logf("  %s %.4f Hz (%.4f to %.4f), %+.1f %%", what, mode.Hz.Value, mode.Hz.Low, mode.Hz.High, 100*(mode.Hz.Value/hz-1))
				if d := mode.DecayS; d != nil {
					t.Logf("  %s decays in %.2f s (%.2f to %.2f)", what, d.Value, d.Low, d.High)
				}
			}
			show("swing", found.Swing, swing.Hz)
			show("rocking", found.Rocking, rocking.Hz)
			if found.Twist != nil {
				show("twist", *found.Twist, m.Twist().Hz)
			}
			if l := found.LeverM; l != nil {
				t.Logf("  e %.4f m (%.4f to %.4f), %+.1f mm", m.SensorM-l.Value, m.SensorM-l.High, m.SensorM-l.Low, 1000*(m.SensorM-l.Value-e))
			}
		}
	}
}
