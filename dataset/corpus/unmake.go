package corpus

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"strikerose/dataset/folder"
)

// Unmake removes a corpus that OpenOrCreate made for this Corpus, with the folders
// that it made for that, if nothing was kept in it: an import that failed leaves
// nothing behind. A corpus that was there before, that holds any file, or in which
// somebody is at work stays as it is.
//
// A process that has it open, but is at work on nothing at this moment, finds no
// corpus any more when it goes on, and says so.
func (c *Corpus) Unmake(ctx context.Context) (err error) {
	if !c.created {
		return nil
	}
	release, err := c.lockCatalogue(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	alone, releaseLogs, err := c.aloneWithLogs()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, releaseLogs()) }()
	if busy, err := c.busy(); err != nil || busy || !alone {
		return err
	}
	for _, name := range folders() {
		if name != locksDir && !removeEmpty(c.path(name)) {
			return nil // something is kept
		}
	}
	if err := os.Remove(c.path(formatName)); err != nil {
		return explain(err)
	}
	// Who takes a lock from here on finds no corpus. Who took one before goes on.
	if busy, err := c.busy(); err != nil || busy {
		return errors.Join(err, c.writeMark(c.mark))
	}
	c.removeLocks()
	return removeMade(c.made)
}

// busy tells whether anybody writes a session.
func (c *Corpus) busy() (bool, error) {
	entries, err := os.ReadDir(c.path(locksDir))
	if err != nil {
		return false, explain(err)
	}
	for _, e := range entries {
		name, isLock := strings.CutSuffix(e.Name(), ".lock")
		if !isLock || !strings.HasPrefix(name, sessionLock) {
			continue
		}
		l, err := c.flock(name)
		if err != nil {
			return false, err
		}
		free, err := l.TryLock()
		if err := errors.Join(err, l.Unlock()); err != nil || !free {
			return true, explain(err)
		}
	}
	return false, nil
}

// removeEmpty removes a folder in which there is nothing but folders, and tells
// whether it is gone.
func removeEmpty(dir string) bool {
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		if !e.IsDir() || !removeEmpty(filepath.Join(dir, e.Name())) {
			return false
		}
	}
	err := os.Remove(dir)
	return err == nil || errors.Is(err, fs.ErrNotExist)
}

// removeLocks removes the files of locks, the catalogue's last: as long as it is
// there, nobody makes a corpus anew and holds one of the others. Who takes one at
// this moment makes it anew: see gone. Where files that are open cannot be removed,
// they stay.
func (c *Corpus) removeLocks() {
	const last = catalogueLock + ".lock"
	_ = removeFiles(c.path(locksDir), func(name string) bool { return strings.HasSuffix(name, ".lock") && name != last })
	_ = removeFiles(c.path(locksDir), func(name string) bool { return name == last })
	removeEmpty(c.path(locksDir))
}

// missing lists a folder and those that hold it as far as they are not there, the
// innermost first.
func missing(dir string) (dirs []string) {
	for dir = filepath.Clean(dir); ; dir = filepath.Dir(dir) {
		if _, err := os.Lstat(dir); !errors.Is(err, fs.ErrNotExist) || dir == filepath.Dir(dir) { // on Windows, a drive may be missing
			return dirs
		}
		dirs = append(dirs, dir)
	}
}

// removeMade removes folders again, the innermost first, as far as they are empty.
func removeMade(dirs []string) error {
	for _, dir := range dirs {
		if os.Remove(dir) != nil {
			return nil // not made after all, or somebody uses it
		}
	}
	if len(dirs) == 0 {
		return nil
	}
	return explain(folder.Sync(filepath.Dir(dirs[len(dirs)-1])))
}
