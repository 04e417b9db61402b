package corpus

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"strikerose/dataset/folder"
)

// tempMark is in the name of every file that is being written: it starts with
// a dot, then the final name, then the mark and random digits.
const tempMark = ".tmp-"

// isTemp recognises what a killed write left behind.
func isTemp(name string) bool {
	return strings.HasPrefix(name, ".") && strings.Contains(name, tempMark)
}

// stage writes data under a temporary name in the folder of path and syncs it.
// The caller renames the result into place, or removes it.
func stage(path string, data []byte) (temp string, err error) {
	dir := filepath.Dir(path)
	if err := makeDir(dir); err != nil {
		return "", explain(err)
	}
	f, err := createTemp(path)
	if err != nil {
		return "", explain(err)
	}
	_, err = f.Write(data)
	if err = closeSynced(f, err); err != nil {
		os.Remove(f.Name())
		return "", explain(err)
	}
	return f.Name(), nil
}

// createTemp makes a new file with a temporary name beside path. (The standard
// library's temporary files are private to their owner; a corpus follows the
// user's umask.)
func createTemp(path string) (*os.File, error) {
	var digits [8]byte
	if _, err := rand.Read(digits[:]); err != nil {
		return nil, err
	}
	name := "." + filepath.Base(path) + tempMark + hex.EncodeToString(digits[:])
	return os.OpenFile(filepath.Join(filepath.Dir(path), name), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o666)
}

// closeSynced syncs and closes a file, or only closes it after an earlier error.
func closeSynced(f *os.File, err error) error {
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

// writeFile replaces a file in one step: temporary name, sync, rename, sync of
// the folder.
func writeFile(path string, data []byte) error {
	temp, err := stage(path, data)
	if err != nil {
		return err
	}
	if err := rename(temp, path); err != nil {
		os.Remove(temp)
		return explain(err)
	}
	return nil
}

// rename moves a file within a file system and syncs the folders that it leaves
// and enters. Its errors lack the remedy.
func rename(from, to string) error {
	if err := makeDir(filepath.Dir(to)); err != nil {
		return err
	}
	if err := folder.Rename(from, to); err != nil {
		return err
	}
	err := folder.Sync(filepath.Dir(to))
	if filepath.Dir(from) != filepath.Dir(to) {
		err = errors.Join(err, folder.Sync(filepath.Dir(from)))
	}
	return err
}

// makeDir makes a folder with its parents and syncs what holds each new one.
// Another process may be removing folders that became empty, so a parent may
// vanish in between: then it starts over.
func makeDir(dir string) error {
	const attempts = 20
	var err error
	for range attempts {
		if err = makeDirOnce(dir); !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return err
}

func makeDirOnce(dir string) error {
	if info, err := os.Stat(dir); err == nil && info.IsDir() {
		return nil
	}
	if parent := filepath.Dir(dir); parent != dir {
		if err := makeDirOnce(parent); err != nil {
			return err
		}
	}
	if err := os.Mkdir(dir, 0o777); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return folder.Sync(filepath.Dir(dir))
}

// removeTemps removes what killed writes left in a folder. The caller holds the
// lock under which that folder is written.
func removeTemps(dir string) error { return removeFiles(dir, isTemp) }

// removeTempsOf does the same for one file of a folder that is not the corpus's
// alone.
func removeTempsOf(path string) error {
	return removeFiles(filepath.Dir(path), func(name string) bool {
		return strings.HasPrefix(name, "."+filepath.Base(path)+tempMark)
	})
}

func removeFiles(dir string, which func(name string) bool) error {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return explain(err)
	}
	for _, e := range entries {
		if which(e.Name()) {
			if err := folder.Remove(filepath.Join(dir, e.Name())); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return explain(err)
			}
		}
	}
	return nil
}

// explain adds the remedy to errors of the file system.
func explain(err error) error {
	if err == nil {
		return nil
	}
	if mend := remedy(err); mend != "" {
		return fmt.Errorf("corpus: %w: %s, then run the command again", err, mend)
	}
	return fmt.Errorf("corpus: %w", err)
}

// remedy says what to do about an error of the file system, "" where it says so
// itself.
func remedy(err error) string {
	switch {
	case folder.Full(err):
		return "the disk is full: free some space"
	case errors.Is(err, syscall.EFBIG):
		return "raise the limit on the size of files (ulimit -f)"
	case cannotWrite(err):
		return "the corpus cannot be written: change its permissions, or copy it to where you may write"
	}
	return ""
}

// cannotWrite tells whether the file system refuses writing as such.
func cannotWrite(err error) bool {
	return errors.Is(err, fs.ErrPermission) || folder.ReadOnly(err)
}
