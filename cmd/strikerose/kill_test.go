package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"strikerose/dataset/corpus"
	"strikerose/testdata/recordings"
)

// fixture copies the recordings into a new directory.
func fixture(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, recordings.Files); err != nil {
		t.Fatal(err)
	}
	return dir
}

// inProcess runs a command line in this process.
func inProcess(t *testing.T, args ...string) (status int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	status = run(context.Background(), args, testWorld(&o, &e))
	return status, o.String(), e.String()
}

// mustRun runs a command line that has to succeed.
func mustRun(t *testing.T, args ...string) string {
	t.Helper()
	status, out, errs := inProcess(t, args...)
	if status != exitDone {
		t.Fatalf("strikerose %s: exit status %d:\n%s", strings.Join(args, " "), status, errs)
	}
	return out
}

// program is this test binary run as strikerose.
func program(t *testing.T, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	return &exec.Cmd{Path: self, Args: append([]string{"strikerose"}, args...)}
}

// An import that is killed at any moment leaves the old session or the new
// one, and a corpus that check passes.
func TestKilledImport(t *testing.T) {
	long(t)
	dir := fixture(t)
	gym, rig, log := filepath.Join(dir, "gym"), filepath.Join(dir, "hall.toml"), filepath.Join(dir, "monday.csv.zst")
	mustRun(t, "import", "-C", gym, "--rig", rig, "--striker", "old", log)
	start := time.Now()
	mustRun(t, "import", "-C", gym, "--rig", rig, "--striker", "old", "--force", log)
	whole := time.Since(start)

	const kills = 12
	killed := 0
	for i := range kills {
		cmd := program(t, "import", "-C", gym, "--rig", rig, "--striker", "new", "--force", log)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(whole * time.Duration(i+1) / kills)
		_ = cmd.Process.Kill()
		if err := cmd.Wait(); err != nil {
			killed++
		}
		if status, out, errs := inProcess(t, "check", "-C", gym); status != exitDone {
			t.Fatalf("killed after %d/%d of an import, check fails:\n%s%s", i+1, kills, out, errs)
		}
		c, err := corpus.Open(gym)
		if err != nil {
			t.Fatal(err)
		}
		s, err := c.Session("monday")
		if err != nil || s.Striker != "old" && s.Striker != "new" {
			t.Fatalf("killed after %d/%d of an import: session %+v, %v", i+1, kills, s, err)
		}
	}
	if killed == 0 {
		t.Error("no import was killed in time")
	}
	mustRun(t, "import", "-C", gym, "--rig", rig, "--striker", "new", "--force", log)
	mustRun(t, "check", "-C", gym)
}

// An interrupt ends with status 130 and leaves the corpus as it was.
func TestInterruptedImport(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("Go sends no interrupts to programs there")
	}
	dir := fixture(t)
	gym := filepath.Join(dir, "gym")
	mustRun(t, "import", "-C", gym, "--rig", filepath.Join(dir, "hall.toml"), filepath.Join(dir, "monday.csv.zst"))
	cmd := program(t, "import", "-C", gym, "--rig", filepath.Join(dir, "hall.toml"), "--session", "piped", "-")
	stdin, err := cmd.StdinPipe() // which never ends
	if err != nil {
		t.Fatal(err)
	}
	defer stdin.Close()
	var errs bytes.Buffer
	cmd.Stderr = &errs
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	log := []byte("t_us,ax,ay,az,gx,gy,gz\n")
	for i := range 20_000 { // more than a pipe holds: it is being read once this is written
		log = fmt.Appendf(log, "%d,0,0,2048,0,0,0\n", 1000*i)
	}
	if _, err := stdin.Write(log); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	_ = cmd.Wait()
	if got := cmd.ProcessState.ExitCode(); got != exitInterrupted {
		t.Errorf("an interrupted import ends with status %d, want %d\n%s", got, exitInterrupted, errs.String())
	}
	if want := "strikerose: interrupted\n"; errs.String() != want {
		t.Errorf("an interrupted import says %q, want %q", errs.String(), want)
	}
	if out := mustRun(t, "session", "list", "-C", gym); strings.Contains(out, "piped") {
		t.Errorf("an interrupted import left a session:\n%s", out)
	}
	mustRun(t, "check", "-C", gym)
}

// A second writer of a session is refused; one of another session is not.
func TestSecondWriter(t *testing.T) {
	dir := fixture(t)
	gym, rig := filepath.Join(dir, "gym"), filepath.Join(dir, "hall.toml")
	mustRun(t, "import", "-C", gym, "--rig", rig, filepath.Join(dir, "monday.csv.zst"))
	c, err := corpus.Open(gym)
	if err != nil {
		t.Fatal(err)
	}
	release, err := c.Lock("monday")
	if err != nil {
		t.Fatal(err)
	}
	out, err := program(t, "import", "-C", gym, "--rig", rig, "--force", filepath.Join(dir, "monday.csv.zst")).CombinedOutput()
	if err == nil || !strings.Contains(string(out), "session monday: another writer is at work") {
		t.Errorf("a second writer of a session: %v\n%s", err, out)
	}
	out, err = program(t, "find", "-C", gym).CombinedOutput()
	if err == nil || !strings.Contains(string(out), "session monday: another writer is at work") {
		t.Errorf("find beside another writer: %v\n%s", err, out)
	}
	if out, err := program(t, "import", "-C", gym, "--rig", rig, filepath.Join(dir, "friday.bin.zst")).CombinedOutput(); err != nil {
		t.Errorf("a writer of another session is refused: %v\n%s", err, out)
	}
	if err := release(); err != nil {
		t.Fatal(err)
	}
	mustRun(t, "find", "-C", gym)
	mustRun(t, "check", "-C", gym)
}
