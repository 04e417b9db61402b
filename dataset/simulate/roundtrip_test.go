package simulate_test

import (
	"bytes"
	"context"
	"math"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/dataset/simulate"
)

// framed is the common rig with a layout of binary frames.
func framed(t testing.TB) *rig.Rig {
	r := datasettest.Rig(t)
	r.Log.Frame = &rig.Frame{
		Magic:    "a55a",
		Fields:   []string{"u32le t", "u8 number", "i16be ax", "i16le ay", "f32le az", "i16le gx", "i24le gy", "i16le gz"},
		Checksum: "crc16-ccitt-false",
	}
	return r
}

// What is written in a dialect is read back: every sample, to what the dialect
// prints, the clock with its wraps, losses and restarts.
func TestRoundTrip(t *testing.T) {
	for name, board := range map[string]simulate.Board{
		"wrap":      simulate.UsualBoard(),
		"losses":    {StartMicros: 77, LossesPerMin: 30, LongestLoss: 20, StampJitterS: 20e-6},
		"brown-out": {StartMicros: 500_000_000, BrownOutsPerMin: 20, RateError: -0.003},
	} {
		for _, gyro := range []bool{true, false} {
			if !gyro && name != "wrap" {
				continue
			}
			r := framed(t)
			o := simulate.Usual(r, 4, 11)
			o.LeadS, o.TailS = 6, 6 // room for brown-outs
			o.Board, o.Sensor.NoGyro = board, !gyro
			if !gyro {
				r.Log.Frame.Fields = r.Log.Frame.Fields[:5]
			}
			s := session(t, o)
			want := s.Signal()
			restarts, segments := 0, len(want.Segments())
			if err := s.Each(func(x simulate.Sample) error {
				if x.Restart {
					restarts++
				}
				return nil
			}); err != nil {
				t.Fatal(err)
			}
			if name == "brown-out" && restarts == 0 || name == "losses" && segments < 2 {
				t.Fatalf("%s: %d restarts, %d segments: nothing to see", name, restarts, segments)
			}
			for _, d := range simulate.Dialects() {
				var b bytes.Buffer
				if err := simulate.WriteLog(&b, d, s); err != nil {
					t.Fatal(err)
				}
				got, err := intake.Read(context.Background(), &b, "log", r, intake.Options{}, nil)
				if err != nil {
					t.Errorf("%s, %s: %v", name, d, err)
					continue
				}
				if g := got.Session; g.Dialect != d || g.Restarts != restarts || g.DamagedRecords != 0 || g.Segments != segments {
					t.Errorf("%s, %s: read as %s, %d restarts, %d segments, %d damaged records, want %d, %d and 0",
						name, d, g.Dialect, g.Restarts, g.Segments, g.DamagedRecords, restarts, segments)
				}
				sameReadings(t, name+", "+d, &got.Signal, want)
			}
		}
	}
}

func sameReadings(t *testing.T, what string, got, want *dataset.Signal) {
	t.Helper()
	if got.Len() != want.Len() || got.HasGyro() != want.HasGyro() {
		t.Errorf("%s: %d samples, gyroscope %v, want %d, %v", what, got.Len(), got.HasGyro(), want.Len(), want.HasGyro())
		return
	}
	for i := range got.Len() {
		a, b := got.At(i), want.At(i)
		for k := range 3 {
			if math.Abs(a.A[k]-b.A[k]) > 1e-4 || math.Abs(a.G[k]-b.G[k]) > bearing.Rad(1e-3) {
				t.Errorf("%s: sample %d reads %v, %v, want %v, %v", what, i, a.A, a.G, b.A, b.G)
				return
			}
		}
	}
}

// A rig that states its units has them in the log.
func TestRoundTripOfStatedUnits(t *testing.T) {
	r := framed(t)
	r.Log.TimeUnit, r.Log.AccelUnit, r.Log.GyroUnit = "us", "mg", "rad/s"
	r.Log.Frame.Fields = []string{"u64be t", "f32le ax", "f32le ay", "f64be az", "f32le gx", "f32le gy", "f32le gz"}
	r.Log.Frame.Checksum = "sum8"
	o := simulate.Usual(r, 2, 1)
	s := session(t, o)
	want := s.Signal()
	for _, d := range []string{"frames", "jsonl"} {
		var b bytes.Buffer
		if err := simulate.WriteLog(&b, d, s); err != nil {
			t.Fatal(err)
		}
		got, err := intake.Read(context.Background(), &b, "log", r, intake.Options{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if got.Session.Dialect != d {
			t.Errorf("%s is read as %s", d, got.Session.Dialect)
		}
		sameReadings(t, d, &got.Signal, want)
	}
}
