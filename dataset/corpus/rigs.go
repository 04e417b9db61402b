package corpus

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"strikerose/dataset/rig"
)

func rigPath(key string) string { return rigsDir + "/" + key + ".toml" }

// PutRig keeps a rig revision. The same revision with other content is refused,
// naming what differs: sessions already recorded under it would silently change
// their meaning. Yaw and hints for reading logs count as content too.
func (c *Corpus) PutRig(r *rig.Rig) (err error) {
	release, err := c.lockCatalogue(context.Background())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	key := r.Key()
	keys, err := c.rigKeys()
	if err != nil {
		return err
	}
	for _, other := range keys {
		if other != key && folded(other) == folded(key) {
			return fmt.Errorf("corpus: rig %s: differs from rig %s only by case, which some file systems ignore: choose another name in the rig file", key, other)
		}
	}
	kept, err := c.Rig(key)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		data, err := r.Encode()
		if err != nil {
			return fmt.Errorf("corpus: rig %s: %w", key, err)
		}
		if err := removeTemps(c.path(rigsDir)); err != nil {
			return err
		}
		return writeFile(c.path(rigPath(key)), data)
	case err != nil:
		return err
	}
	if differing := rig.Diff(kept, r); len(differing) > 0 {
		words := make([]string, len(differing))
		for i, d := range differing {
			words[i] = d.String()
		}
		return fmt.Errorf("corpus: rig %s: differs from the revision kept in %s (%s): raise revision to %d in the rig file, or undo the change",
			key, rigPath(key), strings.Join(words, "; "), r.Revision+1)
	}
	return nil
}

// Rig returns a rig revision by its key, NAME-rREV.
func (c *Corpus) Rig(key string) (*rig.Rig, error) {
	data, err := c.read(rigPath(key), mostText)
	if errors.Is(err, fs.ErrNotExist) {
		keys, _ := c.rigKeys()
		hint := "the corpus has none"
		if len(keys) > 0 {
			hint = "there are " + strings.Join(keys, ", ")
		}
		return nil, fmt.Errorf("corpus: rig %s: unknown: %s: %w", key, hint, fs.ErrNotExist)
	}
	if err != nil {
		return nil, fmt.Errorf("corpus: %w", err)
	}
	r, err := rig.Parse(data, rigPath(key))
	if err != nil {
		return nil, err
	}
	if r.Key() != key {
		return nil, fmt.Errorf("corpus: %s: describes %s: rename the file, or restore it from a backup", rigPath(key), r.Key())
	}
	return r, nil
}

// Rigs returns all rig revisions, sorted by key.
func (c *Corpus) Rigs() ([]*rig.Rig, error) {
	keys, err := c.rigKeys()
	if err != nil {
		return nil, err
	}
	rigs := make([]*rig.Rig, len(keys))
	for i, key := range keys {
		if rigs[i], err = c.Rig(key); err != nil {
			return nil, err
		}
	}
	return rigs, nil
}

func (c *Corpus) rigKeys() ([]string, error) {
	entries, err := os.ReadDir(c.path(rigsDir))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("corpus: %w", err)
	}
	var keys []string
	for _, e := range entries {
		if key, ok := strings.CutSuffix(e.Name(), ".toml"); ok && !strings.HasPrefix(key, ".") {
			keys = append(keys, key)
		}
	}
	return keys, nil
}
