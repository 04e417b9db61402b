package intake

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"testing"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"strikerose/dataset"
)

func withoutGyro(s *dataset.Signal) *dataset.Signal {
	c := *s
	c.G = [3][]float32{}
	return &c
}

func TestRoundTrip(t *testing.T) {
	for _, rate := range []float64{400, 1000, 1600} {
		rg := testRig(t, rate)
		sig := testSignal(6000, rate, 4294000000, 7) // wraps within the first second
		for _, d := range allDialects() {
			for _, s := range []*dataset.Signal{sig, withoutGyro(sig)} {
				if d == "frames" && !s.HasGyro() {
					continue // the layout says
				}
				res := mustRead(t, encode(d, s), rg, Options{})
				tol := 1e5 * 1.0 // 0.1 ms
				if d == "console" {
					tol = 1e6 // whole milliseconds; at 1000 Hz they do not tell the phase
				}
				same(t, d, &res.Signal, *s, tol)
				if got := res.Session; got.Dialect != d || got.Wraps != 1 || got.LostSamples != 0 || got.Restarts != 0 || got.DamagedRecords != 0 || got.Segments != 1 {
					t.Errorf("%s at %g Hz: session %+v", d, rate, got)
				}
				for i, raw := range res.Signal.TRaw {
					want := int64(uint32(s.TRaw[i]))
					if d == "console" {
						want /= 1000
					} else if d == "units-csv" {
						want = (want + 5) / 10 * 10
					}
					if diff := raw - want; diff > 10 || diff < -10 {
						t.Fatalf("%s: t_raw %d of sample %d, want %d", d, raw, i, want)
					}
				}
			}
		}
	}
}

func TestCompression(t *testing.T) {
	rg := testRig(t, 1000)
	sig := testSignal(30000, 1000, 12345, 3)
	plain := encode("counts-csv", sig)
	pack := func(b []byte) []byte {
		var z bytes.Buffer
		w := gzip.NewWriter(&z)
		w.Write(b)
		w.Close()
		return z.Bytes()
	}
	half := bytes.IndexByte(plain[len(plain)/2:], '\n') + len(plain)/2 + 1
	enc, err := zstd.NewWriter(nil)
	if err != nil {
		t.Fatal(err)
	}
	whole := pack(plain)
	for _, c := range []struct {
		name, kind string
		log        []byte
	}{
		{"plain", "", plain},
		{"gzip", "gzip", whole},
		{"two gzip members", "gzip", append(pack(plain[:half]), pack(plain[half:])...)},
		{"zstd", "zstd", enc.EncodeAll(plain, nil)},
	} {
		res := mustRead(t, c.log, rg, Options{})
		same(t, "counts-csv", &res.Signal, *sig, 1e4)
		sum := sha256.Sum256(c.log)
		if s := res.Session; s.Compression != c.kind || s.LogSHA256 != hex.EncodeToString(sum[:]) || s.LogBytes != int64(len(c.log)) || s.LogName != "log.x" {
			t.Errorf("%s: session %+v", c.name, s)
		}
	}
	hashed := &hashedLog{Reader: bytes.NewReader(whole)}
	res, err := Read(t.Context(), hashed, "log.x", rg, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if s := res.Session; s.LogSHA256 != "its own" || s.LogBytes != int64(len(whole)) || hashed.Len() > 0 {
		t.Errorf("a log that is hashed elsewhere: %d bytes left, session %+v", hashed.Len(), s)
	}
	for name, log := range map[string][]byte{
		"gzip":       whole[:len(whole)*2/3],
		"zstd":       enc.EncodeAll(plain, nil)[:len(enc.EncodeAll(plain, nil))*2/3],
		"gzip, tail": append(append([]byte(nil), whole...), "rubbish at the end"...),
	} {
		res := mustRead(t, log, rg, Options{})
		n := res.Signal.Len()
		if n < 500 || name != "gzip, tail" && n > 29999 {
			t.Errorf("%s: %d samples of a cut log", name, n)
		}
		same(t, "counts-csv", &res.Signal, sig.Slice(0, n), 1e5)
		if len(res.Notes) == 0 || !strings.Contains(strings.Join(res.Notes, " "), "compressed stream") {
			t.Errorf("%s: notes %q do not say that the log was cut short", name, res.Notes)
		}
		if s := res.Session; s.LogBytes != int64(len(log)) {
			t.Errorf("%s: %d bytes counted, want %d", name, s.LogBytes, len(log))
		}
	}
	refused(t, whole[:5], rg, Options{}, "gzip header", "again")

	// A checksum that fails at the end says nothing of where the damage is.
	wrong := append([]byte(nil), whole...)
	wrong[len(wrong)-8] ^= 1
	res = mustRead(t, wrong, rg, Options{})
	if notes := strings.Join(res.Notes, " "); !strings.Contains(notes, "may be wrong") {
		t.Errorf("notes %q of a log whose checksum fails do not warn of wrong readings", notes)
	}
}

func TestEndlessLineOnly(t *testing.T) {
	refused(t, bytes.Repeat([]byte("7"), 3_000_000), testRig(t, 1000), Options{}, "nothing but endless lines")
}

func TestStillOfShortLog(t *testing.T) {
	res := mustRead(t, encode("counts-csv", testSignal(20, 1000, 0, 3)), testRig(t, 1000), Options{})
	if s := res.Session; s.StillS > s.DurationS {
		t.Errorf("%g s still in a log of %g s", s.StillS, s.DurationS)
	}
}

type counter struct{ n int64 }

func (c *counter) Add(n int64) { c.n += n }

func TestProgressAndCancel(t *testing.T) {
	rg := testRig(t, 1000)
	log := encode("counts-csv", testSignal(5000, 1000, 0, 3))
	var c counter
	if _, err := Read(context.Background(), bytes.NewReader(log), "x", rg, Options{}, &c); err != nil || c.n != int64(len(log)) {
		t.Errorf("progress %d of %d bytes, error %v", c.n, len(log), err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Read(ctx, bytes.NewReader(log), "x", rg, Options{}, nil); err != context.Canceled {
		t.Errorf("cancelled read returned %v", err)
	}
}

// hashedLog says its SHA-256 itself.
type hashedLog struct{ *bytes.Reader }

func (*hashedLog) SHA256() string { return "its own" }
