package truth

import (
	"math"
	"math/rand/v2"
	"path/filepath"
	"sort"
	"testing"
	"time"

	"strikerose/dataset/datasettest"
)

// struck is one strike of a recording's truth.
type struck struct {
	timeS float64
	boot  int // 0 in a pause
}

func readStruck(t testing.TB, path string) []struck {
	t.Helper()
	var out []struck
	for _, row := range datasettest.Rows(t, path) {
		out = append(out, struck{row.Number(t, "t_s"), int(row.Number(t, "boot"))})
	}
	return out
}

// session turns strikes into truth entries on a clock of its own and onsets
// on a board's clock that runs fast by drift; at a restart the board's clock
// loses the pause.
type session struct {
	entries []Entry
	onsets  []int64
	from    []int // entry of each onset, -1 for none
	epochs  []Epoch
	pauseS  float64
}

func makeSession(s []struck, offsetS, drift, jitterS, drop float64, extras int, rng *rand.Rand) session {
	var out session
	end, restart, resume := s[len(s)-1].timeS+3, math.Inf(1), math.Inf(1)
	for i, x := range s {
		if i > 0 && x.boot == 2 && s[i-1].boot != 2 {
			before := s[i-1].timeS
			if s[i-1].boot == 0 {
				before = s[i-1].timeS - 0.3
			}
			restart = before + 0.2
			resume = max(restart+0.3, x.timeS-0.3)
		}
	}
	board := func(t float64) int64 {
		if t >= resume {
			t -= resume - restart
		}
		return int64(math.Round(t * (1 + drift) * 1e9))
	}
	type onset struct {
		ns   int64
		from int
	}
	var onsets []onset
	for i, x := range s {
		out.entries = append(out.entries, Entry{TimeS: x.timeS + offsetS})
		if x.boot != 0 && rng.Float64() >= drop {
			onsets = append(onsets, onset{board(x.timeS) + int64(1e9*jitterS*rng.NormFloat64()), i})
		}
	}
	for range extras {
		onsets = append(onsets, onset{board(rng.Float64() * end), -1})
	}
	sort.Slice(onsets, func(i, j int) bool { return onsets[i].ns < onsets[j].ns })
	for _, o := range onsets {
		out.onsets, out.from = append(out.onsets, o.ns), append(out.from, o.from)
	}
	out.epochs = []Epoch{{0, board(end)}}
	if !math.IsInf(restart, 1) {
		out.pauseS = resume - restart
		out.epochs = []Epoch{{0, board(restart) - 1}, {board(resume), board(end)}}
	}
	return out
}

// wrong counts pairs that do not belong together.
func (s session) wrong(p Placement) int {
	n := 0
	for _, pair := range p.Pairs {
		if s.from[pair.Onset] != pair.Entry {
			n++
		}
	}
	return n
}

func truthFiles(t testing.TB) []string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(datasettest.Recordings(t), "*", "truth", "*_truth.csv"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no truth tables: %v", err)
	}
	return files
}

// TestMeasurePlacement measures placement with onsets made from the truth
// tables of the full recordings.
func TestMeasurePlacement(t *testing.T) {
	for k, path := range truthFiles(t) {
		s := readStruck(t, path)
		rng := rand.New(rand.NewPCG(3, uint64(k)))
		m := makeSession(s, 1.7e9*float64(k%2), 0.005*(2*rng.Float64()-1), 0.002, 0.05, 5, rng)
		start := time.Now()
		p, err := Match(t.Context(), m.entries, m.onsets, m.epochs)
		if err != nil {
			t.Errorf("%s: %v", path, err)
			continue
		}
		t.Logf("%s: %d entries, %d onsets, %d pairs, %d wrong, %d missed, %d extra, pause %.2f, %v", filepath.Base(filepath.Dir(filepath.Dir(path))), len(m.entries), len(m.onsets), len(p.Pairs), m.wrong(p), len(p.Missed), len(p.Extra), m.pauseS, time.Since(start))
		for _, f := range p.Fits {
			t.Logf("   %+v", f)
		}
		if n := m.wrong(p); n > 0 || len(p.Pairs) < len(m.onsets)*8/10 {
			t.Errorf("%s: %d pairs of %d onsets, %d wrong", path, len(p.Pairs), len(m.onsets), n)
		}
	}
}

// TestMeasureWrongFiles measures how truths of other sessions fare.
func TestMeasureWrongFiles(t *testing.T) {
	files := truthFiles(t)
	for i, path := range files {
		rng := rand.New(rand.NewPCG(4, uint64(i)))
		m := makeSession(readStruck(t, path), 0, 0.002, 0.002, 0.05, 5, rng)
		for k, other := range files {
			if i == k {
				continue
			}
			var entries []Entry
			for _, x := range readStruck(t, other) {
				entries = append(entries, Entry{TimeS: x.timeS})
			}
			if p, err := Match(t.Context(), entries, m.onsets, m.epochs); err == nil {
				t.Errorf("%s placed on %s: %+v", other, path, p.Fits)
			}
		}
	}
}
