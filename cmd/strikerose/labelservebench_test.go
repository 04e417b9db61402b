package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"strings"
	"testing"
	"time"

	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/datasettest"
)

// BenchmarkLongSession serves a generated session of ten million samples from a
// process of its own and reports how long the page waits for its first picture
// (open_ms) and for any other (picture_ms), when the view of the whole session
// is complete (whole_s), and the most memory that the server took (peak_MB,
// Linux only).
//
//	go test ./cmd/strikerose -run '^$' -bench LongSession -benchtime 1x
func BenchmarkLongSession(b *testing.B) {
	const samples = 10_000_000
	gym := longSession(b, samples)
	self, err := os.Executable()
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		cmd := &exec.Cmd{Path: self, Args: []string{"strikerose", "label", "serve", "-C", gym, "--addr", "127.0.0.1:0"}, Stderr: os.Stderr}
		out, err := cmd.StdoutPipe()
		if err != nil {
			b.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			b.Fatal(err)
		}
		line, err := bufio.NewReader(out).ReadString('\n')
		if err != nil {
			b.Fatal(err)
		}
		url := strings.Fields(line)[1]
		get := func(path string) string {
			resp, err := http.Get(url + path)
			if err != nil {
				b.Fatal(err)
			}
			defer resp.Body.Close()
			data, err := io.ReadAll(resp.Body)
			if err != nil || resp.StatusCode != http.StatusOK {
				b.Fatal(err, resp.Status, string(data))
			}
			return string(data)
		}
		start := time.Now()
		get("/session?name=long")
		get("/api/session?session=long")
		get("/api/traces?session=long&from_ns=4999600000000&to_ns=5000800000000&columns=1400")
		open := time.Since(start)
		whole := fmt.Sprintf("/api/traces?session=long&from_ns=0&to_ns=%d&columns=1400", int64(samples)*1_000_000)
		for !strings.Contains(get(whole), `"built":1,`) {
			time.Sleep(50 * time.Millisecond)
		}
		built := time.Since(start)
		rng := rand.New(rand.NewPCG(1, 1))
		start = time.Now()
		const pictures = 100
		for range pictures { // anywhere, from half a second to an hour wide
			wide := int64(math.Exp(rng.Float64()*math.Log(7200)) * 5e8)
			from := rng.Int64N(int64(samples)*1_000_000 - wide)
			get(fmt.Sprintf("/api/traces?session=long&from_ns=%d&to_ns=%d&columns=1400", from, from+wide))
		}
		b.ReportMetric(float64(open.Microseconds())/1000, "open_ms")
		b.ReportMetric(built.Seconds(), "whole_s")
		b.ReportMetric(float64(time.Since(start).Microseconds())/1000/pictures, "picture_ms")
		if mb, ok := peakMB(cmd.Process.Pid); ok {
			b.ReportMetric(mb, "peak_MB")
		}
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	}
}

// longSession keeps a session of noise with a swing under it.
func longSession(b *testing.B, n int) (gym string) {
	gym = filepath.Join(b.TempDir(), "gym")
	c, err := corpus.OpenOrCreate(gym)
	if err != nil {
		b.Fatal(err)
	}
	r := datasettest.Rig(b)
	if err := c.PutRig(r); err != nil {
		b.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	sig := &dataset.Signal{TNs: make([]int64, n), TRaw: make([]int64, n), Segment: make([]int32, n)}
	for k := range 3 {
		sig.A[k], sig.G[k] = make([]float32, n), make([]float32, n)
	}
	for i := range n {
		sig.TNs[i], sig.TRaw[i] = int64(i)*1_000_000, int64(i)*1000
		swing := math.Sin(float64(i) / 300)
		for k := range 3 { // whole counts, as a sensor gives them
			sig.A[k][i] = float32(math.Round(rng.NormFloat64()*12+60*swing) / 2048 * dataset.StandardGravity)
			sig.G[k][i] = float32(math.Round(rng.NormFloat64()*4+80*swing) / 16.4 * math.Pi / 180)
		}
	}
	s := dataset.Session{Name: "long", Rig: r.Key(), LogName: "long.bin", LogSHA256: strings.Repeat("0", 64), Dialect: "frames", TimeUnit: "us", AccelUnit: "counts",
		GyroUnit: "counts", Samples: int64(n), Segments: 1, DurationS: float64(n-1) / 1000, NominalRateHz: 1000, RateHz: 1000, RawPerSecond: 1e6, HasGyro: true}
	if err := c.PutSession(b.Context(), s, sig, false); err != nil {
		b.Fatal(err)
	}
	var strikes []dataset.Strike
	for i := 1; i <= 3000; i++ {
		strikes = append(strikes, dataset.Strike{Number: i, OnsetNs: int64(i) * 3_300_000_000, ReadyNs: int64(i)*3_300_000_000 + 1, PeakMPS2: 40})
	}
	if err := c.PutStrikes(b.Context(), "long", strikes, madeByFinder()); err != nil {
		b.Fatal(err)
	}
	sig = nil
	debug.FreeOSMemory()
	return gym
}

// peakMB is the most memory that a process took, where the system tells.
func peakMB(pid int) (mb float64, ok bool) {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0, false
	}
	for _, line := range strings.Split(string(data), "\n") {
		if _, err := fmt.Sscanf(line, "VmHWM: %f kB", &mb); err == nil {
			return mb / 1024, true
		}
	}
	return 0, false
}
