package chain_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/features/chain"
	"strikerose/testdata/recordings"
)

// On the committed recordings every strike must be found and nothing else. The
// truth runs on a clock of its own, which a restart of the board shifts by an
// unknown pause: the second recording has one.
func TestCommittedRecordings(t *testing.T) {
	rg, err := rig.Parse(file(t, "hall.toml"), "hall.toml")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		log, truth string
		epochs     int
	}{
		{"monday.csv.zst", "monday-truth.csv", 1},
		{"friday.bin.zst", "friday-truth.csv", 2},
	} {
		res, err := intake.Read(t.Context(), bytes.NewReader(file(t, c.log)), c.log, rg, intake.Options{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		lines, err := csv.NewReader(bytes.NewReader(file(t, c.truth))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		var truth []float64
		for _, l := range lines[1:] {
			truth = append(truth, number(t, l[0]))
		}
		windows := run(t, rg, &res.Signal, chain.Options{PreMs: 300, PostMs: 65})
		if got, want := len(windows), len(truth); got != want {
			t.Errorf("%s: %d strikes found, want %d", c.log, got, want)
		}
		left := truth
		for range c.epochs {
			left, windows = pair(left, windows)
		}
		for _, s := range left {
			t.Errorf("%s: the strike at %.3f s was not found", c.log, s)
		}
		for _, w := range windows {
			t.Errorf("%s: no strike at %.3f s", c.log, float64(w.Strike.OnsetNs)/1e9)
		}
	}
}

func file(t testing.TB, name string) []byte {
	t.Helper()
	b, err := recordings.Files.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// pair takes away the strikes and windows that agree within 10 ms at the one
// shift of the clock at which most do, and returns the others.
func pair(truth []float64, windows []*dataset.Window) (left []float64, over []*dataset.Window) {
	agree := func(shift, s float64, w *dataset.Window) bool {
		return math.Abs(float64(w.Strike.OnsetNs)/1e9-s-shift) < 0.010
	}
	most, best := 0, 0.0
	for _, s := range truth {
		for _, w := range windows {
			shift, n := float64(w.Strike.OnsetNs)/1e9-s, 0
			for _, s2 := range truth {
				for _, w2 := range windows {
					if agree(shift, s2, w2) {
						n++
					}
				}
			}
			if n > most {
				most, best = n, shift
			}
		}
	}
	taken := make([]bool, len(windows))
	for _, s := range truth {
		hit := false
		for i, w := range windows {
			if !hit && !taken[i] && agree(best, s, w) {
				taken[i], hit = true, true
			}
		}
		if !hit {
			left = append(left, s)
		}
	}
	for i, w := range windows {
		if !taken[i] {
			over = append(over, w)
		}
	}
	return left, over
}
