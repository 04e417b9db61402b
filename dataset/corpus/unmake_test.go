package corpus

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
)

// below lists what lies in a folder, folders too.
func below(t *testing.T, dir string) (names []string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(name string, _ fs.DirEntry, err error) error {
		names = append(names, name)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return names
}

// TestUnmake: a corpus that was made for nothing leaves nothing behind, and any
// other stays.
func TestUnmake(t *testing.T) {
	for name, q := range map[string]struct {
		before func(t *testing.T, dir string)
		since  func(t *testing.T, c *Corpus)
		stays  bool
	}{
		"new, with the folders above": {nil, nil, false},
		"in a folder": {func(t *testing.T, dir string) {
			if err := errors.Join(os.MkdirAll(dir, 0o777), os.WriteFile(filepath.Join(dir, "notes.txt"), nil, 0o666)); err != nil {
				t.Fatal(err)
			}
		}, nil, false},
		"with a session given up": {nil, func(t *testing.T, c *Corpus) {
			s, sig := testSignal("one", testRig(t, "garage", true), 50, 3)
			w, err := c.NewSession(t.Context(), s.Rig, s.Name, true)
			if err != nil {
				t.Fatal(err)
			}
			log, err := c.NewRaw(t.Context())
			if err := errors.Join(err, w.Append(t.Context(), sig), w.Abort(), log.Abort()); err != nil {
				t.Fatal(err)
			}
		}, false},
		"there before": {func(t *testing.T, dir string) {
			if _, err := OpenOrCreate(dir); err != nil {
				t.Fatal(err)
			}
		}, nil, true},
		"with a rig": {nil, func(t *testing.T, c *Corpus) {
			if err := c.PutRig(testRig(t, "garage", true)); err != nil {
				t.Fatal(err)
			}
		}, true},
		"with somebody at work": {nil, func(t *testing.T, c *Corpus) {
			other, err := Open(c.Dir())
			if err != nil {
				t.Fatal(err)
			}
			release, err := other.Lock("one")
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() {
				if err := release(); err != nil {
					t.Error(err)
				}
			})
		}, true},
	} {
		t.Run(name, func(t *testing.T) {
			top := t.TempDir()
			dir := filepath.Join(top, "gyms", "bag")
			if q.before != nil {
				q.before(t, dir)
			}
			before := below(t, top)
			c, err := OpenOrCreate(dir)
			if err != nil {
				t.Fatal(err)
			}
			if q.since != nil {
				q.since(t, c)
			}
			if err := c.Unmake(t.Context()); err != nil {
				t.Fatal(err)
			}
			if q.stays {
				if _, err := Open(dir); err != nil {
					t.Error(err)
				}
			} else if left := below(t, top); !slices.Equal(left, before) {
				t.Errorf("left %q, before %q", left, before)
			}
		})
	}
}

// TestUnmakeBesideOthers: what one keeps stays, whoever makes and unmakes the same
// corpus meanwhile; and nobody is left with half a corpus.
func TestUnmakeBesideOthers(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "bag")
	rg := testRig(t, "garage", true)
	const workers, rounds = 4, 6
	kept := make([]string, workers)
	var wait sync.WaitGroup
	for k := range workers {
		wait.Go(func() {
			for i := range rounds {
				c, err := OpenOrCreate(dir)
				if err != nil {
					if !errors.Is(err, fs.ErrNotExist) { // just unmade
						t.Error(err)
					}
					continue
				}
				if i == rounds-1 && k%2 == 0 {
					name := fmt.Sprint("s", k)
					if importAlong(t, c, name, rg) == nil {
						kept[k] = name
					}
				}
				if err := c.Unmake(t.Context()); err != nil && !errors.Is(err, fs.ErrNotExist) {
					t.Error(err)
				}
			}
		})
	}
	wait.Wait()
	c, err := OpenOrCreate(dir) // not refused for folders without a mark
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range kept {
		if name != "" {
			if _, err := c.Session(name); err != nil {
				t.Error(err)
			}
		}
	}
	requireProblems(t, c)
}
