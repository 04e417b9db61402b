package corpus

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
)

// noise is n bytes that do not compress.
func noise(n int) io.Reader {
	data := make([]byte, n)
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range data {
		data[i] = byte(rng.Uint32())
	}
	return bytes.NewReader(data)
}

func TestWritersOfDifferentSessions(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "bag")
	rg := testRig(t, "garage", true)
	shared, err := OpenOrCreate(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := shared.PutRig(rg); err != nil {
		t.Fatal(err)
	}
	const writers = 8
	errs := make([]error, writers)
	var work sync.WaitGroup
	for i := range writers {
		work.Go(func() {
			c := shared
			if i%2 == 1 { // as another process would
				if c, errs[i] = Open(dir); errs[i] != nil {
					return
				}
			}
			for round := range 3 {
				s, sig := testSignal(fmt.Sprintf("s%d", i), rg, 500+round, uint64(100*i+round))
				sha, n, err := keepLog(t.Context(), c, strings.NewReader(fmt.Sprint("log ", i)))
				s.LogSHA256, s.LogBytes = sha, n
				errs[i] = errors.Join(errs[i], err,
					c.PutSession(t.Context(), s, sig, round > 0),
					c.PutStrikes(t.Context(), s.Name, testStrikes(1), Made{}))
				got, err := c.Signal(t.Context(), s.Name)
				if err == nil && got.Len() != 500+round {
					err = fmt.Errorf("read %d samples, want %d", got.Len(), 500+round)
				}
				errs[i] = errors.Join(errs[i], err)
			}
		})
	}
	work.Wait()
	if err := errors.Join(errs...); err != nil {
		t.Fatal(err)
	}
	rows, err := shared.Sessions()
	if err != nil || len(rows) != writers {
		t.Errorf("%d sessions, %v, want %d", len(rows), err, writers)
	}
	requireProblems(t, shared)
}

// TestWritersOfOneSession: of writers at the same time each either does its
// work or is told at once that another is at work.
func TestWritersOfOneSession(t *testing.T) {
	c := newCorpus(t)
	rg := testRig(t, "garage", true)
	if err := c.PutRig(rg); err != nil {
		t.Fatal(err)
	}
	const writers = 8
	errs := make([]error, writers)
	var work sync.WaitGroup
	for i := range writers {
		s, sig := testSignal("monday", rg, 500+i, uint64(i))
		s.LogSHA256 = ""
		work.Go(func() { errs[i] = c.PutSession(t.Context(), s, sig, true) })
	}
	work.Wait()
	done := 0
	for i, err := range errs {
		switch {
		case err == nil:
			done++
		case !errors.Is(err, ErrLocked):
			t.Errorf("writer %d: %v", i, err)
		}
	}
	if done == 0 {
		t.Error("nobody did the work")
	}
	requireProblems(t, c)
}

// TestSameLogTwiceAtOnce: of two imports of one log under two names, one wins.
func TestSameLogTwiceAtOnce(t *testing.T) {
	c := newCorpus(t)
	rg := testRig(t, "garage", true)
	if err := c.PutRig(rg); err != nil {
		t.Fatal(err)
	}
	var errs [2]error
	var work sync.WaitGroup
	for i, name := range []string{"a", "b"} {
		s, sig := testSignal(name, rg, 500, 1)
		keepRaw(t, c, &s)
		s.LogSHA256 = strings.Repeat("ab", 32)
		work.Go(func() { errs[i] = c.PutSession(t.Context(), s, sig, false) })
	}
	work.Wait()
	if (errs[0] == nil) == (errs[1] == nil) {
		t.Errorf("got %v and %v, want one refused", errs[0], errs[1])
	}
}

// TestReadWhileReplaced: a reader sees the old session or the new one, never a
// mixture and never a fault.
func TestReadWhileReplaced(t *testing.T) {
	c := newCorpus(t)
	rg := testRig(t, "garage", true)
	if err := c.PutRig(rg); err != nil {
		t.Fatal(err)
	}
	put := func(n int) error {
		s, sig := testSignal("monday", rg, n, uint64(n))
		return c.PutSession(t.Context(), s, sig, true)
	}
	if err := put(100); err != nil {
		t.Fatal(err)
	}
	done := make(chan error)
	go func() {
		var err error
		for n := 101; n < 130 && err == nil; n++ {
			err = put(n)
		}
		done <- err
	}()
	for reads := 0; ; reads++ {
		select {
		case err := <-done:
			if err != nil || reads == 0 {
				t.Errorf("%d reads, writer: %v", reads, err)
			}
			return
		default:
		}
		sig, err := c.Signal(t.Context(), "monday")
		if err != nil {
			t.Fatal(err)
		}
		if _, want := testSignal("monday", rg, sig.Len(), uint64(sig.Len())); sig.A[2][sig.Len()-1] != want.A[2][sig.Len()-1] {
			t.Fatal("the signal is a mixture")
		}
	}
}

func TestLock(t *testing.T) {
	c := fixture(t)
	other, err := Open(c.Dir())
	if err != nil {
		t.Fatal(err)
	}
	release, err := c.Lock("monday")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := other.Lock("monday"); !errors.Is(err, ErrLocked) || !strings.Contains(err.Error(), "(process ") {
		t.Errorf("second Lock: got %v, want ErrLocked and the process", err)
	}
	if err := other.PutStrikes(t.Context(), "monday", nil, Made{}); !errors.Is(err, ErrLocked) {
		t.Errorf("PutStrikes beside a lock: got %v, want ErrLocked", err)
	}
	if err := other.PutStrikes(t.Context(), "tuesday", nil, Made{}); err != nil {
		t.Errorf("PutStrikes of another session: %v", err)
	}
	if err := c.PutStrikes(t.Context(), "monday", testStrikes(6), Made{}); err != nil {
		t.Errorf("PutStrikes by the holder: %v", err)
	}
	if err := release(); err != nil {
		t.Fatal(err)
	}
	if err := other.PutStrikes(t.Context(), "monday", nil, Made{}); err != nil {
		t.Errorf("PutStrikes after the release: %v", err)
	}
}

// TestNoLocks: where the file system has no locks the refusal says so; an error
// of another kind keeps its own remedy.
func TestNoLocks(t *testing.T) {
	for err, want := range map[error]string{
		syscall.ENOSYS: "has no file locks",
		syscall.ENOLCK: "has no file locks",
		syscall.EROFS:  "cannot be written",
	} {
		got := explainLock("x.lock", &fs.PathError{Op: "lock", Path: "x.lock", Err: err})
		if !errors.Is(got, err) || !strings.Contains(got.Error(), want) {
			t.Errorf("%v: got %v, want %q", err, got, want)
		}
	}
}

func TestCancelledWriteChangesNothing(t *testing.T) {
	c := fixture(t)
	before := filesOf(t, c)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	s, sig := testSignal("monday", testRig(t, "garage", true), 500, 1)
	_, _, rawErr := keepLog(ctx, c, strings.NewReader("log"))
	for what, err := range map[string]error{
		"PutSession": c.PutSession(ctx, s, sig, true),
		"PutStrikes": c.PutStrikes(ctx, "monday", nil, Made{}),
		"Keep":       rawErr,
	} {
		if !errors.Is(err, context.Canceled) {
			t.Errorf("%s: got %v, want %v", what, err, context.Canceled)
		}
	}
	after := filesOf(t, c)
	if len(before) != len(after) {
		t.Errorf("%d files, want %d", len(after), len(before))
	}
}

// TestSameInputSameBytes writes the same corpus twice and compares all files.
func TestSameInputSameBytes(t *testing.T) {
	a, b := filesOf(t, fixture(t)), filesOf(t, fixture(t))
	if len(a) != len(b) {
		t.Errorf("%d and %d files", len(a), len(b))
	}
	for name := range a {
		if a[name] != b[name] {
			t.Errorf("%s differs", name)
		}
	}
}
