package corpus

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
)

// A corpus may come from a stranger, as a directory with links and devices in it.
// Nothing is read or written through them: a link could stand for any file of the
// reader's, and a device has no end.

// Sizes beyond which a file is not taken into memory.
const (
	mostPart = 256 << 20 // of a table but samples, which are read stretch by stretch; features of 20000 strikes take some 20 MB
	mostNote = 16 << 20  // of a change: some 100 bytes for each file of a thousand sessions
	mostText = 64 << 10  // of corpus.toml and a rig; some KB
)

// inside refuses a path below the corpus, with slashes, that leads out of it by
// links or to what is neither file nor folder. What is not there is inside.
func (c *Corpus) inside(rel string) (fs.FileInfo, error) {
	root, err := os.OpenRoot(c.dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	info, err := root.Stat(rel)
	switch {
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, fs.ErrPermission):
		return nil, err
	case err != nil:
		if p, ok := errors.AsType[*fs.PathError](err); ok {
			err = p.Err // rel says where
		}
		return nil, fmt.Errorf("%s: %w: a corpus is not read or written through links that lead out of it: put the files themselves there, or mount the other disk there", rel, err)
	case !info.Mode().IsRegular() && !info.IsDir():
		return nil, fmt.Errorf("%s: is neither a file nor a folder: move it out of the corpus", rel)
	}
	return info, nil
}

// contained is inside for what may be missing. The error is the caller's own.
func (c *Corpus) contained(rels ...string) error {
	for _, rel := range rels {
		if _, err := c.inside(rel); err != nil && !errors.Is(err, fs.ErrNotExist) && !errors.Is(err, fs.ErrPermission) {
			return fmt.Errorf("corpus: %w", err)
		}
	}
	return nil
}

// read reads a file of the corpus of at most so many bytes.
func (c *Corpus) read(rel string, most int64) ([]byte, error) {
	info, err := c.inside(rel)
	if err != nil {
		return nil, err
	}
	if info.Size() > most {
		return nil, fmt.Errorf("%s: is %d bytes long, more than %d: restore it from a backup", rel, info.Size(), most)
	}
	root, err := os.OpenRoot(c.dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	return root.ReadFile(rel)
}

// openFile opens a file of the corpus for reading: through an os.Root, so that a
// writer may replace it meanwhile on Windows, too.
func (c *Corpus) openFile(rel string) (*os.File, error) {
	if _, err := c.inside(rel); err != nil {
		return nil, err
	}
	return os.OpenInRoot(c.dir, rel)
}

// containedStep refuses a step of a change that would touch anything but the files
// of the corpus: its note may have been written by a stranger.
func (c *Corpus) containedStep(s step) error {
	if !s.valid() {
		return fmt.Errorf("corpus: %s: a step leaves the corpus: %+v: look at the note and remove it", pendingDir, s)
	}
	for _, rel := range []string{s.Move, s.To, s.Remove} {
		if rel == "" {
			continue
		}
		if err := c.contained(path.Dir(path.Clean(rel))); err != nil {
			return err
		}
	}
	return nil
}
