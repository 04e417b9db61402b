package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/testdata/recordings"
)

// BenchmarkFind finds the strikes of recordings on the disk and computes their
// features, in a process of its own: the two that the tests have, repeated to five
// million samples each. It reports samples a second by the clock, and nanoseconds
// of all processors together a sample.
//
//	go test ./cmd/strikerose -run '^$' -bench Find -benchtime 3x
func BenchmarkFind(b *testing.B) {
	const samples = 5_000_000
	gym, n := repeatedRecordings(b, samples)
	self, err := os.Executable()
	if err != nil {
		b.Fatal(err)
	}
	for _, c := range []struct {
		name string
		args []string
	}{
		{"find", []string{"find"}},
		{"features", []string{"features"}},
		{"both at once", []string{"find", "--features"}},
	} {
		b.Run(c.name, func(b *testing.B) {
			var cpu float64
			for b.Loop() {
				cmd := &exec.Cmd{Path: self, Args: append([]string{"strikerose", "--quiet", "-C", gym}, c.args...), Stderr: os.Stderr}
				if err := cmd.Run(); err != nil {
					b.Fatal(err)
				}
				cpu += (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds()
			}
			all := float64(n) * float64(b.N)
			b.ReportMetric(all/b.Elapsed().Seconds(), "samples/s")
			b.ReportMetric(cpu/all*1e9, "cpu-ns/sample")
		})
	}
}

// repeatedRecordings keeps each committed recording, repeated segment after
// segment to so many samples at least, and returns how many there are together.
func repeatedRecordings(b *testing.B, samples int) (gym string, n int) {
	gym = filepath.Join(b.TempDir(), "gym")
	c, err := corpus.OpenOrCreate(gym)
	if err != nil {
		b.Fatal(err)
	}
	file := func(name string) []byte {
		data, err := recordings.Files.ReadFile(name)
		if err != nil {
			b.Fatal(err)
		}
		return data
	}
	r, err := rig.Parse(file("hall.toml"), "hall.toml")
	if err != nil {
		b.Fatal(err)
	}
	if err := c.PutRig(r); err != nil {
		b.Fatal(err)
	}
	for _, log := range []string{"monday.csv.zst", "friday.bin.zst"} {
		res, err := intake.Read(b.Context(), bytes.NewReader(file(log)), log, r, intake.Options{}, nil)
		if err != nil {
			b.Fatal(err)
		}
		sig := repeated(&res.Signal, samples)
		s := res.Session
		s.Name, _, _ = strings.Cut(log, ".")
		s.Rig, s.LogName, s.LogSHA256 = r.Key(), log, fmt.Sprintf("%064x", n)
		s.Samples, s.Segments = int64(sig.Len()), int(sig.Segment[sig.Len()-1])+1
		s.DurationS = float64(sig.TNs[sig.Len()-1]) / 1e9
		if err := c.PutSession(b.Context(), s, sig, false); err != nil {
			b.Fatal(err)
		}
		n += sig.Len()
	}
	return gym, n
}

// repeated lays a signal end to end, a second between, until it holds so many samples.
func repeated(one *dataset.Signal, samples int) *dataset.Signal {
	all := &dataset.Signal{}
	last := one.Len() - 1
	for i := 0; all.Len() < samples; i++ {
		for j := range one.Len() {
			all.TNs = append(all.TNs, one.TNs[j]+int64(i)*(one.TNs[last]+1e9))
			all.TRaw = append(all.TRaw, one.TRaw[j])
			all.Segment = append(all.Segment, one.Segment[j]+int32(i)*(one.Segment[last]+1))
		}
		for k := range 3 {
			all.A[k], all.G[k] = append(all.A[k], one.A[k]...), append(all.G[k], one.G[k]...)
		}
	}
	return all
}
