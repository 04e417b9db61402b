package corpus

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"testing"
	"time"

	"strikerose/dataset"
)

// TestCrashAtEveryStep stops a change after each of its steps; whoever opens
// the corpus next finishes it, and the result is the same each time.
func TestCrashAtEveryStep(t *testing.T) {
	whole := fixture(t)
	ctx := t.Context()
	rename := func(c *Corpus, ch *change) error {
		from := place{"garage-r1", "monday"}
		s, _, err := c.loadRow(from)
		if err != nil {
			return err
		}
		s.Name = "wednesday"
		return errors.Join(c.stageMove(ctx, ch, from, &s), c.finishMove(ch, from, place{"garage-r1", "wednesday"}))
	}
	var done map[string]string
	for after := 0; ; after++ {
		c := copyOf(t, whole)
		ch := &change{About: "a test"}
		if err := rename(c, ch); err != nil {
			t.Fatal(err)
		}
		if after > len(ch.Steps) {
			break
		}
		data, err := json.Marshal(ch)
		if err != nil {
			t.Fatal(err)
		}
		if err := writeFile(c.path(pendingDir+"/0.json"), data); err != nil {
			t.Fatal(err)
		}
		for _, s := range ch.Steps[:after] {
			if err := c.carryOut(s); err != nil {
				t.Fatal(err)
			}
		}
		again, err := Open(c.Dir())
		if err != nil {
			t.Fatalf("after %d steps: %v", after, err)
		}
		requireProblems(t, again)
		files := filesOf(t, again)
		if done == nil {
			done = files
		} else if !reflect.DeepEqual(done, files) {
			t.Errorf("after %d steps: another result", after)
		}
	}
}

// TestCrashBeforeTheNote: what was staged for a change that was never written
// down is left over, ignored, and removed by the next writer.
func TestCrashBeforeTheNote(t *testing.T) {
	c := fixture(t)
	s, sig := testSignal("monday", testRig(t, "garage", true), 50, 3)
	ch := new(change)
	if _, err := c.stageSamples(t.Context(), ch, &s, sig); err != nil {
		t.Fatal(err)
	}
	requireProblems(t, c, want{Note, Leftover, ch.Steps[0].Move})
	if got, err := c.Signal(t.Context(), "monday"); err != nil || got.Len() != 2500 {
		t.Errorf("the old session is not read: %v", err)
	}
	keepRaw(t, c, &s)
	if err := c.PutSession(t.Context(), s, sig, true); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(c.path(ch.Steps[0].Move)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the leftover is still there: %v", err)
	}
}

// TestCrashedChangeIsFinishedByTheNextWriter: a corpus that was open before the
// crash finishes the change before it writes anything of its own, and does not
// take the files that the change still needs for leftovers.
func TestCrashedChangeIsFinishedByTheNextWriter(t *testing.T) {
	c := fixture(t)
	s, sig := testSignal("monday", testRig(t, "garage", true), 50, 3)
	keepRaw(t, c, &s)
	ch := &change{About: "importing session monday"}
	samplesSHA, err := c.stageSamples(t.Context(), ch, &s, sig)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(c.stageRow(t.Context(), ch, &s, samplesSHA), c.removeOld(ch, place{s.Rig, s.Name})); err != nil {
		t.Fatal(err)
	}
	data, err := json.Marshal(ch)
	if err != nil {
		t.Fatal(err)
	}
	if err := writeFile(c.path(pendingDir+"/0.json"), data); err != nil {
		t.Fatal(err)
	}
	// Killed here. The other process goes on.
	if err := c.PutStrikes(t.Context(), "monday", nil, Made{"onset 1", ""}); err != nil {
		t.Fatal(err)
	}
	got, err := c.Signal(t.Context(), "monday")
	if err != nil || got.Len() != 50 {
		t.Errorf("the change was not finished: %v", err)
	}
	if strikes, _, err := c.Strikes("monday"); err != nil || len(strikes) != 0 {
		t.Errorf("%d strikes, %v, want none found", len(strikes), err)
	}
	requireProblems(t, c, want{Warning, Missing, "labels/" + mondayPlace})
}

func TestPendingNoteRefused(t *testing.T) {
	for name, note := range map[string]string{
		"not JSON": "{",
		"outside":  `{"about":"x","steps":[{"remove":"../victim"}]}`,
		"absolute": `{"about":"x","steps":[{"move":"/etc/passwd","to":"x"}]}`,
		"empty":    `{"about":"x","steps":[{}]}`,
	} {
		c := newCorpus(t)
		victim := filepath.Join(c.Dir(), "..", "victim")
		if err := errors.Join(os.WriteFile(victim, nil, 0o666), writeFile(c.path(pendingDir+"/0.json"), []byte(note))); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(c.Dir()); err == nil || !strings.Contains(err.Error(), pendingDir) {
			t.Errorf("%s: got %v, want an error that names %s", name, err, pendingDir)
		}
		if _, err := os.Stat(victim); err != nil {
			t.Errorf("%s: a file outside the corpus is gone", name)
		}
	}
}

const importerVariable = "STRIKEROSE_TEST_IMPORT_INTO"

// TestImporterProcess is not a test of its own: TestKilledImporter runs it as
// the process that it kills.
func TestImporterProcess(t *testing.T) {
	dir := os.Getenv(importerVariable)
	if dir == "" {
		t.Skip("only runs as the child of TestKilledImporter")
	}
	c, err := OpenOrCreate(dir)
	if err != nil {
		t.Fatal(err)
	}
	rg := testRig(t, "garage", true)
	if err := c.PutRig(rg); err != nil {
		t.Fatal(err)
	}
	fmt.Println("ready")
	for i := 0; ; i++ {
		s, sig := testSignal(fmt.Sprintf("s%d", i%7), rg, 3000, uint64(i))
		if i%3 == 0 { // some sessions take longer to write
			s, sig = testSignal(s.Name, rg, rowGroupRows+3000, uint64(i))
		}
		if err := importPiecewise(c, s, sig); err != nil {
			t.Fatal(err)
		}
		if err := c.PutStrikes(context.Background(), s.Name, testStrikes(5), Made{}); err != nil {
			t.Fatal(err)
		}
	}
}

// importPiecewise keeps a log and a session as an import does that reads the log
// once: both are written side by side and kept at the end.
func importPiecewise(c *Corpus, s dataset.Session, sig *dataset.Signal) (err error) {
	ctx := context.Background()
	log, err := c.NewRaw(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, log.Abort()) }()
	w, err := c.NewSession(ctx, s.Rig, s.Name, sig.HasGyro())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, w.Abort()) }()
	for at := 0; at < sig.Len(); at += 1000 {
		part := sig.Slice(at, min(at+1000, sig.Len()))
		if err := w.Append(ctx, &part); err != nil {
			return err
		}
		if _, err := fmt.Fprintln(log, s.Name, part.TRaw); err != nil {
			return err
		}
	}
	if s.LogSHA256, s.LogBytes, err = log.Keep(ctx); err != nil {
		return err
	}
	return w.Commit(ctx, s, true)
}

// TestKilledImporter kills a busy importer again and again: the corpus never
// has a fault, and every session that is there is whole.
func TestKilledImporter(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "bag")
	for round := range 12 {
		child := exec.Command(os.Args[0], "-test.run=^TestImporterProcess$")
		child.Env = append(os.Environ(), importerVariable+"="+dir)
		out, err := child.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := child.Start(); err != nil {
			t.Fatal(err)
		}
		ready := make([]byte, 5)
		if _, err := out.Read(ready); err != nil || !bytes.Equal(ready, []byte("ready")) {
			t.Fatalf("importer said %q, %v", ready, err)
		}
		time.Sleep(time.Duration(3+round*17) * time.Millisecond)
		if err := child.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		child.Wait()
		c, err := Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range problemsOf(t, c) {
			if p.Severity != Note {
				t.Errorf("round %d:%s", round, describe([]Problem{p}))
			}
		}
	}
}

func TestReadOnly(t *testing.T) {
	if runtime.GOOS == "windows" || os.Geteuid() == 0 {
		t.Skip("permissions do not bind this user")
	}
	c := fixture(t)
	err := filepath.WalkDir(c.Dir(), func(name string, d fs.DirEntry, err error) error {
		if err == nil && d.IsDir() {
			err = os.Chmod(name, 0o555)
			t.Cleanup(func() { os.Chmod(name, 0o755) })
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	requireReadOnly(t, c)
}

// requireReadOnly: everything can be read, and writing says what to do.
func requireReadOnly(t *testing.T, c *Corpus) {
	t.Helper()
	c, err := Open(c.Dir())
	if err != nil {
		t.Fatal(err)
	}
	requireProblems(t, c)
	if _, err := c.Signal(t.Context(), "monday"); err != nil {
		t.Error(err)
	}
	s, sig := testSignal("new", testRig(t, "garage", true), 50, 3)
	_, _, rawErr := keepLog(t.Context(), c, strings.NewReader("log"))
	for what, err := range map[string]error{
		"PutSession": c.PutSession(t.Context(), s, sig, false),
		"PutStrikes": c.PutStrikes(t.Context(), "monday", nil, Made{}),
		"PutRig":     c.PutRig(testRig(t, "new", true)),
		"Keep":       rawErr,
	} {
		if err == nil || !strings.Contains(err.Error(), "cannot be written") {
			t.Errorf("%s: got %v, want an error that says the corpus cannot be written", what, err)
		}
	}
}

// mount makes a small file system of its own, where the test may do that.
func mount(t *testing.T, options string) string {
	t.Helper()
	if runtime.GOOS != "linux" || os.Geteuid() != 0 {
		t.Skip("mounting a file system takes root on Linux")
	}
	dir := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", options, "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("no file system can be mounted here: %v: %s", err, out)
	}
	t.Cleanup(func() {
		if out, err := exec.Command("umount", dir).CombinedOutput(); err != nil {
			t.Errorf("umount: %v: %s", err, out)
		}
	})
	return dir
}

func TestReadOnlyMount(t *testing.T) {
	dir := mount(t, "size=8m")
	if err := os.CopyFS(filepath.Join(dir, "bag"), os.DirFS(fixture(t).Dir())); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("mount", "-o", "remount,ro", dir).CombinedOutput(); err != nil {
		t.Skipf("no remount here: %v: %s", err, out)
	}
	requireReadOnly(t, &Corpus{dir: filepath.Join(dir, "bag")})
}

func TestFullDisk(t *testing.T) {
	dir := filepath.Join(mount(t, "size=2m"), "bag")
	c, err := OpenOrCreate(dir)
	if err != nil {
		t.Fatal(err)
	}
	rg := testRig(t, "garage", true)
	if err := c.PutRig(rg); err != nil {
		t.Fatal(err)
	}
	put := func(name string, n int) error {
		s, sig := testSignal(name, rg, n, uint64(len(name)))
		s.LogSHA256 = ""
		return c.PutSession(t.Context(), s, sig, true)
	}
	if err := put("small", 20_000); err != nil {
		t.Fatal(err)
	}
	before := filesOf(t, c)
	for what, err := range map[string]error{
		"new session":      put("large", 200_000),
		"replaced session": put("small", 200_000),
		"log":              func() error { _, _, err := keepLog(t.Context(), c, noise(4<<20)); return err }(),
	} {
		if err == nil || !strings.Contains(err.Error(), "disk is full") {
			t.Errorf("%s: got %v, want an error that says the disk is full", what, err)
		}
	}
	if !reflect.DeepEqual(before, filesOf(t, c)) {
		t.Error("a failed write left something behind or changed something")
	}
	requireProblems(t, c)
	if err := put("tiny", 1000); err != nil {
		t.Errorf("there was room for this: %v", err)
	}
}

// TestHalfDone: a change that fails after it was written down says that it will be
// finished, and is, by whoever opens the corpus once the cause is gone.
func TestHalfDone(t *testing.T) {
	for name, q := range map[string]struct {
		about string
		block string // where a folder, or a file with one below it, is in the way
		file  bool
		make  func(*Corpus) error
		done  func(*Corpus) bool
	}{
		"import": {"importing session monday", "windows/" + mondayPlace, false,
			func(c *Corpus) error {
				s, sig := testSignal("monday", testRig(t, "garage", true), 50, 3)
				keepRaw(t, c, &s)
				return c.PutSession(t.Context(), s, sig, true)
			},
			func(c *Corpus) bool { s, err := c.Session("monday"); return err == nil && s.Samples == 50 }},
		"drop": {"dropping session monday", droppedDir, true,
			func(c *Corpus) error { _, err := c.Drop("monday"); return err },
			func(c *Corpus) bool { _, err := c.Session("monday"); return errors.Is(err, ErrUnknownSession) }},
	} {
		t.Run(name, func(t *testing.T) {
			c := fixture(t)
			block := c.path(q.block)
			if err := os.RemoveAll(block); err != nil {
				t.Fatal(err)
			}
			if q.file {
				if err := os.WriteFile(block, nil, 0o666); err != nil {
					t.Fatal(err)
				}
			} else if err := os.MkdirAll(filepath.Join(block, "x"), 0o777); err != nil {
				t.Fatal(err)
			}
			err := q.make(c)
			if want := q.about + " is half done: "; !errors.Is(err, ErrNoted) || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "run the command again") {
				t.Errorf("got %v, want one with %q and that the next command finishes it", err, want)
			}
			if _, err := Open(c.Dir()); !errors.Is(err, ErrNoted) {
				t.Errorf("opened while the cause is there: %v", err)
			}
			if err := os.RemoveAll(block); err != nil {
				t.Fatal(err)
			}
			again, err := Open(c.Dir())
			if err != nil {
				t.Fatal(err)
			}
			if !q.done(again) {
				t.Error("the next command did not finish it")
			}
			for _, p := range problemsOf(t, again) {
				if p.Severity == Error {
					t.Error(describe([]Problem{p}))
				}
			}
		})
	}
}

// TestNoteStays: a change that is done, but whose note cannot be removed, is told
// to be done.
func TestNoteStays(t *testing.T) {
	c := fixture(t)
	note := pendingDir + "/0.json"
	if err := os.MkdirAll(c.path(note+"/x"), 0o777); err != nil {
		t.Fatal(err)
	}
	ch := &change{About: "dropping labels"}
	ch.remove("labels/" + mondayPlace)
	err := c.finish(note, ch)
	if !errors.Is(err, ErrNoted) || !strings.Contains(err.Error(), "dropping labels is done, but its note ") {
		t.Errorf("got %v", err)
	}
	if _, err := os.Stat(c.path("labels/" + mondayPlace)); !errors.Is(err, fs.ErrNotExist) {
		t.Error("it is not done")
	}
}

// TestNoteTakenBack: a note that was not written for sure goes before what was
// staged for it. While it stands, so does what was staged.
func TestNoteTakenBack(t *testing.T) {
	failed := errors.New("sync failed")
	for name, q := range map[string]struct {
		note  string // what lies in the note's place
		stays bool
	}{
		"never there":       {"", false},
		"there":             {pendingDir + "/0.json", false},
		"cannot be removed": {pendingDir + "/0.json/x", true},
	} {
		t.Run(name, func(t *testing.T) {
			c := fixture(t)
			s, sig := testSignal("new", testRig(t, "garage", true), 50, 3)
			ch := &change{About: "importing session new"}
			if _, err := c.stageSamples(t.Context(), ch, &s, sig); err != nil {
				t.Fatal(err)
			}
			if q.note != "" {
				if err := writeFile(c.path(q.note), []byte("{}")); err != nil {
					t.Fatal(err)
				}
			}
			err := c.takeBack(pendingDir+"/0.json", ch, failed)
			if errors.Is(err, ErrNoted) != q.stays || errors.Is(err, failed) == q.stays {
				t.Errorf("got %v", err)
			}
			if _, err := os.Stat(c.path(ch.Steps[0].Move)); (err == nil) != q.stays {
				t.Errorf("what was staged: %v", err)
			}
			if _, err := os.Stat(c.path(pendingDir + "/0.json")); (err == nil) != q.stays {
				t.Errorf("the note: %v", err)
			}
		})
	}
}
