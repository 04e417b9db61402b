package corpus

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A log that no session will be made of is dropped, unless somebody may need it.
func TestDropLog(t *testing.T) {
	c := newCorpus(t)
	addSession(t, c, "monday", testRig(t, "garage", false), 2000, 1)
	write := func(log io.Reader) *RawWriter {
		w, err := c.NewRaw(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.Copy(w, log); err != nil {
			t.Fatal(err)
		}
		return w
	}
	keep := func(w *RawWriter) string {
		sha, _, err := w.Keep(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return sha
	}
	drop := func(w *RawWriter) {
		if err := w.Drop(t.Context()); err != nil {
			t.Fatal(err)
		}
	}

	stray := write(noise(1000))
	sha := keep(stray)
	drop(stray)
	if hasLog(c, sha) {
		t.Error("a log without session stayed")
	}

	one, other := write(noise(1000)), write(noise(1000))
	keep(one)
	keep(other) // finds it there
	drop(one)
	if !hasLog(c, sha) {
		t.Fatal("a log was dropped that another writer had found there")
	}
	drop(other)
	if !hasLog(c, sha) {
		t.Error("a log was dropped that had been kept before")
	}

	s, err := c.Session("monday")
	if err != nil {
		t.Fatal(err)
	}
	edit(t, c, rawPath(s.LogSHA256), flip(20)) // so that it is kept anew
	again := write(logOf("monday"))
	if keep(again); again.kept != s.LogSHA256 {
		t.Fatalf("kept %q, want the session's log %s", again.kept, s.LogSHA256)
	}
	drop(again)
	if !hasLog(c, s.LogSHA256) {
		t.Error("the log of a session was dropped")
	}
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
	for i := range 3 {
		if i == 2 { // damaged meanwhile
			sum, _, err := digestOf(strings.NewReader(log))
			if err != nil {
				t.Fatal(err)
			}
			edit(t, c, rawPath(sum), flip(20))
		}
		w := write()
		if i == 0 { // beside other work
			if err := errors.Join(w.Settle(), w.Settle()); err != nil {
				t.Error(err)
			}
			if _, err := w.Write([]byte("x")); err == nil {
				t.Error("a settled log goes on")
			}
		}
		sha, n, err := w.Keep(t.Context())
		if before := w.kept == ""; err != nil || before != (i == 1) || n != int64(len(log)) {
			t.Errorf("round %d: kept before %t, want %t; %d bytes, %v", i, before, i == 1, n, err)
		}
		if err := w.Abort(); err != nil {
			t.Errorf("Abort after Keep: %v", err)
		}
		if _, _, err := w.Keep(t.Context()); err == nil {
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
