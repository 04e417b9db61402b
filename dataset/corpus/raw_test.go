package corpus

import (
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
