package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// workspace is where data lies while it is measured, and the program that is.
type workspace struct {
	dir     string
	program string
	self    string // bench itself, for work that is to be measured or kept out of this process
}

// path joins a name below the workspace.
func (w *workspace) path(elem ...string) string {
	return filepath.Join(append([]string{w.dir}, elem...)...)
}

// in makes a workspace, hands it to do, and removes it unless --scratch names it.
func (a *app) in(ctx context.Context, do func(*workspace) error) (err error) {
	dir := a.scratch
	if dir == "" {
		if dir, err = os.MkdirTemp("", "strikerose-bench-*"); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	} else if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	if dir, err = filepath.Abs(dir); err != nil {
		return err
	}
	self, err := os.Executable()
	if err != nil {
		return err
	}
	w := &workspace{dir: dir, program: a.program, self: self}
	if w.program == "" {
		w.program = w.path("strikerose")
		if err := build(ctx, w.program, "-s -w"); err != nil {
			return err
		}
	}
	return do(w)
}

// build compiles strikerose from the module that the working directory is in.
func build(ctx context.Context, output, linkerFlags string) error {
	root, err := moduleRoot(ctx)
	if err != nil {
		return err
	}
	cmd := command(ctx, "go", "build", "-trimpath", "-ldflags", linkerFlags, "-o", output, "./cmd/strikerose")
	cmd.Dir = root
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	_, _, err = measure(cmd)
	return err
}

// moduleRoot is the folder of the module's go.mod.
func moduleRoot(ctx context.Context) (string, error) {
	out, err := exec.CommandContext(ctx, "go", "env", "GOMOD").Output()
	if err != nil {
		return "", fmt.Errorf("go env: %w", err)
	}
	mod := strings.TrimSpace(string(out))
	if filepath.Base(mod) != "go.mod" {
		return "", errors.New("no go.mod here: run bench inside the sources of strikerose, or name a program with --program")
	}
	return filepath.Dir(mod), nil
}

// exists tells whether a file or folder is there.
func exists(path string) bool {
	_, err := os.Stat(path)
	return !errors.Is(err, fs.ErrNotExist)
}

// sizeOf is the size of all files at or below a path.
func sizeOf(path string) (size int64, err error) {
	err = filepath.WalkDir(path, func(_ string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		if err == nil {
			size += info.Size()
		}
		return err
	})
	return size, err
}
