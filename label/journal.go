package label

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"strikerose/dataset/folder"
)

// version of the line format that is written; Read knows this one and, once
// there are any, the earlier ones.
const version = 1

// closing is the line that closes one that was cut short.
const closing = `{"v":1,"closes":"torn"}`

// line is one line of a journal.
type line struct {
	V      int    `json:"v"`
	Closes string `json:"closes,omitempty"`
	Claim
}

// Journal is the append-only journal of one session, by its file's path. It
// holds no open file. Writers must hold the session's lock.
type Journal struct{ path string }

// OpenJournal names a journal; the file is created by the first append.
func OpenJournal(path string) *Journal { return &Journal{path: path} }

// Append writes claims at the journal's end, one line each, and returns once
// they are on disk (one sync for all). Missing IDs are filled in. Nothing is
// written if a claim is not valid; an append that fails half-way takes back
// what it wrote, as far as it can.
func (j *Journal) Append(ctx context.Context, claims ...Claim) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if len(claims) == 0 {
		return nil
	}
	var text bytes.Buffer
	for _, c := range claims {
		data, err := encode(c)
		if err != nil {
			return fmt.Errorf("journal: %s: %w", filepath.Base(j.path), err)
		}
		text.Write(data)
	}
	return explain(j.write(text.Bytes()))
}

// explain adds the remedy to errors of the file system about an append, which
// takes back what it could not write to the end.
func explain(err error) error {
	switch {
	case err == nil:
		return nil
	case folder.Full(err):
		return fmt.Errorf("journal: %w: nothing was written: free some space, then run the command again", err)
	case errors.Is(err, syscall.EFBIG):
		return fmt.Errorf("journal: %w: nothing was written: raise the limit on the size of files (ulimit -f), then run the command again", err)
	case errors.Is(err, fs.ErrPermission), folder.ReadOnly(err):
		return fmt.Errorf("journal: %w: nothing was written, since the corpus cannot be written: change its permissions, or copy it to where you may write", err)
	}
	return fmt.Errorf("journal: %w", err)
}

// encode writes one line, with the newline.
func encode(c Claim) ([]byte, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	id := c.ContentID()
	if c.ID != "" && c.ID != id {
		return nil, fmt.Errorf("id %s does not fit the claim's content (%s): leave it empty", c.ID, id)
	}
	c.ID = id
	c.At = c.At.UTC().Round(0)
	data, err := json.Marshal(line{V: version, Claim: c})
	if err != nil {
		return nil, err
	}
	if len(data) > maxLine {
		return nil, fmt.Errorf("claim takes %d bytes, more than the %d of a line: shorten its note or split what it supersedes", len(data), maxLine)
	}
	return append(data, '\n'), nil
}

func (j *Journal) write(text []byte) (err error) {
	dir := filepath.Dir(j.path)
	if _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) {
		if err := errors.Join(os.MkdirAll(dir, 0o755), folder.Sync(filepath.Dir(dir))); err != nil {
			return err
		}
	}
	if err := j.plain(); err != nil {
		return err
	}
	f, err := os.OpenFile(j.path, os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o644)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	size := info.Size()
	if size > 0 {
		var last [1]byte
		if _, err := f.ReadAt(last[:], size-1); err != nil {
			return err
		}
		if last[0] != '\n' {
			text = append([]byte("\n"+closing+"\n"), text...)
		}
	}
	if _, err := f.Write(text); err != nil {
		return errors.Join(err, os.Truncate(j.path, size)) // on Windows, f may only append
	}
	if err := f.Sync(); err != nil {
		return err
	}
	return folder.Sync(dir) // whoever made the file may have been killed before this
}

// plain refuses a journal that is no file of its own. A corpus may come from a
// stranger: through a link, lines would be written to any file of the reader's.
func (j *Journal) plain() error {
	info, err := os.Lstat(j.path)
	if err == nil && !info.Mode().IsRegular() {
		return fmt.Errorf("%s is no file of its own but a link or a device: put the journal itself there", j.path)
	}
	return nil // what else is wrong with it shows when it is opened
}

// Read reads the journal. One that does not exist is empty.
func (j *Journal) Read(ctx context.Context) (Log, error) {
	name := filepath.Base(j.path)
	if err := ctx.Err(); err != nil {
		return Log{Name: name}, err
	}
	if err := j.plain(); err != nil {
		return Log{Name: name}, fmt.Errorf("journal: %w", err)
	}
	f, err := os.Open(j.path)
	if errors.Is(err, fs.ErrNotExist) {
		return Log{Name: name}, nil
	}
	if err != nil {
		return Log{Name: name}, fmt.Errorf("journal: %w", err)
	}
	defer f.Close()
	return Read(f, name)
}
