package chain_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/testdata/recordings"
)

// committed is a recording with its truth, on a clock of its own, which a
// restart of the board shifts by an unknown pause.
type committed struct {
	name   string
	epochs int // stretches between restarts
	signal *dataset.Signal
	truthS []float64
}

func committedRecordings(t testing.TB) (*rig.Rig, []committed) {
	t.Helper()
	rg, err := rig.Parse(file(t, "hall.toml"), "hall.toml")
	if err != nil {
		t.Fatal(err)
	}
	out := []committed{{name: "monday", epochs: 1}, {name: "friday", epochs: 2}}
	for i, log := range []string{"monday.csv.zst", "friday.bin.zst"} {
		res, err := intake.Read(t.Context(), bytes.NewReader(file(t, log)), log, rg, intake.Options{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		out[i].signal = &res.Signal
		lines, err := csv.NewReader(bytes.NewReader(file(t, out[i].name+"-truth.csv"))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range lines[1:] {
			out[i].truthS = append(out[i].truthS, number(t, l[0]))
		}
	}
	return rg, out
}

// Every strike must be found and nothing else: as the recording is, with the
// noise unknown, with blips put on every strike and between, and with four
// times the noise.
func TestCommittedRecordings(t *testing.T) {
	rg, recordings := committedRecordings(t)
	unknown := *rg
	unknown.Sensor.AccelNoiseMPS2 = 0
	for _, c := range recordings {
		found := allFound(t, c.name, c, run(t, rg, c.signal, usual))
		allFound(t, c.name+", noise unknown", c, run(t, &unknown, c.signal, usual))

		rng := rand.New(rand.NewPCG(3, 4))
		spoiled := copied(c.signal)
		for _, w := range found {
			at := w.Strike.OnsetNs + int64((-12+42*rng.Float64())*1e6)
			i, _ := slices.BinarySearch(spoiled.TNs, at)
			spoil(rng, spoiled, i)
		}
		for range 100 {
			spoil(rng, spoiled, rng.IntN(spoiled.Len()))
		}
		allFound(t, c.name+", with blips", c, run(t, rg, spoiled, usual))

		noisy := copied(c.signal)
		for k := range 3 {
			for i := range noisy.A[k] {
				noisy.A[k][i] += float32(4 * rg.Sensor.AccelNoiseMPS2 * rng.NormFloat64())
			}
		}
		allFound(t, c.name+", with noise", c, run(t, &unknown, noisy, usual))
	}
}

// allFound complains of every strike without a window and every window without
// a strike, and returns the windows.
func allFound(t *testing.T, name string, c committed, windows []*dataset.Window) []*dataset.Window {
	t.Helper()
	left, over := c.truthS, windows
	for range c.epochs {
		left, over = pair(left, over)
	}
	for _, s := range left {
		t.Errorf("%s: the strike at %.3f s was not found", name, s)
	}
	for _, w := range over {
		t.Errorf("%s: no strike at %.3f s", name, float64(w.Strike.OnsetNs)/1e9)
	}
	return windows
}

// spoil puts a blip of one to three samples at i, of alternating sign.
func spoil(rng *rand.Rand, s *dataset.Signal, i int) {
	sign := float32(1)
	n := 1 + rng.IntN(3)
	var by [3]float32
	for k := range by {
		by[k] = float32(50 * rng.NormFloat64())
	}
	for j := i; j < min(i+n, s.Len()); j++ {
		for k := range 3 {
			s.A[k][j] += sign * by[k]
		}
		sign = -sign
	}
}

func copied(s *dataset.Signal) *dataset.Signal {
	out := *s
	for k := range 3 {
		out.A[k] = slices.Clone(s.A[k])
	}
	return &out
}

func file(t testing.TB, name string) []byte {
	t.Helper()
	b, err := recordings.Files.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// pair takes away the strikes and windows that agree within 25 ms at the one
// shift of the clock at which most do, and returns the others.
func pair(truth []float64, windows []*dataset.Window) (left []float64, over []*dataset.Window) {
	agree := func(shift, s float64, w *dataset.Window) bool {
		return math.Abs(float64(w.Strike.OnsetNs)/1e9-s-shift) < 0.025
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
