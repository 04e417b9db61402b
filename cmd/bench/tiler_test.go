package main

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/dataset/simulate"
	"strikerose/features/chain"
	"strikerose/testdata/recordings"
)

// hall is the rig of the committed recordings.
func hall(t *testing.T) *rig.Rig {
	t.Helper()
	text, err := recordings.Files.ReadFile("hall.toml")
	if err != nil {
		t.Fatal(err)
	}
	r, err := rig.Parse(text, "hall.toml")
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// logOf simulates a log that ends at rest.
func logOf(t *testing.T, r *rig.Rig, dialect string, strikes int, change func(*simulate.Options)) []byte {
	t.Helper()
	o := simulate.Usual(r, strikes, 3)
	o.TailS = 20
	if change != nil {
		change(&o)
	}
	s, err := simulate.NewSession(o)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := simulate.WriteLog(&b, dialect, s); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func tilerFor(t *testing.T, r *rig.Rig, dialect string, log []byte) *tiler {
	t.Helper()
	layout, err := r.Log.Frame.Parse()
	if err != nil {
		t.Fatal(err)
	}
	x, err := newTiler(log, dialect, &layout)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// repeat writes a log so many times.
func repeat(t *testing.T, x *tiler, times int) []byte {
	t.Helper()
	var b bytes.Buffer
	done, err := x.write(t.Context(), &b, 0, int64(times*len(x.pieces)))
	if err != nil {
		t.Fatal(err)
	}
	if done.Repetitions != times || done.Bytes != int64(b.Len()) {
		t.Errorf("%+v for %d repetitions of %d bytes", done, times, b.Len())
	}
	return b.Bytes()
}

func imported(t *testing.T, r *rig.Rig, log []byte) *intake.Result {
	t.Helper()
	res, err := intake.Read(t.Context(), bytes.NewReader(log), "tiled", r, intake.Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

func strikesIn(t *testing.T, r *rig.Rig, sig *dataset.Signal) int {
	t.Helper()
	windows, err := chain.Run(t.Context(), r, sig, chain.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return len(windows)
}

// In every dialect a log repeated three times reads as one recording three times as
// long, with three times the strikes, across the wrap of the counter.
func TestTiledLogIsOneRecording(t *testing.T) {
	r := hall(t)
	const times = 3
	for _, dialect := range simulate.Dialects() {
		log := logOf(t, r, dialect, 6, nil)
		one := imported(t, r, log)
		all := imported(t, r, repeat(t, tilerFor(t, r, dialect, log), times))
		a, b := one.Session, all.Session
		if b.Samples != times*a.Samples || b.Segments != 1 || b.Restarts != 0 || b.DamagedRecords != 0 || b.LostSamples != times*a.LostSamples {
			t.Errorf("%s: %d samples in %d segments, %d restarts, %d damaged, %d lost; once %d samples, %d lost",
				dialect, b.Samples, b.Segments, b.Restarts, b.DamagedRecords, b.LostSamples, a.Samples, a.LostSamples)
		}
		if want := times*a.DurationS + (times-1)/a.RateHz; b.DurationS < want-0.01 || b.DurationS > want+0.01 {
			t.Errorf("%s: %g s, want %g", dialect, b.DurationS, want)
		}
		found, want := strikesIn(t, r, &all.Signal), times*strikesIn(t, r, &one.Signal)
		if found != want || want < 3*times {
			t.Errorf("%s: %d strikes, want %d", dialect, found, want)
		}
	}
}

// A recording with restarts and damage is repeated with both.
func TestTiledLogKeepsFaults(t *testing.T) {
	r := hall(t)
	const times = 3
	for _, dialect := range simulate.Dialects() {
		log := logOf(t, r, dialect, 10, func(o *simulate.Options) { o.Board.BrownOutsPerMin = 3 })
		for _, at := range []int{len(log) / 7, len(log) / 3, len(log) / 2} { // no more than three records
			copy(log[at:], "#?!")
		}
		one := imported(t, r, log).Session
		all := imported(t, r, repeat(t, tilerFor(t, r, dialect, log), times)).Session
		if one.Restarts < 1 || one.DamagedRecords < 3 {
			t.Fatalf("%s: the recording has %d restarts and %d damaged records", dialect, one.Restarts, one.DamagedRecords)
		}
		if all.Restarts != times*one.Restarts || all.DamagedRecords != times*one.DamagedRecords || all.Samples != times*one.Samples {
			t.Errorf("%s: %d restarts, %d damaged, %d samples, want %d times %d, %d and %d",
				dialect, all.Restarts, all.DamagedRecords, all.Samples, times, one.Restarts, one.DamagedRecords, one.Samples)
		}
	}
}

// The committed recordings, one with a wrap and one with damaged frames and a
// restart, keep their bytes in the first repetition, and the others differ in stamps
// alone.
func TestTiledBytes(t *testing.T) {
	r := hall(t)
	for name, dialect := range map[string]string{"monday.csv.zst": "counts-csv", "friday.bin.zst": "frames"} {
		log, err := readPlain("../../testdata/recordings/"+name, 1<<30)
		if err != nil {
			t.Fatal(err)
		}
		if got := dialectOf(log); got != dialect {
			t.Errorf("%s: taken for %s", name, got)
		}
		x := tilerFor(t, r, dialect, log)
		all := repeat(t, x, 2)
		if !bytes.HasPrefix(all, log[:x.pieces[len(x.pieces)-1].past]) {
			t.Errorf("%s: the first repetition is another log", name)
		}
		y := tilerFor(t, r, dialect, all)
		if len(y.pieces) != 2*len(x.pieces) {
			t.Fatalf("%s: %d records in twice %d", name, len(y.pieces), len(x.pieces))
		}
		for i, p := range x.pieces {
			q := y.pieces[len(x.pieces)+i]
			end, end2 := p.past+4, q.past+4 // what follows a stamp, some bytes of it
			if !bytes.Equal(log[p.past:end], all[q.past:end2]) {
				t.Fatalf("%s: record %d: %q follows the stamp where %q did", name, i, all[q.past:end2], log[p.past:end])
			}
			if p.good != q.good {
				t.Fatalf("%s: record %d: its stamp fits %t, and when repeated %t", name, i, p.good, q.good)
			}
		}
	}
}

func TestTextStamps(t *testing.T) {
	for _, c := range []struct{ name, dialect, log, want string }{
		{"a counter wraps", "counts-csv", "t_us,ax,ay,az\n4294965296,1,2,3\n4294966296,1,2,4\n",
			"t_us,ax,ay,az\n4294965296,1,2,3\n4294966296,1,2,4\n0,1,2,3\n1000,1,2,4\n"},
		{"milliseconds go on", "console", "*** boot\nt:9 ax:1\nt:10 ax:2\n", "*** boot\nt:9 ax:1\nt:10 ax:2\nt:11 ax:1\nt:12 ax:2\n"},
		{"decimals and line ends stay", "units-csv", "time_ms,ax_g\r\n8.75,1\r\n10.00,2\r\n", "time_ms,ax_g\r\n8.75,1\r\n10.00,2\r\n11.25,1\r\n12.50,2\r\n"},
		{"a cut line stays, and so does what has no stamp", "jsonl", "{\"boot\":1}\n{\"t\":1000,\"a\":[1,2,3]}\nnoise\n{\"t\":2000,\"a\":[1", "{\"boot\":1}\n{\"t\":1000,\"a\":[1,2,3]}\nnoise\n{\"t\":2000,\"a\":[1\n{\"t\":3000,\"a\":[1,2,3]}\nnoise\n{\"t\":4000,\"a\":[1\n"},
	} {
		x, err := newTiler([]byte(c.log), c.dialect, nil)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if got := string(repeat(t, x, 2)); got != c.want {
			t.Errorf("%s:\n%q\nwant\n%q", c.name, got, c.want)
		}
	}
}

func TestTilerRefuses(t *testing.T) {
	for _, c := range []struct{ dialect, log, says string }{
		{"counts-csv", "nothing\n", "no two records"},
		{"morse", "t:1\n", `"morse" is not known`},
		{"frames", "\xa5\x5a", "--rig"},
	} {
		if _, err := newTiler([]byte(c.log), c.dialect, nil); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", c.dialect, err, c.says)
		}
	}
}

// Writing stops at the size asked for, at a record's end, and when interrupted.
func TestTilerStops(t *testing.T) {
	x := tilerFor(t, hall(t), "counts-csv", []byte("t_us,ax,ay,az\n1000,1,2,3\n2000,1,2,4\n"))
	var b bytes.Buffer
	if _, err := x.write(t.Context(), &b, 5_000_000, 0); err != nil || b.Len() < 5_000_000 || b.Len() > 5_000_020 || !strings.HasSuffix(b.String(), "\n") {
		t.Errorf("%d bytes, %v", b.Len(), err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if done, err := x.write(ctx, &b, 5_000_000, 0); err != context.Canceled || done.Bytes != 0 {
		t.Errorf("%+v, %v", done, err)
	}
}
