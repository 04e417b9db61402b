package corpus

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestDropRaw(t *testing.T) {
	c := newCorpus(t)
	rg := testRig(t, "garage", false)
	addSession(t, c, "monday", rg, 2000, 1)
	s, err := c.Session("monday")
	if err != nil {
		t.Fatal(err)
	}
	stray, _, err := c.KeepRaw(t.Context(), noise(1000))
	if err != nil {
		t.Fatal(err)
	}
	for _, sha := range []string{s.LogSHA256, stray, strings.Repeat("0", 64)} {
		if err := c.DropRaw(t.Context(), sha); err != nil {
			t.Fatalf("DropRaw(%s): %v", sha, err)
		}
	}
	if !c.HasRaw(s.LogSHA256) {
		t.Error("the log of a session was dropped")
	}
	if c.HasRaw(stray) {
		t.Error("a log without session stayed")
	}
	requireProblems(t, c)
}

// A log that is given up leaves nothing behind, one that is kept comes back as
// it was, and one that was kept before is left as it is unless it is damaged.
func TestRawWriter(t *testing.T) {
	c := newCorpus(t)
	log := strings.Repeat("1,2,3\n", 100_000)
	write := func() *RawWriter {
		w, err := c.NewRaw(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		for rest := log; rest != ""; {
			n, err := w.Write([]byte(rest[:min(len(rest), 7777)]))
			if err != nil {
				t.Fatal(err)
			}
			rest = rest[n:]
		}
		return w
	}
	w := write()
	for range 2 {
		if err := w.Abort(); err != nil {
			t.Fatal(err)
		}
	}
	if entries, err := os.ReadDir(c.path(rawDir)); err != nil || len(entries) > 0 {
		t.Errorf("a log given up left %v, %v", entries, err)
	}
	if _, err := w.Write([]byte("x")); err == nil {
		t.Error("a log given up goes on")
	}
	for i, wantKept := range []bool{false, true, false} {
		if i == 2 { // damaged meanwhile
			sum, _, err := digestOf(strings.NewReader(log))
			if err != nil {
				t.Fatal(err)
			}
			edit(t, c, rawPath(sum), flip(20))
		}
		w := write()
		sha, n, kept, err := w.Keep(t.Context())
		if err != nil || kept != wantKept || n != int64(len(log)) {
			t.Errorf("round %d: kept already %t, want %t; %d bytes, %v", i, kept, wantKept, n, err)
		}
		if err := w.Abort(); err != nil {
			t.Errorf("Abort after Keep: %v", err)
		}
		if _, _, _, err := w.Keep(t.Context()); err == nil {
			t.Error("a log was kept twice")
		}
		r, err := c.OpenRaw(sha)
		if err != nil {
			t.Fatal(err)
		}
		if back, err := io.ReadAll(r); err != nil || string(back) != log {
			t.Errorf("round %d: %d bytes came back, %v", i, len(back), err)
		}
		r.Close()
	}
	if entries, err := os.ReadDir(c.path(rawDir)); err != nil || len(entries) != 1 {
		t.Errorf("%v is left, %v, want one log", entries, err)
	}
}

// A corpus may lie beside other files, but is not made where parts of one lie.
func TestBesideOtherFiles(t *testing.T) {
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, "videos"), 0o755); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"rig.toml", "log.csv", "videos/one.parquet"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("x"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	c, err := OpenOrCreate(dir)
	if err != nil {
		t.Fatal(err)
	}
	requireProblems(t, c)

	half := t.TempDir()
	if err := os.Mkdir(filepath.Join(half, "samples"), 0o755); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenOrCreate(half); err == nil || !strings.Contains(err.Error(), "holds samples, but no corpus.toml") {
		t.Errorf("a half corpus: error %v, want one that names what it holds", err)
	}
}
