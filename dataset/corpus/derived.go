package corpus

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"strikerose/dataset"
)

// Made tells how a derived table was made. It is kept in the file's metadata,
// so that check can tell a stale table.
type Made struct {
	Tool   string // part of the program and its version, such as "onset 1"
	Params string // its parameters, in a fixed order
}

// ErrNoWindows, ErrNoFeatures and ErrNoLabels are in the errors about a table
// that has not been made yet.
var (
	ErrNoWindows  = errors.New("no windows yet")
	ErrNoFeatures = errors.New("no features yet")
	ErrNoLabels   = errors.New("no labels view yet")
)

// Metadata keys of derived tables: how they were made, and the checksum of
// what they were made from.
const (
	toolKey   = "made_tool"
	paramsKey = "made_params"
	fromKey   = "made_from_sha256"
)

// putDerived replaces one derived table of a session in one rename.
func (c *Corpus) putDerived(ctx context.Context, session string, t *table, encode func(s *dataset.Session) ([]byte, error)) (err error) {
	release, err := c.lockForWrite(session)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	s, err := c.Session(session)
	if err != nil {
		return err
	}
	if err := removeTemps(c.path(partition(t.name, s.Rig, session))); err != nil {
		return err
	}
	file, err := encode(&s)
	if err != nil {
		return fmt.Errorf("corpus: session %s: %s: %w", session, t.name, err)
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	return writeFile(c.path(part(t.name, s.Rig, session)), file)
}

// readDerived reads one derived table of a session; missing gives the error
// for a table that was not made yet, with the command that makes it.
func (c *Corpus) readDerived(session, table string, missing error, command string) (rel string, file []byte, err error) {
	p, err := c.find(session)
	if err != nil {
		return "", nil, err
	}
	rel = part(table, p.rig, p.session)
	file, err = os.ReadFile(c.path(rel))
	if errors.Is(err, fs.ErrNotExist) {
		return rel, nil, fmt.Errorf("corpus: session %s: %w: run strikerose %s -C %s --sessions %s", session, missing, command, c.dir, session)
	}
	if err != nil {
		return rel, nil, fmt.Errorf("corpus: %w", err)
	}
	return rel, file, nil
}

// digestOf returns the checksum of a table of a session, "" where there is
// none.
func (c *Corpus) digestOf(table string, s *dataset.Session) (string, error) {
	rel := part(table, s.Rig, s.Name)
	file, err := os.ReadFile(c.path(rel))
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", fmt.Errorf("corpus: %w", err)
	}
	digest, err := verifySeal(file)
	if err != nil {
		return "", c.damaged(rel, err)
	}
	return digest, nil
}

// requireIdentity verifies the rig and session columns of a table against
// where it lies.
func requireIdentity(d *decoded, p place) error {
	rigs, sessions := d.columns[0].([]string), d.columns[1].([]string)
	for i := range d.rows {
		if rigs[i] != p.rig || sessions[i] != p.session {
			return fmt.Errorf("row %d is of session %s on rig %s", i, sessions[i], rigs[i])
		}
	}
	return nil
}
