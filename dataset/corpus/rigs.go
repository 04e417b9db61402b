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

// RigPath is the path of the file of a rig revision, by its key.
func (c *Corpus) RigPath(key string) string { return c.path(rigPath(key)) }

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
	if err := c.redo(); err != nil { // a change that is half done may have staged a rig
		return err
	}
	data, err := c.newRig(r)
	if err != nil || data == nil {
		return err
	}
	if err := removeTemps(c.path(rigsDir)); err != nil {
		return err
	}
	return writeFile(c.path(rigPath(r.Key())), data)
}

// stageRig writes a rig revision under a temporary name, unless it is kept already,
// and puts its rename before the other steps of a change: no session is to be seen
// without its rig. The caller holds the catalogue lock.
func (c *Corpus) stageRig(ch *change, r *rig.Rig) error {
	data, err := c.newRig(r)
	if err != nil || data == nil {
		return err
	}
	if err := removeTemps(c.path(rigsDir)); err != nil {
		return err
	}
	first := new(change)
	err = c.stagePart(first, rigPath(r.Key()), data)
	ch.Steps = append(first.Steps, ch.Steps...)
	return err
}

// newRig is the file of a rig revision that is still to be kept, nil where it is
// kept already. What PutRig refuses is an error.
func (c *Corpus) newRig(r *rig.Rig) (data []byte, err error) {
	key := r.Key()
	keys, err := c.rigKeys()
	if err != nil {
		return nil, err
	}
	for _, other := range keys {
		if other != key && folded(other) == folded(key) {
			return nil, fmt.Errorf("corpus: rig %s: differs from rig %s only by case, which some file systems ignore: choose another name in the rig file", key, other)
		}
	}
	kept, err := c.Rig(key)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if data, err = r.Encode(); err != nil {
			err = fmt.Errorf("corpus: rig %s: %w", key, err)
		}
		return data, err
	case err != nil:
		return nil, err
	}
	if differing := rig.Diff(kept, r); len(differing) > 0 {
		words := make([]string, len(differing))
		for i, d := range differing {
			words[i] = d.String()
		}
		return nil, fmt.Errorf("corpus: rig %s: differs from the revision kept in %s (%s): raise revision to %d in the rig file, or undo the change",
			key, rigPath(key), strings.Join(words, "; "), r.Revision+1)
	}
	return nil, nil
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
