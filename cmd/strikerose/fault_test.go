package main

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
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

// refused runs a command line that has to fail with these words.
func refused(t *testing.T, words string, args ...string) {
	t.Helper()
	status, out, errs := inProcess(t, args...)
	if text := strings.Join(strings.Fields(errs), " "); status != exitFailed || !strings.Contains(text, words) {
		t.Errorf("strikerose %s: exit status %d, want %d and %q:\n%s%s", strings.Join(args, " "), status, exitFailed, words, out, errs)
	}
}

// A disk that is full when a labelled corpus is worked on loses nothing.
func TestFullDiskKeepsLabels(t *testing.T) {
	long(t)
	if os.Geteuid() != 0 {
		t.Skip("a small file system can be mounted by root only")
	}
	gym, dir := gymWithStrikes(t)
	mustRun(t, "label", "plan", "-C", gym, "--session", "monday", filepath.Join(dir, "monday-plan.csv"))
	mustRun(t, "features", "-C", gym)
	small := t.TempDir()
	if err := syscall.Mount("tmpfs", small, "tmpfs", 0, "size=12m"); err != nil {
		t.Skipf("a small file system cannot be mounted here: %v", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(small, 0); err != nil {
			t.Error(err)
		}
	})
	full := filepath.Join(small, "gym")
	if err := os.CopyFS(full, os.DirFS(gym)); err != nil {
		t.Fatal(err)
	}
	mustRun(t, "check", "-C", full) // makes what locks need
	before, labels := everyFile(t, full), mustRun(t, "label", "list", "-C", full, "--all", "-o", "-")
	fill, err := os.Create(filepath.Join(small, "fill"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(fill, zeros{}); !errors.Is(err, syscall.ENOSPC) {
		t.Fatalf("filling the file system: %v", err)
	}
	const words = "no space left on device"
	rig, log := filepath.Join(dir, "hall.toml"), filepath.Join(dir, "monday.csv.zst")
	refused(t, words, "find", "-C", full)
	refused(t, words, "features", "-C", full)
	refused(t, words, "label", "truth", "-C", full, "--session", "monday", filepath.Join(dir, "monday-truth.csv"))
	refused(t, words, "import", "-C", full, "--rig", rig, "--force", log)
	refused(t, words, "session", "set", "-C", full, "monday", "--striker", "eva")
	refused(t, words, "session", "rename", "-C", full, "monday", "evening")
	refused(t, words, "label", "list", "-C", full, "-o", filepath.Join(small, "labels.csv"))
	requireSame(t, full, before)
	if err := errors.Join(fill.Close(), os.Remove(fill.Name())); err != nil {
		t.Fatal(err)
	}
	mustRun(t, "check", "-C", full)
	if now := mustRun(t, "label", "list", "-C", full, "--all", "-o", "-"); now != labels {
		t.Error("labels have changed on a full disk")
	}
	mustRun(t, "session", "rename", "-C", full, "monday", "evening")
	mustRun(t, "check", "-C", full)
}

// zeros reads without end.
type zeros struct{}

func (zeros) Read(p []byte) (int, error) { return len(p), nil }

// Somebody who may read a corpus but not write it reads it, and is told what to
// do about the rest.
func TestNoPermission(t *testing.T) {
	long(t)
	if runtime.GOOS != "linux" {
		t.Skip("runs the command as another user of Linux")
	}
	gym, dir := gymWithStrikes(t)
	as := func(args ...string) (out string, err error) {
		cmd := exec.Command(os.Args[0], args...)
		cmd.Args[0] = "strikerose"
		text, err := cmd.CombinedOutput()
		return string(text), err
	}
	if os.Geteuid() == 0 { // permissions do not bind root
		const nobody = 65534
		self := filepath.Join(dir, "strikerose")
		copyFile(t, os.Args[0], self)
		for d := dir; d != filepath.Dir(d); d = filepath.Dir(d) {
			info, err := os.Stat(d)
			if err != nil {
				t.Fatal(err)
			}
			if info.Mode()&0o005 != 0o005 {
				if err := os.Chmod(d, info.Mode()|0o055); err != nil {
					t.Fatal(err)
				}
			}
		}
		as = func(args ...string) (out string, err error) {
			cmd := exec.Command(self, args...)
			cmd.Dir = dir
			cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
			text, err := cmd.CombinedOutput()
			return string(text), err
		}
	} else {
		err := filepath.WalkDir(gym, func(path string, d fs.DirEntry, err error) error {
			if err == nil && d.IsDir() {
				err = os.Chmod(path, 0o555)
				t.Cleanup(func() { _ = os.Chmod(path, 0o755) })
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	before := everyFile(t, gym)
	for _, line := range []string{"session list", "check", "label list -o -", "session show monday"} {
		if out, err := as(append(strings.Fields(line), "-C", gym)...); err != nil {
			t.Errorf("strikerose %s by one who may read: %v\n%s", line, err, out)
		}
	}
	rig := filepath.Join(dir, "hall.toml")
	for _, line := range []string{
		"find", "features", "label plan --session monday " + filepath.Join(dir, "monday-plan.csv"),
		"session drop monday", "session rename monday other", "session set monday --striker eva",
		"import --rig " + rig + " --session new " + filepath.Join(dir, "friday.bin.zst"),
	} {
		out, err := as(append(strings.Fields(line), "-C", gym)...)
		if text := strings.Join(strings.Fields(out), " "); err == nil || !strings.Contains(text, "permission denied") || !strings.Contains(text, "change its permissions, or copy it to where you may write") {
			t.Errorf("strikerose %s by one who may not write: %v\n%s", line, err, out)
		}
	}
	out, err := as("label", "list", "-C", gym, "-o", filepath.Join(gym, "labels.csv"))
	if err == nil || !strings.Contains(strings.Join(strings.Fields(out), " "), "permission denied: name a place where you may write") {
		t.Errorf("an output where one may not write: %v\n%s", err, out)
	}
	requireSame(t, gym, before)
}

func copyFile(t *testing.T, from, to string) {
	t.Helper()
	data, err := os.ReadFile(from)
	if err == nil {
		err = os.WriteFile(to, data, 0o755)
	}
	if err != nil {
		t.Fatal(err)
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
