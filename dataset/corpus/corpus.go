package corpus

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"
)

// Folders of a corpus.
const (
	rigsDir    = "rigs"
	rawDir     = "raw"
	journalDir = "journal"
	droppedDir = "journal/dropped"
	locksDir   = ".locks"
	pendingDir = ".pending"
)

// partName is the only file of a partition.
const partName = "part-0.parquet"

// Corpus is an open corpus. It may be used by several goroutines at once.
type Corpus struct {
	dir     string
	created bool     // by OpenOrCreate, for this Corpus
	made    []string // folders that it made for that, the innermost first

	mu    sync.Mutex
	mark  formatFile           // corpus.toml as it was opened
	held  map[string]int       // sessions locked by Lock, with how often
	known map[string]cachedRow // session rows by path, valid while size and time stay
}

// Open opens the corpus in dir. A directory without corpus.toml, or one of
// another format, is refused: Upgrade brings an older one to this format. A
// change that a killed writer left half done is finished first, where the
// directory can be written.
func Open(dir string) (*Corpus, error) { return open(dir, FormatVersion) }

func open(dir string, format int) (*Corpus, error) {
	mark, err := readMark(dir)
	if err != nil {
		return nil, err
	}
	if err := mark.refusal(dir, format); err != nil {
		return nil, err
	}
	c := corpusIn(dir, mark)
	if err := c.contained(append(folders(), formatName)...); err != nil {
		return nil, err
	}
	if err := c.settle(context.Background()); err != nil && !cannotWrite(err) {
		return nil, err
	}
	return c, nil
}

func corpusIn(dir string, mark formatFile) *Corpus {
	return &Corpus{dir: dir, mark: mark, held: make(map[string]int), known: make(map[string]cachedRow)}
}

// folders lists the folders of a corpus at its top.
func folders() []string {
	return append([]string{rigsDir, rawDir, journalDir, callsDir, locksDir, pendingDir}, tables()...)
}

// OpenOrCreate opens the corpus in dir, or makes one there if the directory is
// missing or holds nothing of a corpus. Other files may lie beside it. Several
// processes may do so at once: one of them makes it.
func OpenOrCreate(dir string) (*Corpus, error) {
	if _, err := os.Stat(filepath.Join(dir, formatName)); err == nil || !errors.Is(err, fs.ErrNotExist) {
		return Open(dir)
	}
	made := missing(dir)
	if err := makeDir(dir); err != nil {
		return nil, errors.Join(explain(err), removeMade(made))
	}
	created, err := create(dir)
	if err != nil {
		return nil, errors.Join(err, removeMade(made))
	}
	c, err := Open(dir)
	if err == nil {
		c.created, c.made = created, made
	}
	return c, err
}

// create writes the first file of a corpus, under the lock that everybody takes
// who might be about to write it too, and tells whether it did.
func create(dir string) (created bool, err error) {
	c := corpusIn(dir, formatFile{})
	release, err := c.lockCatalogueFile(context.Background())
	if err != nil {
		return false, err
	}
	defer func() { err = errors.Join(err, release()) }()
	if _, err := os.Stat(c.path(formatName)); err == nil || !errors.Is(err, fs.ErrNotExist) {
		return false, nil // somebody else made it; Open says what is wrong with it
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return false, fmt.Errorf("corpus: %w", err)
	}
	for _, e := range entries {
		if e.Name()[0] != '.' && slices.Contains(folders(), e.Name()) {
			return false, fmt.Errorf("corpus: %s: holds %s, but no %s: put that file back if this was a corpus, or name another directory with -C", dir, e.Name(), formatName)
		}
	}
	if err := c.writeMark(formatFile{Format: FormatVersion}); err != nil {
		c.removeLocks()
		return false, err
	}
	return true, nil
}

// Dir is the directory as it was given to Open.
func (c *Corpus) Dir() string { return c.dir }

// path joins a slash-separated path below the corpus.
func (c *Corpus) path(rel string) string { return filepath.Join(c.dir, filepath.FromSlash(rel)) }

// partition is the slash-separated folder of one table of one session.
func partition(table, rigKey, session string) string {
	return table + "/rig=" + rigKey + "/session=" + session
}

// part is the slash-separated path of one table of one session.
func part(table, rigKey, session string) string {
	return partition(table, rigKey, session) + "/" + partName
}
