package main

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A full disk refuses the import, and the corpus stays whole.
func TestFullDisk(t *testing.T) {
	long(t)
	if os.Geteuid() != 0 {
		t.Skip("a small file system can be mounted by root only")
	}
	small := t.TempDir()
	if err := syscall.Mount("tmpfs", small, "tmpfs", 0, "size=3m"); err != nil {
		t.Skipf("a small file system cannot be mounted here: %v", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(small, 0); err != nil {
			t.Error(err)
		}
	})
	dir := fixture(t)
	gym, rig := filepath.Join(small, "gym"), filepath.Join(dir, "hall.toml")
	tiny := filepath.Join(dir, "tiny.csv")
	var b bytes.Buffer
	b.WriteString("t_us,ax,ay,az,gx,gy,gz\n")
	for i := range 2000 {
		b.WriteString(strings.Join([]string{itoa(1000 * i), itoa(i % 5), itoa(i % 3), itoa(2048 + i%7), "0", "1", "2"}, ",") + "\n")
	}
	if err := os.WriteFile(tiny, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	mustRun(t, "import", "-C", gym, "--rig", rig, tiny)
	status, _, errs := inProcess(t, "import", "-C", gym, "--rig", rig, filepath.Join(dir, "monday.csv.zst"), filepath.Join(dir, "friday.bin.zst"))
	if status != exitFailed || !strings.Contains(errs, "no space left on device") {
		t.Errorf("import on a full disk: exit status %d, want %d:\n%s", status, exitFailed, errs)
	}
	if status, out, errs := inProcess(t, "check", "-C", gym); status != exitDone {
		t.Errorf("check after a full disk: exit status %d:\n%s%s", status, out, errs)
	}
	if out := mustRun(t, "session", "list", "-C", gym); !strings.Contains(out, "tiny") {
		t.Errorf("the session from before the full disk is gone:\n%s", out)
	}

	// No rig is left of it, and no corpus that was made for it.
	text, err := os.ReadFile(rig)
	if err != nil {
		t.Fatal(err)
	}
	attic := filepath.Join(dir, "attic.toml")
	if err := os.WriteFile(attic, bytes.Replace(text, []byte(`"hall"`), []byte(`"attic"`), 1), 0o644); err != nil {
		t.Fatal(err)
	}
	fill, err := os.Create(filepath.Join(small, "fill"))
	if err != nil {
		t.Fatal(err)
	}
	n, _ := io.Copy(fill, zeros{})
	if err := errors.Join(fill.Truncate(n-200<<10), fill.Close()); err != nil { // room for a start
		t.Fatal(err)
	}
	before := everyFile(t, gym)
	const words = "no space left on device"
	refused(t, words, "import", "-C", gym, "--rig", attic, "--session", "evening", filepath.Join(dir, "friday.bin.zst"))
	requireSame(t, gym, before)
	fresh := filepath.Join(small, "gyms", "fresh")
	refused(t, words, "import", "-C", fresh, "--rig", attic, filepath.Join(dir, "monday.csv.zst"))
	if _, err := os.Lstat(filepath.Dir(fresh)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a corpus that nothing was imported into is left (%v)", err)
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
