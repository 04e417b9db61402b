package label

import (
	"context"
	"errors"
	"io"
)

// Damage is a line of a journal that does not count.
type Damage struct {
	Line int    // from 1
	Byte int64  // offset of the line's first byte
	Why  string // with a remedy
}

// Log is what a journal holds.
type Log struct {
	Name    string // of the file, for messages
	Claims  []Claim
	Torn    []Damage // lines cut short before they were acknowledged
	Damaged []Damage // any other line that does not count
}

// Journal is the append-only journal of one session.
type Journal struct{ path string }

// OpenJournal names a journal; the file is created by the first append.
func OpenJournal(path string) *Journal { return &Journal{path: path} }

// Append writes claims at the journal's end, one line each, and returns once
// they are on disk.
func (j *Journal) Append(ctx context.Context, claims ...Claim) error { return errors.New("not yet") }

// Read reads the journal. A journal that does not exist is empty.
func (j *Journal) Read(ctx context.Context) (Log, error) { return Log{}, errors.New("not yet") }

// Read reads a journal; name is used in messages. The error is one of
// reading: damage in the content is in the Log.
func Read(r io.Reader, name string) (Log, error) { return Log{}, errors.New("not yet") }

// Err returns the journal's damage as one error, nil where there is none.
// Torn lines are no damage: they were never acknowledged.
func (l Log) Err() error { return nil }
