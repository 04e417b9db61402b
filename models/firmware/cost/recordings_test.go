package cost_test

import (
	"context"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/features/chain"
	"strikerose/models"
	"strikerose/models/firmware"
)

// session is one session of the full recordings.
type session struct {
	name      string
	signal    *dataset.Signal
	perSecond float64 // units of its stamps
	truth     []struct{ atS, bearingDeg, heightM float64 }
}

// sessions reads those of one rig's folder, with or without their gyroscope.
func sessions(t *testing.T, dir string, r *rig.Rig) []session {
	t.Helper()
	logs, err := filepath.Glob(filepath.Join(dir, "logs", "session*"))
	if err != nil || len(logs) < 2 {
		t.Fatalf("%s: %d logs, %v", dir, len(logs), err)
	}
	sort.Strings(logs)
	var out []session
	for _, path := range logs {
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		in, err := intake.Read(t.Context(), f, filepath.Base(path), r, intake.Options{}, nil)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		name, _, _ := strings.Cut(filepath.Base(path), ".")
		s := session{name: name, signal: &in.Signal, perSecond: in.Session.RawPerSecond}
		unit := 1e-6
		if in.Session.TimeUnit == "ms" {
			unit = 1e-3
		}
		for _, row := range datasettest.Rows(t, filepath.Join(dir, "truth", name+"_truth.csv")) {
			if row["in_gap"] == "1" {
				continue
			}
			s.truth = append(s.truth, struct{ atS, bearingDeg, heightM float64 }{
				row.Number(t, "t_log") * unit, row.Number(t, "bearing_on_bag_deg"), row.Number(t, "height_m")})
		}
		out = append(out, s)
	}
	return out
}

// stampS is the board's time of a moment of the repaired clock, in seconds.
func (s *session) stampS(ns int64) float64 {
	i := sort.Search(s.signal.Len(), func(i int) bool { return s.signal.TNs[i] >= ns })
	i = min(i, s.signal.Len()-1)
	return float64(s.signal.TRaw[i])/s.perSecond + float64(ns-s.signal.TNs[i])/1e9
}

// nearest finds for each strike of the truth the onset within 50 ms of it, -1
// where there is none.
func (s *session) nearest(onsetsNs []int64) []int {
	const wrapS = 4294.967296 // stamps of 32 bits
	times := make([]float64, len(onsetsNs))
	for i, ns := range onsetsNs {
		times[i] = s.stampS(ns)
	}
	out := make([]int, len(s.truth))
	for k, tr := range s.truth {
		best := 0.05
		out[k] = -1
		for i, at := range times {
			if d := math.Abs(math.Remainder(at-tr.atS, wrapS)); d < best {
				best, out[k] = d, i
			}
		}
	}
	return out
}

// examples labels a session's strikes by the truth.
func (s *session) examples(t *testing.T, r *rig.Rig) []models.Example {
	t.Helper()
	pre, post := features.Longest()
	windows, err := chain.Run(t.Context(), r, s.signal, chain.Options{PreMs: pre, PostMs: post})
	if err != nil {
		t.Fatal(err)
	}
	onsets := make([]int64, len(windows))
	for i, w := range windows {
		onsets[i] = w.Strike.OnsetNs
	}
	var out []models.Example
	for k, i := range s.nearest(onsets) {
		if i >= 0 {
			out = append(out, models.Example{Session: s.name, Input: models.InputOf(windows[i], r), BearingDeg: s.truth[k].bearingDeg, HeightM: s.truth[k].heightM})
		}
	}
	return out
}

// deviation holds the mean absolute errors over the strikes that both find, and how
// many each finds alone.
type deviation struct {
	n, lost, gained   int
	bearing, height   [2]float64 // of the first and of the second, degrees and metres
	apartDeg, apartMM float64    // mean difference of the two
}

func (s *session) compare(first, second []models.ApplyRow) deviation {
	onsets := func(rows []models.ApplyRow) []int64 {
		out := make([]int64, len(rows))
		for i, r := range rows {
			out[i] = r.OnsetNs
		}
		return out
	}
	a, b := s.nearest(onsets(first)), s.nearest(onsets(second))
	var e deviation
	for k, tr := range s.truth {
		switch {
		case a[k] >= 0 && b[k] < 0:
			e.lost++
		case a[k] < 0 && b[k] >= 0:
			e.gained++
		case a[k] >= 0 && b[k] >= 0:
			e.n++
			for i, row := range []models.ApplyRow{first[a[k]], second[b[k]]} {
				e.bearing[i] += math.Abs(bearing.Diff(row.BearingDeg, tr.bearingDeg))
				e.height[i] += math.Abs(row.HeightM - tr.heightM)
			}
			e.apartDeg += math.Abs(bearing.Diff(first[a[k]].BearingDeg, second[b[k]].BearingDeg))
			e.apartMM += 1000 * math.Abs(first[a[k]].HeightM-second[b[k]].HeightM)
		}
	}
	n := float64(max(e.n, 1))
	for i := range 2 {
		e.bearing[i] /= n
		e.height[i] /= n
	}
	e.apartDeg /= n
	e.apartMM /= n
	return e
}

// TestLossOfQuantisation trains each kind of detector on all sessions of a rig but
// the last, and compares what a board says of that one with what float64 says:
// rounding must not cost 0.3 degrees or 3 mm of the mean error.
func TestLossOfQuantisation(t *testing.T) {
	root := datasettest.Recordings(t)
	for _, folder := range []string{"A", "B0", "B1", "C"} {
		for _, gyro := range []bool{true, false} {
			r, err := rig.Load(filepath.Join(root, folder, "rig.toml"))
			if err != nil {
				t.Fatal(err)
			}
			if gyro && !r.HasGyro() {
				continue
			}
			list := sessions(t, filepath.Join(root, folder), r)
			if !gyro {
				r.Sensor.GyroRangeDPS = 0
				for _, s := range list {
					s.signal.G = [3][]float32{}
				}
			}
			var train []models.Example
			for _, s := range list[:len(list)-1] {
				train = append(train, s.examples(t, r)...)
			}
			for _, k := range kinds() {
				if k.gyro == gyro {
					loss(t, folder, k, r, train, &list[len(list)-1])
				}
			}
		}
	}
}

func loss(t *testing.T, folder string, k kind, r *rig.Rig, train []models.Example, test *session) {
	t.Helper()
	family, ok := models.FamilyByName(k.family)
	if !ok {
		t.Fatalf("no family %s", k.family)
	}
	d, err := family.Fit(context.Background(), train, models.Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	exact, err := models.Apply(t.Context(), d, r, test.signal)
	if err != nil {
		t.Fatal(err)
	}
	for _, profile := range []string{firmware.Fixed, firmware.Float32} {
		v, err := firmware.NewDevice(d, r, profile)
		if err != nil {
			t.Errorf("%s, %s: %v", folder, k.name, err)
			return
		}
		events, err := v.Apply(t.Context(), test.signal, test.perSecond)
		if err != nil {
			t.Fatal(err)
		}
		rows := v.Rows(test.signal, events)
		e := test.compare(exact, rows)
		t.Logf("%-2s %-22s %-7s found %3d and %3d, of the truth %3d by both, lost %d, gained %d | bearing %6.2f to %6.2f deg, apart %.2f | height %5.1f to %5.1f mm, apart %.1f",
			folder, k.name, profile, len(exact), len(rows), e.n, e.lost, e.gained, e.bearing[0], e.bearing[1], e.apartDeg, 1000*e.height[0], 1000*e.height[1], e.apartMM)
		if e.bearing[1] > e.bearing[0]+0.3 || e.height[1] > e.height[0]+0.003 {
			t.Errorf("%s, %s, %s: rounding costs %.2f degrees and %.1f mm", folder, k.name, profile, e.bearing[1]-e.bearing[0], 1000*(e.height[1]-e.height[0]))
		}
		if e.n < 50 || e.lost > e.n/100 {
			t.Errorf("%s, %s, %s: %d strikes found by both, %d by float64 alone", folder, k.name, profile, e.n, e.lost)
		}
	}
}

// TestRecordingsUnderSanitizers replays every full recording in C, with what finds
// undefined behaviour, and compares each event with Go's.
func TestRecordingsUnderSanitizers(t *testing.T) {
	root := datasettest.Recordings(t)
	for _, folder := range []string{"A", "B0", "B1", "C"} {
		r, err := rig.Load(filepath.Join(root, folder, "rig.toml"))
		if err != nil {
			t.Fatal(err)
		}
		list := sessions(t, filepath.Join(root, folder), r)
		for _, family := range []string{"peak-arctangent", "pendulum"} {
			if family == "pendulum" && !r.HasGyro() {
				continue
			}
			f, _ := models.FamilyByName(family)
			d, err := f.Fit(t.Context(), nil, models.Options{})
			if err != nil {
				t.Fatal(err)
			}
			v, err := firmware.NewDevice(d, r, firmware.Fixed)
			if err != nil {
				t.Fatal(err)
			}
			run := sanitized(t, exported(t, v, &models.File{Detector: d}), "replay.c")
			for _, s := range list {
				samples := firmware.Samples(r, s.signal, s.perSecond)
				events, err := v.Run(t.Context(), samples)
				if err != nil {
					t.Fatal(err)
				}
				cmd := exec.Command(run)
				cmd.Stdin = strings.NewReader(string(log(samples)))
				out, err := cmd.CombinedOutput()
				if err != nil {
					t.Fatalf("%s/%s, %s: %v\n%s", folder, s.name, family, err, short(string(out)))
				}
				if err := differ(v.Profile, string(out), firmware.Lines(events)); err != nil {
					t.Errorf("%s/%s, %s: %v", folder, s.name, family, err)
				}
				t.Logf("%s/%s, %s: %d samples, %d events alike", folder, s.name, family, len(samples), len(events))
			}
		}
	}
}
