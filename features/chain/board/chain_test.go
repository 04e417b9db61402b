package board_test

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/features/chain"
	"strikerose/features/chain/board"
)

// counts brings a signal back to what the sensor gave.
func counts(r *rig.Rig, sig *dataset.Signal, perSecond float64) []board.Sample {
	u := board.UnitsOf(r)
	out := make([]board.Sample, sig.Len())
	for i := range out {
		out[i].TUs = uint32(math.Round(float64(sig.TRaw[i]) * 1e6 / perSecond))
		for k := range 3 {
			out[i].A[k] = int16(math.Round(float64(sig.A[k][i]) / u.AccelMPS2))
			if sig.HasGyro() {
				out[i].G[k] = int16(math.Round(float64(sig.G[k][i]) / u.GyroRadps))
			}
		}
	}
	return out
}

// found is a strike that the chain told.
type found struct {
	onset, at        int // positions in the samples: of the onset, by its stamp, and when it was told
	early            bool
	nearGap, clipped bool
}

// run sends samples through a chain and returns strikes by the position of their
// onset.
func run(t testing.TB, p *board.Plan, samples []board.Sample) []found {
	t.Helper()
	var c board.Chain
	c.Make(&p.Table, p.Ring)
	var out []found
	early, retracted := 0, 0
	begun := 0
	step := func(i int) {
		told := c.Step()
		if told&board.ToldEarly != 0 {
			early++
		}
		if told&board.ToldRetract != 0 {
			retracted++
		}
		if told&board.ToldFinal != 0 {
			stamp := c.Stamp(c.Onset())
			j := min(i, len(samples)-1)
			for j > begun && samples[j].TUs != stamp {
				j--
			}
			out = append(out, found{onset: j, at: i, nearGap: c.NearGap(p.Table.Post), clipped: c.Clipped()})
		}
	}
	end := func(i int) {
		for n := 0; n < board.Lookahead || c.Busy(); n++ {
			c.Pad()
			step(i)
		}
		c.Restart()
	}
	for i := range samples {
		var sorted board.Sample
		s := &sorted
		c.Sort(&samples[i], s)
		lost := c.Lost(s)
		if lost < 0 {
			if i > 0 {
				end(i)
			}
			begun = i
		} else if lost > 0 {
			var from board.Sample
			c.Newest(&from)
			for j := range lost {
				c.Fill(s, &from, j+1, lost+1)
				step(i)
			}
		}
		c.Take(s)
		step(i)
	}
	end(len(samples))
	return out
}

// TestFindsAsFloat compares with the float64 chain on the full recordings.
func TestFindsAsFloat(t *testing.T) {
	dir := datasettest.Recordings(t)
	var table strings.Builder
	all, lone, moved := 0, 0, 0
	logs, err := filepath.Glob(filepath.Join(dir, "*", "logs", "session*"))
	if err != nil || len(logs) == 0 {
		t.Fatal(err)
	}
	for _, path := range logs {
		rg, err := rig.Load(filepath.Join(filepath.Dir(filepath.Dir(path)), "rig.toml"))
		if err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		res, err := intake.Read(t.Context(), bytes.NewReader(b), filepath.Base(path), rg, intake.Options{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		windows, err := chain.Run(t.Context(), rg, &res.Signal, chain.Options{PreMs: 300, PostMs: 65})
		if err != nil {
			t.Fatal(err)
		}
		p, err := board.NewPlan(rg, board.Wants{PreMs: 300, PostMs: 65, SoonMs: 25, Gyro: rg.HasGyro(), Level: true})
		if err != nil {
			t.Fatal(err)
		}
		got := run(t, p, counts(rg, &res.Signal, res.Session.RawPerSecond))
		both, off, far, flags := 0, 0, 0, 0
		used := make([]bool, len(got))
		for _, w := range windows {
			at := -1
			for i, g := range got {
				if d := math.Abs(float64(res.Signal.TNs[g.onset] - w.Strike.OnsetNs)); !used[i] && d < 50e6 {
					at = i
				}
			}
			if at < 0 {
				fmt.Fprintf(&table, "  missed %.3f\n", float64(w.Strike.OnsetNs)/1e9)
				continue
			}
			used[at] = true
			both++
			d := math.Abs(float64(res.Signal.TNs[got[at].onset]-w.Strike.OnsetNs)) * rg.Sensor.RateHz / 1e9
			if d > 0.5 {
				off++
			}
			if d > 1.5 {
				far++
			}
			if got[at].nearGap != w.Strike.NearGap || got[at].clipped != w.Strike.Clipped {
				flags++
			}
		}
		for i, u := range used {
			if !u {
				fmt.Fprintf(&table, "  extra %.3f\n", float64(res.Signal.TNs[got[i].onset])/1e9)
			}
		}
		all, lone, moved = all+len(windows), lone+len(windows)+len(got)-2*both, moved+off
		if far > 0 {
			t.Errorf("%s: %d onsets are off by more than a sample", path[len(dir):], far)
		}
		fmt.Fprintf(&table, "%s: float %d, board %d, both %d, onset moved %d, by more than one %d, flags differ %d\n", path[len(dir):], len(windows), len(got), both, off, far, flags)
	}
	t.Logf("\n%s", table.String())
	if lone > all/200 || moved > all/50 {
		t.Errorf("of %d strikes %d are found by one alone, %d onsets moved by a sample", all, lone, moved)
	}
}
