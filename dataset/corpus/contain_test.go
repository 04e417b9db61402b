package corpus

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/dataset"
)

// linked puts a link in the place of a file or folder of a corpus.
func linked(t *testing.T, c *Corpus, rel, to string) {
	t.Helper()
	if err := errors.Join(os.RemoveAll(c.path(rel)), os.MkdirAll(filepath.Dir(c.path(rel)), 0o755)); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(to, c.path(rel)); err != nil {
		t.Skipf("links cannot be made here: %v", err)
	}
}

// use does what commands do to a session of a corpus.
func use(t *testing.T, dir string) (err error) {
	c, err := Open(dir)
	if err != nil {
		return err
	}
	session, errSession := c.Session("monday")
	_, errRig := c.Rig("garage-r1")
	errSamples := c.EachChunk(t.Context(), "monday", func(*dataset.Signal) error { return nil })
	_, _, errStrikes := c.Strikes("monday")
	release, errLock := c.Lock("monday")
	if errLock == nil {
		errLock = release()
	}
	errRaw := c.verifyRaw(t.Context(), session.LogSHA256)
	return errors.Join(errSession, errRig, errSamples, errStrikes, errLock, errRaw)
}

// TestNothingIsReachedThroughLinks: a corpus of a stranger's making reads and
// writes nothing outside of it, whatever links and devices it holds.
func TestNothingIsReachedThroughLinks(t *testing.T) {
	outside := t.TempDir()
	mine := filepath.Join(outside, "mine")
	const kept = "what is mine\n"
	for name, link := range map[string]struct{ rel, to string }{
		"mark":             {formatName, mine},
		"mark, endless":    {formatName, "/dev/zero"},
		"samples":          {"samples/" + mondayPlace, mine},
		"samples, endless": {"samples/" + mondayPlace, "/dev/zero"},
		"sessions' folder": {"sessions/rig=garage-r1/session=monday", outside},
		"windows' rig":     {"windows/rig=garage-r1", outside},
		"all samples":      {"samples", outside},
		"rig":              {"rigs/garage-r1.toml", mine},
		"rig, endless":     {"rigs/garage-r1.toml", "/dev/zero"},
		"rig, relative":    {"rigs/garage-r1.toml", "../../../../../../../../../../../.." + mine},
		"lock":             {locksDir + "/session-monday.lock", mine},
		"locks":            {locksDir, outside},
		"notes":            {pendingDir, outside},
		"journals":         {journalDir, outside},
		"raw":              {rawDir, outside},
	} {
		t.Run(name, func(t *testing.T) {
			if err := os.WriteFile(mine, []byte(kept), 0o644); err != nil {
				t.Fatal(err)
			}
			c := newCorpus(t)
			addSession(t, c, "monday", testRig(t, "garage", true), 40, 1)
			if err := use(t, c.dir); err != nil {
				t.Fatalf("before: %v", err)
			}
			linked(t, c, link.rel, link.to)
			if err := use(t, c.dir); err == nil || !strings.Contains(err.Error(), "corpus: ") {
				t.Errorf("it is read: %v", err)
			}
			if data, err := os.ReadFile(mine); err != nil || string(data) != kept {
				t.Errorf("the file outside holds %q (%v)", data, err)
			}
			if entries, err := os.ReadDir(outside); err != nil || len(entries) != 1 {
				t.Errorf("outside lie %v (%v)", entries, err)
			}
		})
	}
}

// TestNotesStayInside: a change that a stranger has noted touches only files of
// the corpus.
func TestNotesStayInside(t *testing.T) {
	for name, step := range map[string]string{
		"up":              `{"remove":"../mine"}`,
		"up from a table": `{"remove":"samples/../../mine"}`,
		"absolute":        `{"remove":"%s"}`,
		"beside":          `{"remove":"mine.txt"}`,
		"the mark":        `{"move":"rigs/x","to":"corpus.toml"}`,
		"through a link":  `{"remove":"samples/out/mine"}`,
		"move in":         `{"move":"samples/out/mine","to":"rigs/mine.toml"}`,
		"move out":        `{"move":"rigs/garage-r1.toml","to":"samples/out/mine"}`,
		"a folder":        `{"remove":"samples"}`,
		"both":            `{"move":"rigs/x","to":"rigs/y","remove":"rigs/z"}`,
		"nothing":         `{}`,
	} {
		t.Run(name, func(t *testing.T) {
			c := newCorpus(t)
			addSession(t, c, "monday", testRig(t, "garage", true), 40, 1)
			outside := t.TempDir()
			for _, mine := range []string{filepath.Join(outside, "mine"), c.path("../mine"), c.path("mine.txt")} {
				if err := os.WriteFile(mine, []byte("mine"), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			if strings.Contains(step, "out") {
				linked(t, c, "samples/out", outside)
			}
			if strings.Contains(step, "%s") {
				step = fmt.Sprintf(step, filepath.Join(outside, "mine"))
			}
			note := []byte(`{"about":"a present","steps":[` + step + `]}`)
			if err := errors.Join(os.MkdirAll(c.path(pendingDir), 0o755), os.WriteFile(c.path(pendingDir+"/0.json"), note, 0o644)); err != nil {
				t.Fatal(err)
			}
			if _, err := Open(c.dir); err == nil || !strings.Contains(err.Error(), "a present is half done") {
				t.Errorf("Open = %v", err)
			}
			for _, mine := range []string{filepath.Join(outside, "mine"), c.path("../mine"), c.path("mine.txt")} {
				if data, err := os.ReadFile(mine); err != nil || string(data) != "mine" {
					t.Errorf("%s holds %q (%v)", mine, data, err)
				}
			}
			if _, err := os.Stat(c.path("rigs/garage-r1.toml")); err != nil {
				t.Error(err)
			}
		})
	}
}

// What lies within the corpus may be a link, and what is too long for a rig is
// not taken into memory.
func TestLinksWithin(t *testing.T) {
	c := newCorpus(t)
	addSession(t, c, "monday", testRig(t, "garage", true), 40, 1)
	if err := os.Rename(c.path("rigs/garage-r1.toml"), c.path("rigs/kept.txt")); err != nil {
		t.Fatal(err)
	}
	linked(t, c, "rigs/garage-r1.toml", "kept.txt")
	if err := use(t, c.dir); err != nil {
		t.Error(err)
	}
	if err := os.Truncate(c.path("rigs/kept.txt"), 1<<40); err != nil {
		t.Skipf("no long files here: %v", err)
	}
	if _, err := c.Rig("garage-r1"); err == nil || !strings.Contains(err.Error(), "is 1099511627776 bytes long, more than 65536") {
		t.Errorf("Rig = %v", err)
	}
}

// FuzzNote: no note makes a change that leaves the corpus.
func FuzzNote(f *testing.F) {
	f.Add("samples/a", "samples/b", "")
	f.Add("", "", "rigs/../../x")
	f.Add("journal/..", "/etc/passwd", "\x00")
	f.Fuzz(func(t *testing.T, move, to, remove string) {
		s := step{Move: move, To: to, Remove: remove}
		if !s.valid() {
			return
		}
		for _, p := range []string{move, to, remove} {
			if clean := filepath.Clean("/corpus/" + p); p != "" && (!strings.HasPrefix(clean, "/corpus/") || !strings.Contains(strings.TrimPrefix(clean, "/corpus/"), "/")) {
				t.Errorf("%q is taken", p)
			}
		}
	})
}
