package intake

import (
	"bytes"
	"context"
	"io"
	"runtime"
	"strings"
	"testing"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"strikerose/dataset"
)

// packZstd packs a head and then a text many times over.
func packZstd(t *testing.T, head, text string, times int, options ...zstd.EOption) []byte {
	t.Helper()
	var b bytes.Buffer
	w, err := zstd.NewWriter(&b, append(options, zstd.WithEncoderConcurrency(1), zstd.WithEncoderLevel(zstd.SpeedFastest))...)
	if err != nil {
		t.Fatal(err)
	}
	pack(t, w, head, text, times)
	return b.Bytes()
}

func packGzip(t *testing.T, head, text string, times int) []byte {
	t.Helper()
	var b bytes.Buffer
	w, err := gzip.NewWriterLevel(&b, gzip.BestSpeed)
	if err != nil {
		t.Fatal(err)
	}
	pack(t, w, head, text, times)
	return b.Bytes()
}

func pack(t *testing.T, w io.WriteCloser, head, text string, times int) {
	t.Helper()
	if _, err := io.WriteString(w, head); err != nil {
		t.Fatal(err)
	}
	for range times {
		if _, err := io.WriteString(w, text); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestBombs: what unpacks to far more than a recording is refused after little
// of it, in little memory.
func TestBombs(t *testing.T) {
	good := string(encode("counts-csv", testSignal(2000, 1000, 0, 9)))
	last := good[strings.LastIndex(strings.TrimSuffix(good, "\n"), "\n")+1:]
	zeros := strings.Repeat("\x00", 1<<20)
	for name, c := range map[string]struct {
		log  []byte
		want string
	}{
		"zeros":                 {packZstd(t, "", zeros, 256), ""},
		"an endless line":       {packZstd(t, good, strings.Repeat("1,", 1<<19), 256), "unpack to more than 1000 times"},
		"the same line":         {packZstd(t, good, strings.Repeat(last, 1<<14), 600), "do not advance"},
		"gzip, endless line":    {packGzip(t, good, zeros, 256), ""}, // at most 1032 times
		"packed twice":          {packZstd(t, "", string(packZstd(t, good, zeros, 256)), 1), "no records"},
		"a window of gigabytes": {[]byte("\x28\xb5\x2f\xfd\x00\xa8\x09\x00\x00abc"), "looks back further than 128 MB"},
		"an archive":            {[]byte("PK\x03\x04" + last), "zip archive: unpack it"},
		"a stated size of 2^64": {[]byte("\x28\xb5\x2f\xfd\xe0\xff\xff\xff\xff\xff\xff\xff\x7f\x09\x00\x00abc"), "exceeds configured limit"},
	} {
		t.Run(name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, err := Stream(context.Background(), bytes.NewReader(c.log), "log", testRig(t, 1000), Options{}, nil, func(*dataset.Signal) error { return nil })
			runtime.ReadMemStats(&after)
			if c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
				t.Errorf("%d bytes: %v, want an error with %q", len(c.log), err, c.want)
			}
			if mb := (after.Sys - before.Sys) >> 20; mb > 200 {
				t.Errorf("%d MB of memory taken", mb)
			}
		})
	}
}
