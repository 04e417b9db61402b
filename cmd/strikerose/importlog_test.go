package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"
)

// silent is a pipe that says something and then nothing more.
type silent struct {
	first   io.Reader
	waiting chan struct{}
}

func (s *silent) Read(p []byte) (int, error) {
	if n, _ := s.first.Read(p); n > 0 {
		return n, nil
	}
	close(s.waiting)
	select {}
}

// What is read once is decoded and kept alike, whatever pieces it comes in.
func TestReadOnce(t *testing.T) {
	log := make([]byte, 3*blocksOnTheWay*blockBytes+12345)
	random := rand.NewChaCha8([32]byte{1})
	_, _ = random.Read(log)
	for name, in := range map[string]io.Reader{
		"whole":           bytes.NewReader(log),
		"halves":          iotest.HalfReader(bytes.NewReader(log)),
		"data with error": iotest.DataErrReader(bytes.NewReader(log)),
	} {
		var kept bytes.Buffer
		settled := -1
		l := readOnce(t.Context(), logFile{path: "-"}, in, keeping{&kept, func() error { settled = kept.Len(); return nil }})
		got, err := io.ReadAll(l)
		l.close()
		if err != nil || !bytes.Equal(got, log) || !bytes.Equal(kept.Bytes(), log) || settled != len(log) {
			t.Errorf("%s: %d bytes decoded, %d kept and %d settled of %d, error %v", name, len(got), kept.Len(), settled, len(log), err)
		}
	}
}

// An error of the disk ends the reading, as does one of the pipe; and an
// interrupt ends it though the pipe is silent.
func TestReadOnceEnds(t *testing.T) {
	broken := errors.New("broken")
	in := io.MultiReader(bytes.NewReader(make([]byte, 10)), iotest.ErrReader(broken))
	l := readOnce(t.Context(), logFile{path: "-"}, in, keeping{Writer: io.Discard})
	if got, err := io.ReadAll(l); len(got) != 10 || err != broken {
		t.Errorf("a broken pipe gives %d bytes and %v", len(got), err)
	}
	l.close()

	pipe := &silent{bytes.NewReader([]byte("t,ax\n")), make(chan struct{})}
	l = readOnce(t.Context(), logFile{path: "-"}, pipe, keeping{Writer: failing{broken}})
	if _, err := io.ReadAll(l); err != broken {
		t.Errorf("a full disk gives %v", err)
	}
	l.close()

	ctx, cancel := context.WithCancel(t.Context())
	pipe = &silent{bytes.NewReader([]byte("t,ax\n")), make(chan struct{})}
	l = readOnce(ctx, logFile{path: "-"}, pipe, keeping{Writer: io.Discard})
	go func() {
		<-pipe.waiting
		cancel()
	}()
	if _, err := io.ReadAll(l); err != context.Canceled {
		t.Errorf("an interrupt gives %v", err)
	}
	l.close()

	if _, err := io.ReadAll(readOnce(t.Context(), logFile{path: filepath.Join(t.TempDir(), "none")}, nil, keeping{Writer: io.Discard})); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a file that is not there gives %v", err)
	}
}

type keeping struct {
	io.Writer
	settle func() error // nil: never comes to that
}

func (k keeping) Settle() error { return k.settle() }

func (keeping) SHA256() string { return "" }

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

// A log that is refused leaves every file of the corpus as it was: one refused at
// its start, and one at its end.
func TestRefusedLog(t *testing.T) {
	dir := fixture(t)
	gym, rig := filepath.Join(dir, "gym"), filepath.Join(dir, "hall.toml")
	mustRun(t, "import", "-C", gym, "--rig", rig, filepath.Join(dir, "friday.bin.zst"))
	before := contents(t, gym)
	short := filepath.Join(dir, "short.csv")
	if err := os.WriteFile(short, []byte("t_us,ax,ay,az\n1,2,3,4\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, line := range [][]string{
		{"--rig", rig, short},
		{"--rig", rig, "--accel-unit", "m/s2", filepath.Join(dir, "monday.csv.zst")},
		{"--rig", rig, "--session", "again", filepath.Join(dir, "friday.bin.zst")},
	} {
		if status, _, errs := inProcess(t, append([]string{"import", "-C", gym}, line...)...); status != exitFailed {
			t.Fatalf("import %q: exit status %d:\n%s", line, status, errs)
		}
		if diff := cmp.Diff(before, contents(t, gym)); diff != "" {
			t.Errorf("import %q changed the corpus (-before +after):\n%s", line, diff)
		}
	}
}

// contents reads all files below a directory but locks.
func contents(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() || filepath.Ext(path) == ".lock" {
			return err
		}
		b, err := os.ReadFile(path)
		files[path] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}
