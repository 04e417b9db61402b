package corpus

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"testing"

	"github.com/klauspost/compress/zstd"
)

// TestFrames: what is written comes back, is smaller where it can be, and is
// the same bytes however it came.
func TestFrames(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	var csv, lines, raw, mixed bytes.Buffer
	for i := 0; csv.Len() < 2_500_000; i++ {
		fmt.Fprintf(&csv, "%d,%d,%d,%d\n", i*1000+rng.IntN(9), rng.IntN(200)-100, rng.IntN(200)-100, 2048+rng.IntN(50))
	}
	for i := 0; lines.Len() < 2_500_000; i++ {
		fmt.Fprintf(&lines, `{"t_us":%d,"accel":{"x":%d,"y":%d,"z":%d}}`+"\n", i*1000, rng.IntN(200)-100, rng.IntN(200)-100, 2048+rng.IntN(50))
	}
	for raw.Len() < 1_500_000 {
		raw.WriteByte(byte(rng.Uint64()))
	}
	mixed.Write(make([]byte, 3<<20))
	mixed.Write(raw.Bytes())
	for name, tc := range map[string]struct {
		content []byte
		most    float64 // of its size
	}{
		"nothing":          {nil, 0},
		"a byte":           {[]byte("x"), 20},
		"one frame":        {csv.Bytes()[:frameBytes], 0.5},
		"one frame and on": {csv.Bytes()[:frameBytes+1], 0.5},
		"csv":              {csv.Bytes(), 0.5},
		"json lines":       {lines.Bytes(), 0.35},
		"noise":            {raw.Bytes(), 1.001},
		"zeros and noise":  {mixed.Bytes(), 0.4},
	} {
		var first []byte
		for round, step := range []int{1 << 30, frameBytes, 100_001, 4096} {
			var out bytes.Buffer
			w, err := newFrameWriter(&out)
			if err != nil {
				t.Fatal(err)
			}
			for rest := tc.content; len(rest) > 0; {
				n, err := w.Write(rest[:min(step, len(rest))])
				if err != nil {
					t.Fatal(err)
				}
				rest = rest[n:]
			}
			if err := w.Close(); err != nil {
				t.Fatal(err)
			}
			if round == 0 {
				first = out.Bytes()
			} else if !bytes.Equal(first, out.Bytes()) {
				t.Errorf("%s: pieces of %d bytes give another file", name, step)
			}
		}
		z, err := zstd.NewReader(bytes.NewReader(first))
		if err != nil {
			t.Fatal(err)
		}
		back, err := io.ReadAll(z)
		z.Close()
		if err != nil || !bytes.Equal(back, tc.content) {
			t.Errorf("%s: %d bytes came back of %d: %v", name, len(back), len(tc.content), err)
		}
		if len(first) > int(tc.most*float64(len(tc.content))) {
			t.Errorf("%s: %d bytes for %d, want at most %g of it", name, len(first), len(tc.content), tc.most)
		}
	}
}

type fullAfter struct{ left int }

var errFull = errors.New("full")

func (f *fullAfter) Write(p []byte) (int, error) {
	if f.left -= len(p); f.left < 0 {
		return 0, errFull
	}
	return len(p), nil
}

// An error of writing is told once it is known, and again at the end.
func TestFramesFull(t *testing.T) {
	w, err := newFrameWriter(&fullAfter{left: 10})
	if err != nil {
		t.Fatal(err)
	}
	told := false
	for range 5 {
		if _, err := w.Write(bytes.Repeat([]byte("0123456789"), frameBytes/10)); err != nil {
			told = errors.Is(err, errFull)
		}
	}
	if err := w.Close(); !errors.Is(err, errFull) || !told {
		t.Errorf("closing gave %v, want %v; told before: %t", err, errFull, told)
	}
}

// TestLiterals: frames of every length and kind of content come back.
func TestLiterals(t *testing.T) {
	z, err := zstd.NewReader(nil)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	rng := rand.New(rand.NewPCG(1, 1))
	var l literals
	for _, n := range []int{0, 1, 2, 1023, 1024, 1025, 16383, 16384, blockBytes - 1, blockBytes, blockBytes + 1, 3*blockBytes + 7} {
		for kind, content := range map[string]func() byte{
			"one value": func() byte { return 7 },
			"two":       func() byte { return byte(rng.IntN(2)) },
			"few":       func() byte { return byte(rng.ExpFloat64() * 3) },
			"all":       func() byte { return byte(rng.Uint64()) },
		} {
			src := make([]byte, n)
			for i := range src {
				src[i] = content()
			}
			frame, err := l.appendFrame([]byte("before"), src)
			if err != nil {
				t.Fatalf("%d of %s: %v", n, kind, err)
			}
			back, err := z.DecodeAll(bytes.TrimPrefix(frame, []byte("before")), nil)
			if err != nil || !bytes.Equal(back, src) {
				t.Errorf("%d of %s: %d bytes came back: %v", n, kind, len(back), err)
			}
			if len(frame) > len("before")+9+n+3*(1+n/blockBytes) {
				t.Errorf("%d of %s: frame of %d bytes", n, kind, len(frame))
			}
		}
	}
}
