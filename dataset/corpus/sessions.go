package corpus

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"

	"strikerose/dataset"
)

// ErrUnknownSession is in the error about a session that the corpus lacks.
var ErrUnknownSession = errors.New("unknown session")

// place is where a session lies.
type place struct{ rig, session string }

// cachedRow is a session row as it was read from this very file.
type cachedRow struct {
	file fs.FileInfo
	row  dataset.Session
}

// places lists the partitions of a table that hold a part, sorted by session
// name, then rig.
func (c *Corpus) places(table string) ([]place, error) {
	var out []place
	err := c.eachPartition(table, func(p place) error {
		_, err := os.Lstat(c.path(part(table, p.rig, p.session)))
		if err == nil {
			out = append(out, p)
		}
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		return err
	})
	slices.SortFunc(out, func(a, b place) int {
		if d := strings.Compare(a.session, b.session); d != 0 {
			return d
		}
		return strings.Compare(a.rig, b.rig)
	})
	return out, err
}

// eachPartition visits the partition folders of a table, whole or not.
func (c *Corpus) eachPartition(table string, visit func(place) error) error {
	rigs, err := os.ReadDir(c.path(table))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("corpus: %w", err)
	}
	for _, r := range rigs {
		key, ok := strings.CutPrefix(r.Name(), "rig=")
		if !ok || !r.IsDir() {
			continue
		}
		sessions, err := os.ReadDir(c.path(table + "/" + r.Name()))
		if errors.Is(err, fs.ErrNotExist) {
			continue // just removed
		}
		if err != nil {
			return fmt.Errorf("corpus: %w", err)
		}
		for _, s := range sessions {
			name, ok := strings.CutPrefix(s.Name(), "session=")
			if !ok || !s.IsDir() {
				continue
			}
			if err := visit(place{key, name}); err != nil {
				return fmt.Errorf("corpus: %w", err)
			}
		}
	}
	return nil
}

// readRow reads one session row, or takes it from memory if the file is still
// the one that was read.
func (c *Corpus) readRow(p place) (dataset.Session, error) {
	rel := part("sessions", p.rig, p.session)
	info, err := os.Stat(c.path(rel))
	if err != nil {
		return dataset.Session{}, fmt.Errorf("corpus: %w", err)
	}
	c.mu.Lock()
	known, ok := c.known[rel]
	c.mu.Unlock()
	if ok && os.SameFile(known.file, info) && known.file.Size() == info.Size() && known.file.ModTime().Equal(info.ModTime()) {
		return copySession(known.row), nil
	}
	s, _, err := c.loadRow(p)
	if err != nil {
		return dataset.Session{}, err
	}
	c.mu.Lock()
	c.known[rel] = cachedRow{info, copySession(s)}
	c.mu.Unlock()
	return s, nil
}

func copySession(s dataset.Session) dataset.Session {
	s.Repairs = slices.Clone(s.Repairs)
	return s
}

// loadRow reads one session row and the checksum of its samples from disk.
func (c *Corpus) loadRow(p place) (dataset.Session, string, error) {
	rel := part("sessions", p.rig, p.session)
	file, err := os.ReadFile(c.path(rel))
	if err != nil {
		return dataset.Session{}, "", fmt.Errorf("corpus: %w", err)
	}
	s, samplesSHA, err := decodeSession(context.Background(), file)
	if err != nil {
		return s, "", c.damaged(rel, err)
	}
	if s.Name != p.session || s.Rig != p.rig {
		return s, "", c.damaged(rel, fmt.Errorf("%w: session %s on rig %s", errMisplaced, s.Name, s.Rig))
	}
	return s, samplesSHA, nil
}

// damageError is the error about a file that is not what was written.
type damageError struct {
	rel, dir string
	err      error
}

func (e *damageError) Error() string {
	return fmt.Sprintf("corpus: %s: %v: run strikerose check -C %s", e.rel, e.err, e.dir)
}

func (e *damageError) Unwrap() error { return e.err }

func (c *Corpus) damaged(rel string, err error) error { return &damageError{rel, c.dir, err} }

// Sessions returns the rows of all sessions, sorted by name.
func (c *Corpus) Sessions() ([]dataset.Session, error) {
	places, err := c.places("sessions")
	if err != nil {
		return nil, err
	}
	rows := make([]dataset.Session, 0, len(places))
	for _, p := range places {
		s, err := c.readRow(p)
		if errors.Is(err, fs.ErrNotExist) {
			continue // dropped or moved in the meantime
		}
		if err != nil {
			return nil, err
		}
		rows = append(rows, s)
	}
	return rows, nil
}

// find returns where a session lies; an unknown name gives close matches.
func (c *Corpus) find(name string) (place, error) {
	places, err := c.places("sessions")
	if err != nil {
		return place{}, err
	}
	var names []string
	for _, p := range places {
		if p.session == name {
			return p, nil
		}
		names = append(names, p.session)
	}
	hint := "run strikerose session list -C " + c.dir
	if near := closest(name, names); len(near) > 0 {
		hint = "did you mean " + strings.Join(near, ", ") + "?"
	}
	return place{}, fmt.Errorf("corpus: %s: %w %q: %s", c.dir, ErrUnknownSession, name, hint)
}

// Session returns the row of one session. The error about an unknown name
// holds ErrUnknownSession and names close matches.
func (c *Corpus) Session(name string) (dataset.Session, error) {
	p, err := c.find(name)
	if err != nil {
		return dataset.Session{}, err
	}
	return c.readRow(p)
}

// Select returns the sessions on any of the rigs, each given as NAME or
// NAME-rREV, that are also among the sessions named; an empty list selects
// all. A name that matches nothing is an error.
func (c *Corpus) Select(rigs, sessions []string) ([]dataset.Session, error) {
	rows, err := c.Sessions()
	if err != nil {
		return nil, err
	}
	var keys []string
	for _, r := range rows {
		keys = append(keys, r.Rig)
	}
	slices.Sort(keys)
	keys = slices.Compact(keys)
	for _, name := range rigs {
		if !slices.ContainsFunc(keys, func(key string) bool { return rigMatches(key, name) }) {
			hint := "the corpus holds no sessions"
			if len(keys) > 0 {
				hint = "there are sessions on " + strings.Join(keys, ", ")
			}
			return nil, fmt.Errorf("corpus: %s: no session on rig %q: %s", c.dir, name, hint)
		}
	}
	for _, name := range sessions {
		if !slices.ContainsFunc(rows, func(s dataset.Session) bool { return s.Name == name }) {
			_, err := c.find(name)
			return nil, err
		}
	}
	var out []dataset.Session
	for _, s := range rows {
		onRig := len(rigs) == 0 || slices.ContainsFunc(rigs, func(name string) bool { return rigMatches(s.Rig, name) })
		if onRig && (len(sessions) == 0 || slices.Contains(sessions, s.Name)) {
			out = append(out, s)
		}
	}
	if len(out) == 0 && len(rigs) > 0 && len(sessions) > 0 {
		return nil, fmt.Errorf("corpus: %s: none of the sessions %s is on rig %s", c.dir, strings.Join(sessions, ", "), strings.Join(rigs, ", "))
	}
	return out, nil
}

// rigMatches tells whether a key, NAME-rREV, is the revision or of the rig that
// is named.
func rigMatches(key, name string) bool {
	if key == name {
		return true
	}
	i := strings.LastIndex(key, "-r")
	return i >= 0 && key[:i] == name
}
