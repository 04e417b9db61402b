package main

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// Somebody who may read a corpus but not write it reads it, and is told what to
// do about the rest.
func TestNoPermission(t *testing.T) {
	long(t)
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
