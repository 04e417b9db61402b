package corpus

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
)

// Listed is what the names of a corpus's files say of a session.
type Listed struct {
	Name, Rig string // Rig is the key of its rig
	Found     bool   // it was searched for strikes
	Labelled  bool   // it has a label journal
}

// List lists the sessions, sorted by name, by the names of folders and files alone: it
// opens no file, so that a thousand sessions take milliseconds, and damage is not
// seen. Sessions reads them.
func (c *Corpus) List() ([]Listed, error) {
	places, err := c.places("sessions")
	if err != nil {
		return nil, err
	}
	out := make([]Listed, len(places))
	for i, p := range places {
		found, err := c.holds(part("windows", p.rig, p.session))
		if err != nil {
			return nil, err
		}
		labelled, err := c.holds(journalPath(p.session))
		if err != nil {
			return nil, err
		}
		out[i] = Listed{Name: p.session, Rig: p.rig, Found: found, Labelled: labelled}
	}
	return out, nil
}

// holds tells whether something lies at a path below the corpus.
func (c *Corpus) holds(rel string) (bool, error) {
	_, err := os.Lstat(c.path(rel))
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, fmt.Errorf("corpus: %w", err)
	}
	return true, nil
}
