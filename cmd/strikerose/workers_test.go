package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
)

// Eight jobs at once, a process for each command, make the corpus that one makes
// alone: the same files with the same bytes, from the first that creates the
// corpus to the last. A job that runs again changes nothing.
func TestEightWorkers(t *testing.T) {
	long(t)
	dir := fixture(t)
	const sessions, workers = 16, 8
	var names []string
	for i := range sessions {
		name := fmt.Sprintf("evening%02d", i+1)
		mustRun(t, "simulate", "--rig", filepath.Join(dir, "hall.toml"), "--strikes", "12", "--seed", fmt.Sprint(i+1), "-o", filepath.Join(dir, name))
		names = append(names, name)
	}
	// job runs the commands of one session, as a task of a job array would.
	job := func(gym, name string, seed int) error {
		in := func(file string) string { return filepath.Join(dir, name, file) }
		for _, args := range [][]string{
			{"import", "--rig", filepath.Join(dir, "hall.toml"), "--striker", "anna", "--session", name, "--force", in(fmt.Sprintf("simulated-%d.bin", seed))},
			{"find", "--sessions", name},
			{"label", "truth", "--session", name, "--complete", "--author", "simulation", in("truth.csv")},
			{"features", "--sessions", name},
		} {
			cmd := program(t, append(args, "-C", gym)...)
			cmd.Env = append(os.Environ(), epochVariable+"=1700000000")
			if out, err := cmd.CombinedOutput(); err != nil {
				return fmt.Errorf("session %s: %s: %w\n%s", name, args[0], err, out)
			}
		}
		return nil
	}
	alone, together := filepath.Join(dir, "alone", "gym"), filepath.Join(dir, "together", "gym")
	for i, name := range names {
		if err := job(alone, name, i+1); err != nil {
			t.Fatal(err)
		}
	}
	atOnce := func() {
		t.Helper()
		errs := make([]error, workers)
		var work sync.WaitGroup
		for w := range workers {
			work.Go(func() {
				for i := w; i < sessions; i += workers {
					errs[w] = errors.Join(errs[w], job(together, names[i], i+1))
				}
			})
		}
		work.Wait()
		if err := errors.Join(errs...); err != nil {
			t.Fatal(err)
		}
		requireSameFiles(t, alone, together)
	}
	atOnce()
	mustRun(t, "check", "-C", together)
	atOnce()
}

// requireSameFiles compares two directories but for lock files.
func requireSameFiles(t *testing.T, want, got string) {
	t.Helper()
	a, b := filesBelow(t, want), filesBelow(t, got)
	for _, name := range slices.Sorted(maps.Keys(a)) {
		other, ok := b[name]
		switch {
		case !ok:
			t.Errorf("%s is missing", name)
		case !bytes.Equal(a[name], other):
			t.Errorf("%s differs", name)
		}
		delete(b, name)
	}
	for name := range b {
		t.Errorf("%s is one too many", name)
	}
	if len(a) == 0 {
		t.Errorf("%s: holds no files", want)
	}
}

// filesBelow reads all files of a directory but lock files.
func filesBelow(t *testing.T, dir string) map[string][]byte {
	t.Helper()
	files := map[string][]byte{}
	err := fs.WalkDir(os.DirFS(dir), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasSuffix(name, ".lock") {
			return err
		}
		files[name], err = os.ReadFile(filepath.Join(dir, name))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}
