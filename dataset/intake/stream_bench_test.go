//go:build unix

package intake

import (
	"context"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"strikerose/dataset"
)

// endless is a simulated log of comma-separated counts that goes on for a given
// number of records: a minute over and over, with stamps that count on.
type endless struct {
	lines   [][]byte // with a stamp of ten digits each
	left    int
	next    int
	atUs    int64
	rest    []byte
	started bool
}

func newEndless(n int) *endless {
	e := &endless{left: n, atUs: 1000}
	sig := testSignal(60000, 1000, 0, 8)
	for i := range sig.Len() {
		c := counts(sig, i)
		e.lines = append(e.lines, fmt.Appendf(nil, "%010d,%d,%d,%d,%d,%d,%d\n", 0, c[0], c[1], c[2], c[3], c[4], c[5]))
	}
	return e
}

func (e *endless) Read(p []byte) (int, error) {
	n := 0
	if !e.started {
		e.started = true
		n = copy(p, "t_us,ax,ay,az,gx,gy,gz\n")
	}
	for {
		k := copy(p[n:], e.rest)
		n, e.rest = n+k, e.rest[k:]
		if len(e.rest) > 0 {
			return n, nil
		}
		if e.left == 0 {
			if n == 0 {
				return 0, io.EOF
			}
			return n, nil
		}
		line := e.lines[e.next%len(e.lines)]
		stamp := uint32(e.atUs)
		for i := 9; i >= 0; i-- {
			line[i] = byte('0' + stamp%10)
			stamp /= 10
		}
		e.rest = line
		e.next++
		e.left--
		e.atUs += 999 + int64(e.next*7%3) // 1000.0 Hz with jitter
	}
}

// userSeconds is the processor time of this process.
func userSeconds() float64 {
	var u syscall.Rusage
	syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return float64(u.Utime.Sec) + float64(u.Utime.Usec)/1e6
}

// peakMB is the most memory that this process had in megabytes, or 0 where the
// system does not tell.
func peakMB() float64 {
	b, _ := os.ReadFile("/proc/self/status")
	_, after, _ := strings.Cut(string(b), "VmHWM:")
	kb, _, _ := strings.Cut(strings.TrimSpace(after), " ")
	v, _ := strconv.ParseFloat(kb, 64)
	return v / 1024
}

// BenchmarkStream reads five million records, and states records in a second of
// processor time, all cores together, less what making them takes, and the
// process's peak of memory:
//
//	go test ./dataset/intake -run XX -bench Stream -benchtime 4x
func BenchmarkStream(b *testing.B) {
	const records = 5_000_000
	rg := testRig(b, 1000)
	from := userSeconds()
	if _, err := io.Copy(io.Discard, struct{ io.Reader }{newEndless(records)}); err != nil {
		b.Fatal(err)
	}
	making := userSeconds() - from
	from = userSeconds()
	samples := 0
	for b.Loop() {
		res, err := Stream(context.Background(), newEndless(records), "log", rg, Options{}, nil, func(sig *dataset.Signal) error {
			samples += sig.Len()
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
		if res.Session.Samples != records {
			b.Fatalf("%d samples, want %d", res.Session.Samples, records)
		}
	}
	used := userSeconds() - from - making*float64(samples)/records
	b.ReportMetric(float64(samples)/used, "records/cpu-s")
	b.ReportMetric(peakMB(), "peak-MB")
}
