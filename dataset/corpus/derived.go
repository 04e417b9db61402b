package corpus

import (
	"context"
	"errors"
	"fmt"
	"io/fs"

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

// readDerived reads one derived table of a session; missing is the error about
// a table that was not made yet, and remedy the command that makes it.
func (c *Corpus) readDerived(session, table string, missing error, remedy string, decode func(file []byte) (*decoded, error)) error {
	p, err := c.find(session)
	if err != nil {
		return err
	}
	rel := part(table, p.rig, p.session)
	file, err := c.read(rel, mostPart)
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("corpus: session %s: %w: run strikerose %s", session, missing, remedy)
	}
	if err != nil {
		return fmt.Errorf("corpus: %w", err)
	}
	d, err := decode(file)
	if err == nil {
		err = d.ownedBy(p)
	}
	if err != nil {
		return c.damaged(rel, err)
	}
	return nil
}

// digestAt returns the checksum of a table of a session, "" where there is
// none.
func (c *Corpus) digestAt(table string, p place) (string, error) {
	rel := part(table, p.rig, p.session)
	file, err := c.read(rel, mostPart)
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

// ownedBy verifies the rig and session of a table, which stand in its metadata
// and in two of its columns, against where it lies.
func (d *decoded) ownedBy(p place) error {
	if d.meta[rigMeta] != p.rig || d.meta[sessionMeta] != p.session {
		return fmt.Errorf("%w: session %s on rig %s", errMisplaced, d.meta[sessionMeta], d.meta[rigMeta])
	}
	return requireIdentity(d.columns, p)
}

// requireIdentity verifies the rig and session in each row.
func requireIdentity(columns []any, p place) error {
	rigs, sessions := columns[0].([]string), columns[1].([]string)
	for i := range rigs {
		if rigs[i] != p.rig || sessions[i] != p.session {
			return fmt.Errorf("%w: row %d is of session %s on rig %s", errMisplaced, i, sessions[i], rigs[i])
		}
	}
	return nil
}
