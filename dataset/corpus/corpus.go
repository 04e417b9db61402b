package corpus

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"github.com/pelletier/go-toml/v2"
)

// FormatVersion is the version of the layout that this package writes. It
// reads no other.
const FormatVersion = 1

const identityName = "corpus.toml"

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
	dir string
	id  string

	mu    sync.Mutex
	held  map[string]int       // sessions locked by Lock, with how often
	known map[string]cachedRow // session rows by path, valid while size and time stay
}

type identityFile struct {
	Format int    `toml:"format" comment:"version of the layout; see the documentation of package dataset/corpus"`
	ID     string `toml:"id" comment:"tells this corpus from others"`
}

// Open opens the corpus in dir. A directory without corpus.toml, or one of a
// format that this version does not know, is refused. A change that a killed
// writer left half done is finished first, where the directory can be written.
func Open(dir string) (*Corpus, error) {
	path := filepath.Join(dir, identityName)
	data, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("corpus: %s: holds no %s: is -C right? a corpus is made by the first strikerose import: %w", dir, identityName, fs.ErrNotExist)
	case err != nil:
		return nil, fmt.Errorf("corpus: %w", err)
	}
	var identity identityFile
	if err := toml.Unmarshal(data, &identity); err != nil {
		return nil, fmt.Errorf("corpus: %s: %v: restore the file from a backup, or write format = %d and any id", path, err, FormatVersion)
	}
	switch {
	case identity.Format > FormatVersion:
		return nil, fmt.Errorf("corpus: %s: format %d is newer than %d, the newest that this version reads: update strikerose", path, identity.Format, FormatVersion)
	case identity.Format != FormatVersion:
		return nil, fmt.Errorf("corpus: %s: format %d is unknown: want %d", path, identity.Format, FormatVersion)
	}
	c := &Corpus{dir: dir, id: identity.ID, held: make(map[string]int), known: make(map[string]cachedRow)}
	if err := c.settle(context.Background()); err != nil && !cannotWrite(err) {
		return nil, err
	}
	return c, nil
}

// folders lists the folders of a corpus at its top.
func folders() []string {
	return append([]string{rigsDir, rawDir, journalDir, callsDir, locksDir, pendingDir}, tables()...)
}

// OpenOrCreate opens the corpus in dir, or makes one there if the directory is
// missing or holds nothing of a corpus. Other files may lie beside it.
func OpenOrCreate(dir string) (*Corpus, error) {
	_, err := os.Stat(filepath.Join(dir, identityName))
	if err == nil || !errors.Is(err, fs.ErrNotExist) {
		return Open(dir)
	}
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return nil, fmt.Errorf("corpus: %w", err)
	}
	for _, e := range entries {
		if e.Name()[0] != '.' && slices.Contains(folders(), e.Name()) {
			return nil, fmt.Errorf("corpus: %s: holds %s, but no %s: put that file back if this was a corpus, or name another directory with -C", dir, e.Name(), identityName)
		}
	}
	id := make([]byte, 16)
	if _, err := rand.Read(id); err != nil {
		return nil, fmt.Errorf("corpus: %w", err)
	}
	data, err := toml.Marshal(identityFile{Format: FormatVersion, ID: hex.EncodeToString(id)})
	if err != nil {
		return nil, fmt.Errorf("corpus: %w", err)
	}
	if err := makeDir(dir); err != nil {
		return nil, explain(err)
	}
	if err := writeFile(filepath.Join(dir, identityName), data); err != nil {
		return nil, err
	}
	return Open(dir)
}

// Dir is the directory as it was given to Open.
func (c *Corpus) Dir() string { return c.dir }

// ID tells this corpus from others; it is made up when the corpus is created.
func (c *Corpus) ID() string { return c.id }

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
