package corpus

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"reflect"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"

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
	data, err := r.Encode()
	if err != nil {
		return fmt.Errorf("corpus: rig %s: %w", key, err)
	}
	switch kept, err := os.ReadFile(c.path(rigPath(key))); {
	case errors.Is(err, fs.ErrNotExist):
		if err := removeTemps(c.path(rigsDir)); err != nil {
			return err
		}
		return writeFile(c.path(rigPath(key)), data)
	case err != nil:
		return explain(err)
	default:
		differing, err := differingKeys(kept, data)
		if err != nil {
			return fmt.Errorf("corpus: %s: %w", rigPath(key), err)
		}
		if len(differing) > 0 {
			return fmt.Errorf("corpus: rig %s: differs from the revision kept in %s in %s: raise revision to %d in the rig file, or undo the change",
				key, rigPath(key), strings.Join(differing, ", "), r.Revision+1)
		}
		return nil
	}
}

// Rig returns a rig revision by its key, NAME-rREV.
func (c *Corpus) Rig(key string) (*rig.Rig, error) {
	data, err := os.ReadFile(c.path(rigPath(key)))
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

// differingKeys names the keys in which two TOML documents differ, sorted.
func differingKeys(a, b []byte) ([]string, error) {
	var ta, tb map[string]any
	if err := toml.Unmarshal(a, &ta); err != nil {
		return nil, err
	}
	if err := toml.Unmarshal(b, &tb); err != nil {
		return nil, err
	}
	return slices.Compact(slices.Sorted(slices.Values(diffTables("", ta, tb)))), nil
}

func diffTables(prefix string, a, b map[string]any) (differing []string) {
	for key := range a {
		differing = append(differing, diffValues(prefix+key, a[key], b[key])...)
	}
	for key := range b {
		if _, ok := a[key]; !ok {
			differing = append(differing, prefix+key)
		}
	}
	return differing
}

func diffValues(name string, a, b any) []string {
	ta, aok := a.(map[string]any)
	tb, bok := b.(map[string]any)
	if aok && bok {
		return diffTables(name+".", ta, tb)
	}
	if !reflect.DeepEqual(a, b) {
		return []string{name}
	}
	return nil
}
