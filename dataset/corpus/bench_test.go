package corpus

import (
	"fmt"
	"testing"
)

func BenchmarkSamplesWrite(b *testing.B) {
	for _, gyro := range []bool{true, false} {
		b.Run(fmt.Sprintf("gyro=%t", gyro), func(b *testing.B) {
			const n = 600_000 // ten minutes at 1000 Hz
			s, sig := testSignal("s", testRig(b, "garage", gyro), n, 1)
			var size int
			for b.Loop() {
				file, err := encodeSamples(b.Context(), &s, sig)
				if err != nil {
					b.Fatal(err)
				}
				size = len(file)
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "samples/s")
			b.ReportMetric(float64(size)/n, "bytes/sample")
		})
	}
}

func BenchmarkSamplesRead(b *testing.B) {
	for _, gyro := range []bool{true, false} {
		b.Run(fmt.Sprintf("gyro=%t", gyro), func(b *testing.B) {
			const n = 600_000
			s, sig := testSignal("s", testRig(b, "garage", gyro), n, 1)
			file, err := encodeSamples(b.Context(), &s, sig)
			if err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				if _, err := decodeSamples(b.Context(), file); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "samples/s")
		})
	}
}

// BenchmarkOpen opens a corpus of 1000 sessions as a command does that wants
// one of them, and as one that lists all.
func BenchmarkOpen(b *testing.B) {
	c := manySessions(b, 1000)
	b.Run("one", func(b *testing.B) {
		for b.Loop() {
			fresh, err := Open(c.Dir())
			if err != nil {
				b.Fatal(err)
			}
			if _, err := fresh.Session("s500"); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("all", func(b *testing.B) {
		for b.Loop() {
			fresh, err := Open(c.Dir())
			if err != nil {
				b.Fatal(err)
			}
			if rows, err := fresh.Sessions(); err != nil || len(rows) != 1000 {
				b.Fatal(len(rows), err)
			}
		}
	})
}
