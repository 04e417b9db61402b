package corpus

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// TestChunksDoNotMatter: the same samples give the same bytes, however they are
// cut into chunks and on however many processors.
func TestChunksDoNotMatter(t *testing.T) {
	const n = rowGroupRows + 1234
	rg := testRig(t, "garage", true)
	s, sig := testSignal("s", rg, n, 1)
	s.LogSHA256 = ""
	write := func(chunk func(left int) int) []byte {
		c := newCorpus(t)
		w, err := c.NewSession(t.Context(), s.Rig, s.Name, true)
		if err != nil {
			t.Fatal(err)
		}
		for at := 0; at < n; {
			k := min(n-at, chunk(n-at))
			part := sig.Slice(at, at+k)
			if err := w.Append(t.Context(), &part); err != nil {
				t.Fatal(err)
			}
			at += k
		}
		if err := c.PutRig(rg); err != nil { // the rig may come late
			t.Fatal(err)
		}
		if err := w.Commit(t.Context(), s, false); err != nil {
			t.Fatal(err)
		}
		if err := w.Abort(); err != nil {
			t.Errorf("Abort after Commit: %v", err)
		}
		requireProblems(t, c)
		file, err := os.ReadFile(c.path(part("samples", s.Rig, s.Name)))
		if err != nil {
			t.Fatal(err)
		}
		return file
	}
	whole := write(func(left int) int { return left })
	rng := rand.New(rand.NewPCG(1, 1))
	for name, chunk := range map[string]func(int) int{
		"a row group": func(int) int { return rowGroupRows },
		"one more":    func(int) int { return rowGroupRows + 1 },
		"one less":    func(int) int { return rowGroupRows - 1 },
		"few":         func(int) int { return 1000 },
		"all sizes":   func(int) int { return rng.IntN(3 * rowGroupRows / 2) }, // none too
	} {
		if !bytes.Equal(whole, write(chunk)) {
			t.Errorf("chunks of %s give other bytes", name)
		}
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if !bytes.Equal(whole, write(func(left int) int { return left })) {
		t.Error("one processor gives other bytes")
	}
}

// TestGivenUp: whatever ends the writing of a session, the corpus is what it
// was, and the session can be written again at once.
func TestGivenUp(t *testing.T) {
	c := fixture(t)
	rg := testRig(t, "garage", true)
	good, sig := testSignal("new", rg, rowGroupRows+500, 5)
	keepRaw(t, c, &good)
	before := filesOf(t, c)
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	commit := func(ctx context.Context, spoil func(*dataset.Session)) func(*SessionWriter) error {
		return func(w *SessionWriter) error {
			row := good
			spoil(&row)
			return errors.Join(w.Append(t.Context(), sig), w.Commit(ctx, row, false))
		}
	}
	for name, tc := range map[string]struct {
		end  func(*SessionWriter) error
		says string
	}{
		"nothing":          {func(w *SessionWriter) error { return nil }, ""},
		"samples":          {func(w *SessionWriter) error { return w.Append(t.Context(), sig) }, ""},
		"no samples":       {func(w *SessionWriter) error { return w.Commit(t.Context(), good, false) }, "no samples"},
		"cancelled append": {func(w *SessionWriter) error { return w.Append(cancelled, sig) }, "canceled"},
		"cancelled commit": {commit(cancelled, func(*dataset.Session) {}), "canceled"},
		"samples twice": {func(w *SessionWriter) error {
			return errors.Join(w.Append(t.Context(), sig), w.Append(t.Context(), sig))
		}, "segment 0 follows"},
		"commit after a refusal": {func(w *SessionWriter) error {
			bad := sig.Slice(5, 10)
			bad.TNs = []int64{5, 4, 3, 2, 1}
			_ = w.Append(t.Context(), &bad)
			return w.Commit(t.Context(), good, false)
		}, "t_ns 4 follows 5"},
		"no gyroscope": {func(w *SessionWriter) error {
			_, without := testSignal("new", testRig(t, "garage", false), 10, 1)
			return w.Append(t.Context(), without)
		}, "gyroscope"},
		"another name":  {commit(t.Context(), func(s *dataset.Session) { s.Name = "other" }), "written as session new"},
		"another rig":   {commit(t.Context(), func(s *dataset.Session) { s.Rig = "attic-r1" }), "attic-r1"},
		"another count": {commit(t.Context(), func(s *dataset.Session) { s.Samples++ }), "samples where"},
		"a held log": {commit(t.Context(), func(s *dataset.Session) {
			monday, err := c.Session("monday")
			if err != nil {
				t.Fatal(err)
			}
			s.LogSHA256 = monday.LogSHA256
		}), "held already by session monday"},
	} {
		w, err := c.NewSession(t.Context(), good.Rig, good.Name, true)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if _, err := c.NewSession(t.Context(), good.Rig, good.Name, true); !errors.Is(err, ErrLocked) {
			t.Errorf("%s: a second writer: got %v, want %v", name, err, ErrLocked)
		}
		if err := tc.end(w); (err == nil) != (tc.says == "") || err != nil && !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%s: got %v, want an error about %q", name, err, tc.says)
		}
		for range 2 {
			if err := w.Abort(); err != nil {
				t.Errorf("%s: Abort: %v", name, err)
			}
		}
		if err := w.Append(t.Context(), sig); err == nil {
			t.Errorf("%s: samples were taken after the end", name)
		}
		if !reflect.DeepEqual(before, filesOf(t, c)) {
			t.Errorf("%s: something changed", name)
		}
		if _, err := os.Stat(filepath.Dir(c.path(part("samples", good.Rig, good.Name)))); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s: a folder is left: %v", name, err)
		}
	}
	for _, bad := range []place{{"../out-r1", "new"}, {"garage-r1", "../new"}, {"", "new"}, {"a/b-r1", "new"}} {
		if w, err := c.NewSession(t.Context(), bad.rig, bad.session, true); err == nil {
			t.Errorf("rig %q, session %q was taken", bad.rig, bad.session)
			w.Abort()
		}
	}
	requireProblems(t, c, want{Note, Orphan, rawPath(good.LogSHA256)})
}

// TestReplacedWhileRead: a session is read to its end as it was opened, though
// it is imported anew meanwhile.
func TestReplacedWhileRead(t *testing.T) {
	c := newCorpus(t)
	rg := testRig(t, "garage", true)
	if err := c.PutRig(rg); err != nil {
		t.Fatal(err)
	}
	s, sig := testSignal("s", rg, 3*rowGroupRows, 1)
	if err := c.PutSession(t.Context(), s, sig, false); err != nil {
		t.Fatal(err)
	}
	n := 0
	err := c.EachChunk(t.Context(), "s", func(part *dataset.Signal) error {
		if n == 0 {
			again, other := testSignal("s", rg, 100, 2)
			if err := c.PutSession(t.Context(), again, other, true); err != nil {
				return err
			}
		}
		want := sig.Slice(n, n+part.Len())
		if !reflect.DeepEqual(&want, part) {
			t.Errorf("samples from %d on differ", n)
		}
		n += part.Len()
		return nil
	})
	if err != nil || n != sig.Len() {
		t.Errorf("%d samples of %d: %v", n, sig.Len(), err)
	}
	if err := c.EachChunk(t.Context(), "s", func(part *dataset.Signal) error { n = part.Len(); return nil }); err != nil || n != 100 {
		t.Errorf("%d samples of the new session, want 100: %v", n, err)
	}
}

// An error of the caller, or the end of its context, ends the reading and comes
// back as it is.
func TestEachChunkEnds(t *testing.T) {
	c := newCorpus(t)
	addSession(t, c, "monday", testRig(t, "garage", true), 3*rowGroupRows, 1)
	enough := errors.New("enough")
	calls := 0
	stop := func(*dataset.Signal) error { calls++; return enough }
	if err := c.EachChunk(t.Context(), "monday", stop); err != enough || calls != 1 {
		t.Errorf("got %v after %d calls, want %v after one", err, calls, enough)
	}
	ctx, cancel := context.WithCancel(t.Context())
	if err := c.EachChunk(ctx, "monday", func(*dataset.Signal) error { cancel(); return nil }); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want %v", err, context.Canceled)
	}
	whole, err := c.Signal(t.Context(), "monday")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	err = c.EachReading(t.Context(), "monday", []string{"gy_radps", "ax_mps2"}, func(values [][]float32) error {
		if !slices.Equal(values[0], whole.G[1][n:n+len(values[0])]) || !slices.Equal(values[1], whole.A[0][n:n+len(values[0])]) {
			t.Errorf("columns differ from sample %d on", n)
		}
		n += len(values[0])
		return nil
	})
	if err != nil || n != whole.Len() {
		t.Errorf("%d samples of %d: %v", n, whole.Len(), err)
	}
	for _, bad := range []string{"t_ns", "rig", ""} {
		if err := c.EachReading(t.Context(), "monday", []string{bad}, func([][]float32) error { return nil }); err == nil {
			t.Errorf("%q was read as a reading of the sensor", bad)
		}
	}
}

// heapHighWater is the largest heap in use seen while do runs, above that before
// it.
func heapHighWater(do func(look func())) uint64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	base, high := m.HeapAlloc, uint64(0)
	do(func() {
		runtime.GC()
		runtime.ReadMemStats(&m)
		if m.HeapAlloc > base {
			high = max(high, m.HeapAlloc-base)
		}
	})
	return high
}

// TestMemoryStays: what writing, reading and checking a session hold does not
// grow with it.
func TestMemoryStays(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(2)) // each one more takes a compressor's memory
	const most = 50 << 20
	rg := testRig(t, "garage", true)
	_, sig := testSignal("s", rg, rowGroupRows, 1)
	clear(sig.Segment)
	c := newCorpus(t)
	if err := c.PutRig(rg); err != nil {
		t.Fatal(err)
	}
	const groups = 16 // 90 MB of samples
	row, _ := testSignal("s", rg, 1, 1)
	row.Samples, row.Segments, row.LogSHA256 = groups*rowGroupRows, 1, ""
	writing := heapHighWater(func(look func()) {
		w, err := c.NewSession(t.Context(), row.Rig, row.Name, true)
		if err != nil {
			t.Fatal(err)
		}
		defer w.Abort()
		for i := range groups {
			if err := w.Append(t.Context(), sig); err != nil {
				t.Fatal(err)
			}
			for j := range sig.TNs {
				sig.TNs[j] += rowGroupRows * 1_000_000
			}
			if i%8 == 7 {
				look()
			}
		}
		if err := w.Commit(t.Context(), row, false); err != nil {
			t.Fatal(err)
		}
		look()
	})
	reading := heapHighWater(func(look func()) {
		i := 0
		if err := c.EachChunk(t.Context(), "s", func(*dataset.Signal) error {
			if i++; i%8 == 0 {
				look()
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
	})
	if writing > most || reading > most {
		t.Errorf("writing holds %d MB and reading %d MB, want at most %d MB", writing>>20, reading>>20, most>>20)
	}
	t.Logf("writing holds %d MB, reading %d MB", writing>>20, reading>>20)
}

// importAlong keeps a short session together with its rig.
func importAlong(t *testing.T, c *Corpus, name string, r *rig.Rig) error {
	s, sig := testSignal(name, r, 50, 3)
	s.LogSHA256 = ""
	w, err := c.NewSession(t.Context(), s.Rig, s.Name, true)
	if err != nil {
		return err
	}
	w.WithRig(r)
	return errors.Join(w.Append(t.Context(), sig), w.Commit(t.Context(), s, false))
}

// TestRigComesAlong: a rig that is not kept yet comes with the session or not at
// all, and what PutRig refuses is refused before anything is changed.
func TestRigComesAlong(t *testing.T) {
	attic := testRig(t, "attic", true)
	put := func(c *Corpus, name string, r *rig.Rig) error { return importAlong(t, c, name, r) }
	c := newCorpus(t)
	if err := c.PutRig(testRig(t, "garage", true)); err != nil {
		t.Fatal(err)
	}
	if err := put(c, "one", attic); err != nil {
		t.Fatal(err)
	}
	if err := put(c, "two", attic); err != nil { // kept already
		t.Fatal(err)
	}
	if kept, err := c.Rig(attic.Key()); err != nil || len(rig.Diff(kept, attic)) > 0 {
		t.Errorf("kept %v, %v", kept, err)
	}
	requireProblems(t, c)
	before := filesOf(t, c)
	other, upper := testRig(t, "attic", true), testRig(t, "GARAGE", true)
	other.Bag.MassKg++
	for words, err := range map[string]error{
		"exists already":                  put(c, "one", testRig(t, "cellar", true)),
		"differs from the revision":       put(c, "three", other),
		"differs from rig garage-r1 only": put(c, "three", upper),
	} {
		if err == nil || !strings.Contains(err.Error(), words) {
			t.Errorf("got %v, want one with %q", err, words)
		}
	}
	if !reflect.DeepEqual(before, filesOf(t, c)) {
		t.Error("a refused session left its rig, or changed something")
	}
}

// TestRigOfAHalfDoneChange: a rig that was staged for a change which was cut off is
// not taken for a leftover by who keeps another rig.
func TestRigOfAHalfDoneChange(t *testing.T) {
	c := newCorpus(t)
	s, sig := testSignal("one", testRig(t, "attic", true), 50, 3)
	s.LogSHA256 = ""
	ch := &change{About: "importing session one"}
	digest, err := c.stageSamples(t.Context(), ch, &s, sig)
	if err := errors.Join(err, c.stageRow(t.Context(), ch, &s, digest), c.stageRig(ch, testRig(t, "attic", true))); err != nil {
		t.Fatal(err)
	}
	if ch.Steps[0].To != "rigs/attic-r1.toml" {
		t.Errorf("the first step is %+v: a session would be seen without its rig", ch.Steps[0])
	}
	note, err := json.Marshal(ch)
	if err := errors.Join(err, writeFile(c.path(pendingDir+"/0.json"), note)); err != nil {
		t.Fatal(err)
	}
	// Killed here. Another process, which has the corpus open, goes on.
	if err := c.PutRig(testRig(t, "garage", true)); err != nil {
		t.Fatal(err)
	}
	requireProblems(t, c)
	if _, err := c.Rig("attic-r1"); err != nil {
		t.Error(err)
	}
}
