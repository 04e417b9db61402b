package corpus

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"strikerose/dataset"
)

// filesOf lists the files of a corpus with their content, without locks.
func filesOf(t testing.TB, c *Corpus) map[string]string {
	t.Helper()
	files := make(map[string]string)
	err := filepath.WalkDir(c.Dir(), func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if d.Name() == locksDir {
				return fs.SkipDir
			}
			return nil
		}
		data, err := os.ReadFile(name)
		rel, _ := filepath.Rel(c.Dir(), name)
		files[filepath.ToSlash(rel)] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

func TestRename(t *testing.T) {
	c := fixture(t)
	before, err := c.Signal(t.Context(), "monday")
	if err != nil {
		t.Fatal(err)
	}
	journal, _ := os.ReadFile(c.JournalPath("monday"))
	stale, err := c.Rename("monday", "wednesday")
	if err != nil || len(stale) > 0 {
		t.Fatalf("Rename = %q, %v, want nothing stale", stale, err)
	}
	requireProblems(t, c) // links between the tables hold, no stray files
	after, err := c.Signal(t.Context(), "wednesday")
	if err != nil || !reflect.DeepEqual(before, after) {
		t.Errorf("the signal changed: %v", err)
	}
	strikes, made, err := c.Strikes("wednesday")
	if err != nil || !reflect.DeepEqual(strikes, testStrikes(6)) || made.Tool != "onset 1" {
		t.Errorf("the strikes changed: %v", err)
	}
	if moved, err := os.ReadFile(c.JournalPath("wednesday")); err != nil || string(moved) != string(journal) {
		t.Errorf("the journal did not move along: %v", err)
	}
	for name := range filesOf(t, c) {
		if strings.Contains(name, "monday") {
			t.Errorf("%s is still there", name)
		}
	}
	if _, err := c.Session("monday"); !errors.Is(err, ErrUnknownSession) {
		t.Errorf("Session(old name): got %v, want ErrUnknownSession", err)
	}
}

func TestRenameRefused(t *testing.T) {
	c := fixture(t)
	if err := os.WriteFile(c.JournalPath("sunday"), []byte("{}\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	before := filesOf(t, c)
	for _, tc := range []struct{ old, new, says string }{
		{"monday", "tuesday", "already"},
		{"monday", "Tuesday", "already"},
		{"monday", "Monday", "only by case"},
		{"monday", "..", "dot"},
		{"monday", "sunday", "journal"},
		{"moonday", "sunday2", "monday"},
	} {
		if _, err := c.Rename(tc.old, tc.new); err == nil || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("Rename(%s, %s): got %v, want an error about %q", tc.old, tc.new, err, tc.says)
		}
	}
	if !reflect.DeepEqual(before, filesOf(t, c)) {
		t.Error("a refused rename changed files")
	}
}

func TestDrop(t *testing.T) {
	c := fixture(t)
	raw := rawOf(t, c, "monday")
	journal, _ := os.ReadFile(c.JournalPath("monday"))
	kept, err := c.Drop("monday")
	if err != nil || len(kept) != 2 {
		t.Fatalf("Drop = %q, %v, want what is kept of log and journal", kept, err)
	}
	var dropped string
	for name, data := range filesOf(t, c) {
		if strings.HasPrefix(name, droppedDir+"/monday-") {
			dropped = data
		} else if strings.Contains(name, "monday") {
			t.Errorf("%s is still there", name)
		}
	}
	if dropped != string(journal) {
		t.Errorf("the journal was not kept: %q", dropped)
	}
	requireProblems(t, c, want{Note, Orphan, raw})
	// The name and the log are free again.
	rg := testRig(t, "garage", true)
	s, sig := testSignal("monday", rg, 100, 1)
	keepRaw(t, c, &s)
	if err := c.PutSession(t.Context(), s, sig, false); err != nil {
		t.Error(err)
	}
	requireProblems(t, c)
}

func TestSetStriker(t *testing.T) {
	c := fixture(t)
	stale, err := c.SetSession("monday", func(s *dataset.Session) error { s.Striker = "ben"; return nil })
	if err != nil || len(stale) > 0 {
		t.Fatalf("SetSession = %q, %v, want nothing stale", stale, err)
	}
	if s, err := c.Session("monday"); err != nil || s.Striker != "ben" {
		t.Errorf("striker %q, %v", s.Striker, err)
	}
	requireProblems(t, c)
}

func TestSetRig(t *testing.T) {
	c := fixture(t)
	same := testRig(t, "garage", true)
	same.Revision, same.Sensor.YawDeg = 2, 5
	other := testRig(t, "shed", true)
	other.Sensor.RateHz, other.Log.AccelUnit = 800, "g"
	if err := errors.Join(c.PutRig(same), c.PutRig(other)); err != nil {
		t.Fatal(err)
	}
	before, err := c.Signal(t.Context(), "monday")
	if err != nil {
		t.Fatal(err)
	}
	stale, err := c.SetSession("monday", func(s *dataset.Session) error { s.Rig = "garage-r2"; return nil })
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(stale, "\n")
	for _, says := range []string{"strikerose find", "strikerose features", "label plan"} {
		if !strings.Contains(text, says) {
			t.Errorf("stale says nothing of %q:\n%s", says, text)
		}
	}
	if strings.Contains(text, "import") {
		t.Errorf("stale asks for an import, though the rigs read logs alike:\n%s", text)
	}
	if after, err := c.Signal(t.Context(), "monday"); err != nil || !reflect.DeepEqual(before, after) {
		t.Errorf("the signal changed: %v", err)
	}
	if _, _, err := c.Strikes("monday"); !errors.Is(err, ErrNoWindows) {
		t.Errorf("Strikes after the rig changed: got %v, want ErrNoWindows", err)
	}
	requireProblems(t, c, want{Warning, Missing, "labels/rig=garage-r2/session=monday/" + partName})
	stale, err = c.SetSession("monday", func(s *dataset.Session) error { s.Rig = "shed-r1"; return nil })
	if err != nil {
		t.Fatal(err)
	}
	if text := strings.Join(stale, "\n"); !strings.Contains(text, "sensor.rate_hz, log.accel_unit") || !strings.Contains(text, "--force monday.csv") {
		t.Errorf("stale does not ask for an import that mends units and rate:\n%s", text)
	}
	if rows, err := c.Select([]string{"shed"}, nil); err != nil || len(rows) != 1 {
		t.Errorf("Select(shed) = %d sessions, %v", len(rows), err)
	}
}

func TestSetRefused(t *testing.T) {
	c := fixture(t)
	before := filesOf(t, c)
	refusal := errors.New("not today")
	for _, tc := range []struct {
		says string
		edit func(*dataset.Session) error
	}{
		{"cellar-r1", func(s *dataset.Session) error { s.Rig = "cellar-r1"; return nil }},
		{"session cannot be set", func(s *dataset.Session) error { s.Name = "x"; return nil }},
		{"samples cannot be set", func(s *dataset.Session) error { s.Samples++; return nil }},
		{"not today", func(s *dataset.Session) error { return refusal }},
	} {
		if _, err := c.SetSession("monday", tc.edit); err == nil || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("got %v, want an error about %q", err, tc.says)
		}
	}
	if !reflect.DeepEqual(before, filesOf(t, c)) {
		t.Error("a refused correction changed files")
	}
}

func TestPutSessionRefusals(t *testing.T) {
	c := fixture(t)
	ctx := t.Context()
	rg := testRig(t, "garage", true)
	twin, err := c.Session("monday")
	if err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct {
		name, session, log, says string
		replace                  bool
	}{
		{"same name", "monday", "new", "--force", false},
		{"same log", "sunday", twin.LogSHA256, "by session monday", false},
		{"case", "MONDAY", "new", "only by case", false},
		{"case, replacing", "MONDAY", "new", "only by case", true},
		{"name", "a/b", "new", "holds", true},
	} {
		s, sig := testSignal(tc.session, rg, 10, 5)
		s.LogSHA256 = tc.log
		if err := c.PutSession(ctx, s, sig, tc.replace); err == nil || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%s: got %v, want an error about %q", tc.name, err, tc.says)
		}
	}
	s, sig := testSignal("sunday", testRig(t, "cellar", true), 10, 5)
	if err := c.PutSession(ctx, s, sig, false); err == nil || !strings.Contains(err.Error(), "cellar-r1") {
		t.Errorf("unknown rig: got %v", err)
	}
	requireProblems(t, c)
	// Forced, the same log may be held twice.
	s, sig = testSignal("sunday", rg, 10, 5)
	s.LogSHA256 = twin.LogSHA256
	if err := c.PutSession(ctx, s, sig, true); err != nil {
		t.Error(err)
	}
	requireProblems(t, c, want{Note, Duplicate, "sessions/rig=garage-r1/session=sunday/" + partName})
}

func TestReplace(t *testing.T) {
	for _, rigName := range []string{"garage", "attic"} {
		c := fixture(t)
		rg := testRig(t, rigName, rigName == "garage")
		s, sig := testSignal("monday", rg, 1700, 77)
		keepRaw(t, c, &s)
		if err := c.PutSession(t.Context(), s, sig, true); err != nil {
			t.Fatal(err)
		}
		got, err := c.Signal(t.Context(), "monday")
		if err != nil || !reflect.DeepEqual(sig, got) {
			t.Errorf("the new signal is not there: %v", err)
		}
		if _, _, err := c.Strikes("monday"); !errors.Is(err, ErrNoWindows) || !strings.Contains(err.Error(), "strikerose find -C "+c.Dir()+" --sessions monday") {
			t.Errorf("Strikes: got %v, want ErrNoWindows with the command", err)
		}
		if _, err := c.Features("monday"); !errors.Is(err, ErrNoFeatures) {
			t.Errorf("Features: got %v, want ErrNoFeatures", err)
		}
		if _, err := os.Stat(c.JournalPath("monday")); err != nil {
			t.Errorf("the journal is gone: %v", err)
		}
		requireProblems(t, c, want{Warning, Missing, "labels/rig=" + rg.Key() + "/session=monday/" + partName})
	}
}

// TestReplaceDamaged: a session whose row cannot be read can still be mended by
// importing it again, or dropped.
func TestReplaceDamaged(t *testing.T) {
	whole := fixture(t)
	edit(t, whole, "sessions/"+mondayPlace, flip(100))
	c := copyOf(t, whole)
	if _, err := c.Sessions(); err == nil {
		t.Fatal("a damaged row is read")
	}
	s, sig := testSignal("monday", testRig(t, "garage", true), 1700, 77)
	keepRaw(t, c, &s)
	if err := c.PutSession(t.Context(), s, sig, true); err != nil {
		t.Error(err)
	}
	if rows, err := c.Sessions(); err != nil || len(rows) != 3 {
		t.Errorf("%d sessions, %v", len(rows), err)
	}
	c = copyOf(t, whole)
	if _, err := c.Drop("monday"); err != nil {
		t.Error(err)
	}
	if rows, err := c.Sessions(); err != nil || len(rows) != 2 {
		t.Errorf("%d sessions, %v", len(rows), err)
	}
}

func TestPutRig(t *testing.T) {
	c := newCorpus(t)
	r := testRig(t, "garage", true)
	if err := errors.Join(c.PutRig(r), c.PutRig(r)); err != nil {
		t.Fatal(err)
	}
	changed := testRig(t, "garage", true)
	changed.Sensor.DepthM, changed.Faces = 0.1, 8
	err := c.PutRig(changed)
	if err == nil || !strings.Contains(err.Error(), "faces: 6 against 8; sensor.depth_m: 0.06 against 0.1") || !strings.Contains(err.Error(), "raise revision to 2") {
		t.Errorf("got %v, want an error that names the keys and the remedy", err)
	}
	changed.Revision = 2
	if err := c.PutRig(changed); err != nil {
		t.Fatal(err)
	}
	rigs, err := c.Rigs()
	if err != nil || len(rigs) != 2 || rigs[1].Sensor.DepthM != 0.1 || !reflect.DeepEqual(rigs[0], r) {
		t.Errorf("Rigs = %v, %v", rigs, err)
	}
	if _, err := c.Rig("garage-r3"); err == nil || !strings.Contains(err.Error(), "garage-r1, garage-r2") {
		t.Errorf("got %v, want an error that names the revisions there are", err)
	}
}
