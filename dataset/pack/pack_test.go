package pack

import (
	"bytes"
	"errors"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"
	"pgregory.net/rapid"

	"strikerose/dataset/datasettest"
)

// packed packs bytes in pieces of one size.
func packed(t rapid.TB, b []byte, piece int) []byte {
	t.Helper()
	var out bytes.Buffer
	w, err := NewWriter(&out)
	if err != nil {
		t.Fatal(err)
	}
	for at := 0; at < len(b); at += piece {
		part := b[at:min(len(b), at+piece)]
		if n, err := w.Write(part); err != nil || n != len(part) {
			t.Fatalf("wrote %d bytes: %v", n, err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func unpacked(t rapid.TB, b []byte) []byte {
	t.Helper()
	z, err := zstd.NewReader(bytes.NewReader(b), zstd.WithDecoderConcurrency(1))
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	out, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// logs are of each kind that is packed in its own way, by name.
func logs(t testing.TB) map[string][]byte {
	t.Helper()
	recording := func(name string) []byte {
		b, err := os.ReadFile(filepath.Join(datasettest.Root(t), "testdata", "recordings", name))
		if err != nil {
			t.Fatal(err)
		}
		return unpacked(t, b)
	}
	rnd := rand.New(rand.NewPCG(1, 2))
	noise := make([]byte, 300_000)
	for i := range noise {
		noise[i] = byte(rnd.Uint32())
	}
	lines := []byte(strings.Repeat(`{"t":127043604,"a":[-26,11,1976],"g":[15,-13,-15]}`+"\n", 40_000))
	digits := recording("monday.csv.zst")
	return map[string][]byte{
		"nothing":                             nil,
		"one byte":                            {7},
		"eleven bytes":                        []byte("01234567890"),
		"one byte over and over":              bytes.Repeat([]byte{0}, 2*blockBytes+1),
		"noise":                               noise,
		"repeats":                             lines,
		"columns of digits":                   digits,
		"frames":                              recording("friday.bin.zst"),
		"digits, then repeats over a stretch": append(append(bytes.Repeat(digits, 1+huffmanBytes/len(digits)), lines...), digits...),
		"a stretch to the byte":               bytes.Repeat([]byte("1,2,30\n9"), repeatsBytes/8),
	}
}

// TestComesBack holds that what was packed comes back, whatever pieces it was
// written in, which leave no trace.
func TestComesBack(t *testing.T) {
	for name, b := range logs(t) {
		got := packed(t, b, 32<<10)
		if !bytes.Equal(unpacked(t, got), b) {
			t.Errorf("%s: another log came back", name)
		}
		for _, piece := range []int{blockBytes, 77_777, len(b) + 1} {
			if !bytes.Equal(packed(t, b, piece), got) {
				t.Errorf("%s: pieces of %d bytes leave a trace", name, piece)
			}
		}
	}
}

// TestOthersUnpack holds that another reader of zstd gives the same bytes.
func TestOthersUnpack(t *testing.T) {
	program := datasettest.RequireTool(t, "zstd", "apt-get install zstd")
	for name, b := range logs(t) {
		cmd := exec.Command(program, "-dc")
		cmd.Stdin = bytes.NewReader(packed(t, b, blockBytes))
		out, err := cmd.Output()
		if err != nil || !bytes.Equal(out, b) {
			t.Errorf("%s: zstd gives %d bytes of %d: %v", name, len(out), len(b), err)
		}
	}
}

// searched packs bytes with a search for repeats throughout.
func searched(to io.Writer) (io.WriteCloser, error) {
	return zstd.NewWriter(to, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(1))
}

// TestSizes holds that no log takes more room than was agreed to, against a
// search for repeats throughout, but for the headers.
func TestSizes(t *testing.T) {
	for name, b := range logs(t) {
		var out bytes.Buffer
		z, err := searched(&out)
		if err != nil {
			t.Fatal(err)
		}
		_, err = z.Write(b)
		if err := errors.Join(err, z.Close()); err != nil {
			t.Fatal(err)
		}
		got, want := len(packed(t, b, blockBytes)), out.Len()
		if most := worthBytes*float64(want)*1.02 + 64; float64(got) > most {
			t.Errorf("%s: %d bytes take %d, %d with repeats", name, len(b), got, want)
		}
	}
}

// TestWriteFails holds that an error of the writer below is not forgotten.
func TestWriteFails(t *testing.T) {
	full := errors.New("disk full")
	w, err := NewWriter(failing{full})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Write(make([]byte, 3*blockBytes)); !errors.Is(err, full) {
		t.Errorf("Write says %v", err)
	}
	if err := w.Close(); !errors.Is(err, full) {
		t.Errorf("Close says %v", err)
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

// TestClosed holds that nothing is written after Close.
func TestClosed(t *testing.T) {
	var out bytes.Buffer
	w, err := NewWriter(&out)
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	n := out.Len()
	if _, err := w.Write([]byte("1")); err == nil || out.Len() > n {
		t.Error("written after Close")
	}
}

// TestAnyBytes holds that any bytes come back.
func TestAnyBytes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SliceOfN(rapid.Byte(), 1, 200).Draw(t, "bytes")
		b := bytes.Repeat(unit, rapid.IntRange(0, 3000).Draw(t, "times"))
		seed := rapid.Uint64().Draw(t, "seed")
		rnd := rand.New(rand.NewPCG(seed, 1))
		for range rapid.IntRange(0, len(b)).Draw(t, "changed") {
			b[rnd.IntN(len(b))] = byte(rnd.Uint32())
		}
		piece := rapid.IntRange(1000, 300_000).Draw(t, "piece")
		if !bytes.Equal(unpacked(t, packed(t, b, piece)), b) {
			t.Fatal("other bytes came back")
		}
	})
}

func BenchmarkPack(b *testing.B) {
	for name, log := range logs(b) {
		if len(log) < blockBytes {
			continue
		}
		for _, w := range []struct {
			name string
			new  func(io.Writer) (io.WriteCloser, error)
		}{
			{"this", func(to io.Writer) (io.WriteCloser, error) { return NewWriter(to) }},
			{"searched", searched},
		} {
			b.Run(strings.ReplaceAll(name, " ", "_")+"/"+w.name, func(b *testing.B) {
				b.SetBytes(int64(len(log)))
				var out bytes.Buffer
				for b.Loop() {
					out.Reset()
					z, err := w.new(&out)
					if err != nil {
						b.Fatal(err)
					}
					_, err = z.Write(log)
					if err := errors.Join(err, z.Close()); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64(out.Len())/float64(len(log)), "share")
			})
		}
	}
}
