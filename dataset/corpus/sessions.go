package corpus

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"strikerose/dataset"
	"strikerose/dataset/shell"
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

// rigFolders lists the rigs that have a folder in a table.
func (c *Corpus) rigFolders(table string) (keys []string, err error) {
	entries, err := os.ReadDir(c.path(table))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("corpus: %w", err)
	}
	for _, e := range entries {
		if key, ok := strings.CutPrefix(e.Name(), "rig="); ok && e.IsDir() {
			keys = append(keys, key)
		}
	}
	return keys, nil
}

// eachPartition visits the partition folders of a table, whole or not.
func (c *Corpus) eachPartition(table string, visit func(place) error) error {
	rigs, err := c.rigFolders(table)
	if err != nil {
		return err
	}
	for _, key := range rigs {
		sessions, err := os.ReadDir(c.path(table + "/rig=" + key))
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
	file, err := c.read(rel, mostPart)
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
	return fmt.Sprintf("corpus: %s: %v: run strikerose check -C %s", e.rel, e.err, shell.Word(e.dir))
}

func (e *damageError) Unwrap() error { return e.err }

func (c *Corpus) damaged(rel string, err error) error { return &damageError{rel, c.dir, err} }

// Sessions returns the rows of all sessions, sorted by name.
func (c *Corpus) Sessions() ([]dataset.Session, error) {
	places, err := c.places("sessions")
	if err != nil {
		return nil, err
	}
	return c.rows(places)
}

// rows reads the session rows that lie at places, several at a time, and
// returns them in that order, without those that have gone in the meantime.
func (c *Corpus) rows(places []place) ([]dataset.Session, error) {
	read := make([]dataset.Session, len(places))
	errs := make([]error, len(places))
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(places)) {
		wait.Go(func() {
			for i := next.Add(1) - 1; i < int64(len(places)); i = next.Add(1) - 1 {
				if read[i], errs[i] = c.readRow(places[i]); errs[i] != nil && !errors.Is(errs[i], fs.ErrNotExist) {
					next.Store(int64(len(places))) // nobody goes on
				}
			}
		})
	}
	wait.Wait()
	rows := read[:0]
	for i, err := range errs {
		switch {
		case err == nil && read[i].Name != "":
			rows = append(rows, read[i])
		case err != nil && !errors.Is(err, fs.ErrNotExist): // else dropped or moved
			return nil, err
		}
	}
	return rows, nil
}

// find returns where a session lies; an unknown name gives close matches. It
// looks at that session's files alone.
func (c *Corpus) find(name string) (place, error) {
	if ValidName(name) == nil {
		rigs, err := c.rigFolders("sessions")
		if err != nil {
			return place{}, err
		}
		for _, rig := range rigs {
			if _, err := os.Lstat(c.path(part("sessions", rig, name))); err == nil {
				return place{rig, name}, nil
			}
		}
	}
	places, err := c.places("sessions")
	if err != nil {
		return place{}, err
	}
	return place{}, c.unknown(name, places)
}

// unknown is the error about a name that no session bears.
func (c *Corpus) unknown(name string, places []place) error {
	var names []string
	for _, p := range places {
		names = append(names, p.session)
	}
	hint := "run strikerose session list -C " + shell.Word(c.dir)
	if near := closest(name, names); len(near) > 0 {
		hint = "did you mean " + strings.Join(near, ", ") + "?"
	}
	return fmt.Errorf("corpus: %s: %w %q: %s", c.dir, ErrUnknownSession, name, hint)
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
// all. A name that matches nothing is an error. Rows of other sessions are not
// read.
func (c *Corpus) Select(rigs, sessions []string) ([]dataset.Session, error) {
	places, err := c.places("sessions")
	if err != nil {
		return nil, err
	}
	var keys []string
	for _, p := range places {
		keys = append(keys, p.rig)
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
		if !slices.ContainsFunc(places, func(p place) bool { return p.session == name }) {
			return nil, c.unknown(name, places)
		}
	}
	chosen := slices.DeleteFunc(places, func(p place) bool {
		onRig := len(rigs) == 0 || slices.ContainsFunc(rigs, func(name string) bool { return rigMatches(p.rig, name) })
		return !onRig || len(sessions) > 0 && !slices.Contains(sessions, p.session)
	})
	if len(chosen) == 0 && len(rigs) > 0 && len(sessions) > 0 {
		return nil, fmt.Errorf("corpus: %s: none of the sessions %s is on rig %s", c.dir, strings.Join(sessions, ", "), strings.Join(rigs, ", "))
	}
	return c.rows(chosen)
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
