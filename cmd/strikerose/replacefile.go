package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"

	"github.com/gofrs/flock"
	"strikerose/dataset/folder"
)

// replaceFile hands write a file that takes the place of the one at path when
// write is done: what fails, is interrupted or is killed leaves the old one.
// What killed commands left of the same output is removed.
func replaceFile(path string, write func(io.Writer) error) (err error) {
	f, release, err := newTemporary(path)
	if err != nil {
		return fmt.Errorf("%s: cannot be written: %w", path, mendable(err))
	}
	defer func() {
		if err != nil {
			os.Remove(f.Name())
		}
		release()
	}()
	defer f.Close()
	removeAbandoned(path, f.Name())
	if err := write(f); err != nil {
		return mendable(err)
	}
	if err := errors.Join(f.Chmod(0o644), f.Sync(), f.Close()); err != nil {
		return fmt.Errorf("%s: %w", path, mendable(err))
	}
	if err := folder.Rename(f.Name(), path); err != nil {
		return fmt.Errorf("%s: %w", path, mendable(err))
	}
	return syncFolder(filepath.Dir(path))
}

// temporaryName is how the names of files start and end that will be renamed to
// path.
func temporaryName(path string) (start, end string) { return "." + filepath.Base(path) + ".", ".tmp" }

// locksWrite tells whether a file that is locked can be written and renamed. On
// Windows a lock keeps its own process from it, too: nothing is locked there.
const locksWrite = runtime.GOOS != "windows"

// newTemporary makes a file beside path and locks it until release, so that
// nobody takes it for abandoned. Where that cannot be, nothing is ever taken for
// abandoned.
func newTemporary(path string) (f *os.File, release func(), err error) {
	start, end := temporaryName(path)
	const attempts = 20 // another command may remove it before it is locked
	for range attempts {
		f, err = os.CreateTemp(filepath.Dir(path), start+"*"+end)
		if err != nil {
			return nil, nil, err
		}
		if !locksWrite {
			return f, func() {}, nil
		}
		lock := flock.New(f.Name(), flock.SetFlag(os.O_RDWR))
		locked, lockErr := lock.TryLock()
		if _, err := os.Lstat(f.Name()); err == nil && (locked || lockErr != nil) {
			return f, func() { _ = lock.Close() }, nil
		}
		_ = errors.Join(lock.Close(), f.Close())
	}
	return nil, nil, errors.New("other commands keep removing its temporary file: run the command again")
}

// removeAbandoned removes files that killed commands would have renamed to path:
// those that nobody holds locked. What cannot be removed stays.
func removeAbandoned(path, own string) {
	if !locksWrite {
		return
	}
	dir := filepath.Dir(path)
	start, end := temporaryName(path)
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range entries {
		digits, ours := strings.CutPrefix(e.Name(), start)
		digits, ends := strings.CutSuffix(digits, end)
		if !ours || !ends || strings.Trim(digits, "0123456789") != "" || e.Name() == filepath.Base(own) || !e.Type().IsRegular() {
			continue
		}
		name := filepath.Join(dir, e.Name())
		lock := flock.New(name, flock.SetFlag(os.O_RDWR))
		if ok, err := lock.TryLock(); ok && err == nil {
			_ = os.Remove(name)
		}
		_ = lock.Close()
	}
}

// syncFolder makes a rename in a folder outlast a loss of power. A folder that may
// be written to, but not read, is left to itself.
func syncFolder(dir string) error {
	err := folder.Sync(dir)
	var unopened *fs.PathError
	if errors.As(err, &unopened) && unopened.Op == "open" {
		return nil
	}
	return err
}

// mendable adds the remedy to errors of the file system about an output.
func mendable(err error) error {
	switch {
	case folder.Full(err):
		return fmt.Errorf("%w: free some space or name another place, then run the command again", err)
	case errors.Is(err, syscall.EFBIG):
		return fmt.Errorf("%w: raise the limit on the size of files (ulimit -f), then run the command again", err)
	case errors.Is(err, fs.ErrPermission), folder.ReadOnly(err):
		return fmt.Errorf("%w: name a place where you may write", err)
	case errors.Is(err, syscall.ENOTDIR), errors.Is(err, fs.ErrExist):
		return fmt.Errorf("%w: a file stands where a folder is needed: name another place", err)
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%w: make the folder first, or name another place", err)
	}
	return err
}
