package corpus

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"github.com/pelletier/go-toml/v2"

	"strikerose/dataset/shell"
)

// FormatVersion is the version of the layout that this package reads and
// writes. It is raised when a program that knew only the last one could not
// read what is written now; another compression of the same columns is no
// reason. With it goes a step that brings corpora over: see formatSteps.
const FormatVersion = 1

const formatName = "corpus.toml"

// formatFile is corpus.toml, which makes a directory a corpus. It holds nothing
// that differs between two corpora of the same content.
type formatFile struct {
	Format int `toml:"format" comment:"version of the layout; see the documentation of package dataset/corpus"`
	// The version that some files may still be of, 0 where all are of Format.
	// Programs that know only older versions, and those that know Format, both
	// stay away meanwhile.
	From int `toml:"upgrading_from,omitempty" comment:"an upgrade is under way, or was cut off: strikerose check --upgrade goes on with it"`
}

// readMark reads the corpus.toml of a directory.
func readMark(dir string) (mark formatFile, err error) {
	path := filepath.Join(dir, formatName)
	info, err := os.Stat(path)
	if err == nil && (!info.Mode().IsRegular() || info.Size() > mostText) {
		return mark, fmt.Errorf("corpus: %s: is no file of at most %d bytes: restore it from a backup, or write format = %d", path, mostText, FormatVersion)
	}
	var data []byte
	if err == nil {
		data, err = os.ReadFile(path)
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return mark, fmt.Errorf("corpus: %s: holds no %s: is -C right? a corpus is made by the first strikerose import: %w", dir, formatName, fs.ErrNotExist)
	case errors.Is(err, syscall.ENOTDIR):
		return mark, fmt.Errorf("corpus: %s: is a file, or lies below one: name the directory of the corpus with -C: %w", dir, err)
	case err != nil:
		return mark, fmt.Errorf("corpus: %w", err)
	}
	if err := toml.Unmarshal(data, &mark); err != nil {
		return mark, fmt.Errorf("corpus: %s: %v: restore the file from a backup, or write format = %d", path, err, FormatVersion)
	}
	if mark.Format < 1 || mark.From < 0 || mark.From >= mark.Format {
		return mark, fmt.Errorf("corpus: %s: format %d is unknown: restore the file from a backup, or write format = %d", path, mark.Format, FormatVersion)
	}
	return mark, nil
}

// writeMark replaces corpus.toml. The caller holds the catalogue lock.
func (c *Corpus) writeMark(mark formatFile) error {
	data, err := toml.Marshal(mark)
	if err != nil {
		return fmt.Errorf("corpus: %w", err)
	}
	if err := removeTempsOf(c.path(formatName)); err != nil {
		return err
	}
	if err := writeFile(c.path(formatName), data); err != nil {
		return err
	}
	c.mu.Lock()
	c.mark = mark
	c.mu.Unlock()
	return nil
}

// refusal says why a program that knows one format leaves a corpus alone.
func (m formatFile) refusal(dir string, format int) error {
	path := filepath.Join(dir, formatName)
	switch {
	case m.Format > format:
		return fmt.Errorf("corpus: %s: format %d is newer than %d, the newest that this version reads: update strikerose", path, m.Format, format)
	case m.From != 0:
		return fmt.Errorf("corpus: %s: an upgrade from format %d to %d is under way, or was cut off: strikerose check -C %s --upgrade goes on with it", path, m.From, m.Format, shell.Word(dir))
	case m.Format < format:
		return fmt.Errorf("corpus: %s: format %d is older than %d, which this version reads: strikerose check -C %s --upgrade brings the corpus over; the logs in it stay as they are", path, m.Format, format, shell.Word(dir))
	}
	return nil
}

// unchanged refuses to write where another process upgraded the corpus since it
// was opened. The caller holds a lock that keeps an upgrade waiting.
func (c *Corpus) unchanged() error {
	mark, err := readMark(c.dir)
	if err != nil {
		return err
	}
	c.mu.Lock()
	was := c.mark
	c.mu.Unlock()
	if mark != was {
		return fmt.Errorf("corpus: %s: was changed from format %d to %d meanwhile: run the command again", c.path(formatName), was.Format, mark.Format)
	}
	return nil
}
