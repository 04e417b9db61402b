package chain_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/features/chain"
)

// happening is one line of a recording's truth, on the repaired clock.
type happening struct {
	what   string // strike, tap, second, hardware_kick, shove
	second bool
	tap    bool
	ns     float64
}

// TestRecordings measures finder and chain on the full recordings: one to one
// within 50 ms of the true start of contact, strikes in power gaps left out.
func TestRecordings(t *testing.T) {
	dir := datasettest.Recordings(t)
	var table strings.Builder
	fmt.Fprintln(&table, "rig  strikes      P      R     F1  second    taps  false/session  blips  onset ms: median  p95  most | delay ms at 0: median  most, at 65: median  most")
	for _, name := range []string{"A", "B0", "B1", "C"} {
		var s score
		folder := filepath.Join(dir, name)
		rg, err := rig.Load(filepath.Join(folder, "rig.toml"))
		if err != nil {
			t.Fatal(err)
		}
		logs, err := filepath.Glob(filepath.Join(folder, "logs", "session*"))
		if err != nil || len(logs) == 0 {
			t.Fatalf("no logs in %s: %v", folder, err)
		}
		for _, path := range logs {
			session := strings.SplitN(filepath.Base(path), ".", 2)[0]
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			res, err := intake.Read(t.Context(), bytes.NewReader(b), filepath.Base(path), rg, intake.Options{}, nil)
			if err != nil {
				t.Fatal(err)
			}
			truth := placed(t, res, folder, session)
			start := time.Now()
			windows := run(t, rg, &res.Signal, chain.Options{PreMs: 300, PostMs: 65})
			took := time.Since(start)
			if limit := 200 * time.Millisecond * time.Duration(1+res.Signal.Len()/200_000); took > limit {
				t.Logf("%s/%s: %d samples took %v", name, session, res.Signal.Len(), took)
			}
			s.add(t, name+"/"+session, windows, truth)
			for _, w := range run(t, rg, &res.Signal, chain.Options{}) {
				s.delay0 = append(s.delay0, float64(w.Strike.ReadyNs-w.Strike.OnsetNs)/1e6)
			}
		}
		s.print(&table, name)
		s.check(t, name)
	}
	t.Logf("\n%s", table.String())
}

func run(t testing.TB, rg *rig.Rig, sig *dataset.Signal, o chain.Options) []*dataset.Window {
	t.Helper()
	windows, err := chain.Run(context.Background(), rg, sig, o)
	if err != nil {
		t.Fatal(err)
	}
	return windows
}

// score counts over the sessions of a rig.
type score struct {
	sessions, found, strikes, hit     int
	seconds, secondsHit, taps, tapHit int
	blips, shoves                     int // taken for strikes
	onset, delay0, delay65            []float64
}

func (s *score) add(t *testing.T, session string, windows []*dataset.Window, truth []happening) {
	s.sessions++
	s.found += len(windows)
	used := make([]bool, len(windows))
	nearest := func(ns, within float64) int {
		best := -1
		for i, w := range windows {
			if d := math.Abs(float64(w.Strike.OnsetNs) - ns); !used[i] && d <= within {
				best, within = i, d
			}
		}
		return best
	}
	for _, h := range truth {
		if h.what != "strike" {
			continue
		}
		s.strikes++
		i := nearest(h.ns, 50e6)
		if i >= 0 {
			used[i] = true
			s.hit++
			s.onset = append(s.onset, (float64(windows[i].Strike.OnsetNs)-h.ns)/1e6)
			s.delay65 = append(s.delay65, float64(windows[i].Strike.ReadyNs-windows[i].Strike.OnsetNs)/1e6)
		} else {
			t.Logf("%s: missed the strike at %.3f s", session, h.ns/1e9)
		}
		count(h.second, i >= 0, &s.seconds, &s.secondsHit)
		count(h.tap, i >= 0, &s.taps, &s.tapHit)
	}
	for i, w := range windows {
		if !used[i] {
			t.Logf("%s: false strike at %.3f s", session, float64(w.Strike.OnsetNs)/1e9)
		}
	}
	for _, h := range truth {
		if h.what == "hardware_kick" && nearest(h.ns, 50e6) >= 0 {
			s.blips++
		}
		if h.what == "shove" && nearest(h.ns, 200e6) >= 0 {
			s.shoves++
		}
	}
}

func count(is, hit bool, of, hits *int) {
	if is {
		*of++
		if hit {
			*hits++
		}
	}
}

func (s *score) rates() (p, r, f1 float64) {
	p, r = float64(s.hit)/float64(s.found), float64(s.hit)/float64(s.strikes)
	return p, r, 2 * p * r / (p + r)
}

func (s *score) print(b *strings.Builder, name string) {
	p, r, f1 := s.rates()
	size := make([]float64, len(s.onset))
	for i, e := range s.onset {
		size[i] = math.Abs(e)
	}
	fmt.Fprintf(b, "%-4s %7d  %.4f %.4f %.4f  %3d/%-3d  %3d/%-3d  %13.2f  %5d  %16.2f %4.1f %5.1f | %21.1f %5.1f  %13.1f %5.1f\n",
		name, s.strikes, p, r, f1, s.secondsHit, s.seconds, s.tapHit, s.taps, float64(s.found-s.hit)/float64(s.sessions), s.blips,
		quantile(s.onset, 0.5), quantile(size, 0.95), quantile(size, 1),
		quantile(s.delay0, 0.5), quantile(s.delay0, 1), quantile(s.delay65, 0.5), quantile(s.delay65, 1))
}

// check holds the targets.
func (s *score) check(t *testing.T, name string) {
	_, _, f1 := s.rates()
	for _, c := range []struct {
		what  string
		value float64
		ok    bool
	}{
		{"F1", f1, f1 >= 0.99},
		{"share of second hits", float64(s.secondsHit) / float64(max(1, s.seconds)), float64(s.secondsHit) >= 0.97*float64(s.seconds)},
		{"false strikes a session", float64(s.found-s.hit) / float64(s.sessions), float64(s.found-s.hit) <= 0.5*float64(s.sessions)},
		{"blips taken for strikes", float64(s.blips), s.blips == 0},
		{"longest delay", quantile(s.delay65, 1), quantile(s.delay65, 1) <= 75},
	} {
		if !c.ok {
			t.Errorf("rig %s: %s is %g", name, c.what, c.value)
		}
	}
}

func quantile(x []float64, p float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	y := slices.Sorted(slices.Values(x))
	return stat.Quantile(p, stat.Empirical, y, nil)
}

// placed reads what happened and puts it on the repaired clock, by the log's
// own stamps. Strikes within a power gap have none and are left out.
func placed(t testing.TB, res *intake.Result, folder, session string) []happening {
	var out []happening
	base := filepath.Join(folder, "truth", session)
	add := func(row map[string]string, h happening) {
		if row["t_log"] == "" || row["in_gap"] == "1" {
			return
		}
		ns, ok := locate(res, number(t, row["t_log"]), row["boot"] == "2")
		if !ok {
			if h.what == "strike" {
				t.Errorf("%s: stamp %s is not in the log", base, row["t_log"])
			}
			return
		}
		h.ns = ns
		out = append(out, h)
	}
	for _, row := range datasettest.Rows(t, base+"_truth.csv") {
		add(row, happening{what: "strike", second: row["second_hit"] == "1", tap: row["kind"] == "tap"})
	}
	for _, row := range datasettest.Rows(t, base+"_other.csv") {
		add(row, happening{what: row["what"]})
	}
	return out
}

// locate finds a stamp of the log, in its time unit, among the samples before
// or after the restart and returns the repaired time.
func locate(res *intake.Result, stamp float64, second bool) (ns float64, ok bool) {
	perUnit := map[string]float64{"us": 1e6, "ms": 1e3, "s": 1}[res.Session.TimeUnit]
	stamp *= res.Session.RawPerSecond / perUnit
	raw, restarted := res.Signal.TRaw, false
	for i := 1; i < len(raw); i++ {
		step := raw[i] - raw[i-1]
		if step < 0 && step > -1<<31 && float64(raw[i]) < 5*res.Session.RawPerSecond {
			restarted = true
			continue
		}
		if restarted != second || step < 0 || float64(step) > 0.05*res.Session.RawPerSecond {
			continue
		}
		if a := float64(raw[i-1]); a <= stamp && stamp <= float64(raw[i]) {
			part := (stamp - a) / max(1, float64(step))
			return float64(res.Signal.TNs[i-1]) + part*float64(res.Signal.TNs[i]-res.Signal.TNs[i-1]), true
		}
	}
	return 0, false
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
