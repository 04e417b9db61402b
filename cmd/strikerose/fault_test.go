package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// everyFile returns what is in every file below a directory, lock files aside.
func everyFile(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := make(map[string]string)
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.Contains(path, ".locks") {
			return err
		}
		data, err := os.ReadFile(path)
		out[path] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// requireSame fails unless a directory holds what it held before.
func requireSame(t *testing.T, dir string, before map[string]string) {
	t.Helper()
	now := everyFile(t, dir)
	for path, data := range now {
		if was, ok := before[path]; !ok || was != data {
			t.Errorf("%s is new or has changed", path)
		}
	}
	for path := range before {
		if _, ok := now[path]; !ok {
			t.Errorf("%s is gone", path)
		}
	}
}

// Of commands that write one session at once each does its work or is told that
// another is at work.
func TestWritersAtOnce(t *testing.T) {
	long(t)
	dir := fixture(t)
	gym, rig, log := filepath.Join(dir, "gym"), filepath.Join(dir, "hall.toml"), filepath.Join(dir, "monday.csv.zst")
	atOnce := func(lines ...[]string) (done int) {
		t.Helper()
		var work sync.WaitGroup
		out, errs := make([]string, len(lines)), make([]error, len(lines))
		for i, line := range lines {
			cmd := program(t, append(line, "-C", gym)...)
			work.Go(func() {
				text, err := cmd.CombinedOutput()
				out[i], errs[i] = strings.Join(strings.Fields(string(text)), " "), err
			})
		}
		work.Wait()
		for i, err := range errs {
			switch {
			case err == nil:
				done++
			case !strings.Contains(out[i], "another writer is at work") && !strings.Contains(out[i], "is in the corpus already") && !strings.Contains(out[i], "no windows yet"):
				t.Errorf("strikerose %s: %v\n%s", strings.Join(lines[i], " "), err, out[i])
			}
		}
		mustRun(t, "check", "-C", gym)
		return done
	}
	once := []string{"import", "--rig", rig, log}
	if done := atOnce(once, once); done != 1 {
		t.Errorf("%d of two imports of one session are done, want 1", done)
	}
	again, find := []string{"import", "--rig", rig, "--force", log}, []string{"find"}
	plan := []string{"label", "plan", "--session", "monday", filepath.Join(dir, "monday-plan.csv")}
	if done := atOnce(again, find); done == 0 {
		t.Error("neither import nor find is done")
	}
	mustRun(t, "find", "-C", gym)
	if done := atOnce(plan, find, plan); done == 0 {
		t.Error("neither label plan nor find is done")
	}
	mustRun(t, "find", "-C", gym)
	mustRun(t, "label", "plan", "-C", gym, "--session", "monday", filepath.Join(dir, "monday-plan.csv"))
	mustRun(t, "check", "-C", gym)
}

// Files from the future or the distant past are worked on like others.
func TestClockSetBack(t *testing.T) {
	long(t)
	gym, _ := gymWithStrikes(t)
	for _, year := range []int{2100, 1971} {
		when := time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC)
		err := filepath.WalkDir(gym, func(path string, d fs.DirEntry, err error) error {
			return errors.Join(err, os.Chtimes(path, when, when))
		})
		if err != nil {
			t.Fatal(err)
		}
		mustRun(t, "session", "set", "-C", gym, "monday", "--striker", "eva")
		if out := mustRun(t, "session", "list", "-C", gym); !strings.Contains(out, "eva") {
			t.Errorf("files of %d: the striker is not taken up:\n%s", year, out)
		}
		mustRun(t, "find", "-C", gym)
		mustRun(t, "session", "set", "-C", gym, "monday", "--striker", "ben")
		mustRun(t, "check", "-C", gym)
	}
}
