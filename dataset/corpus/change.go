package corpus

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"strikerose/dataset/folder"
	"strikerose/dataset/shell"
)

// ErrNoted is in the error about a change that was written down, but could not be
// carried out to its end: it is to be counted on all the same.
var ErrNoted = errors.New("the next command finishes it")

// change is a set of renames and removals that are carried out together. It is
// written to .pending before the first of them and removed after the last:
// whoever finds one there, holding the catalogue lock, carries it out again.
// Every step may be repeated without harm.
type change struct {
	About string `json:"about"` // in words, for check
	Steps []step `json:"steps"`
}

// step moves a file, or removes a file. Paths are relative to the corpus, with
// slashes.
type step struct {
	Move   string `json:"move,omitempty"`
	To     string `json:"to,omitempty"`
	Remove string `json:"remove,omitempty"`
}

func (ch *change) move(from, to string) { ch.Steps = append(ch.Steps, step{Move: from, To: to}) }
func (ch *change) remove(target string) { ch.Steps = append(ch.Steps, step{Remove: target}) }

// valid tells whether a step names files in the folders of a corpus.
func (s *step) valid() bool {
	for _, p := range []string{s.Move, s.To, s.Remove} {
		folder, _, below := strings.Cut(path.Clean(p), "/")
		if p != "" && !(filepath.IsLocal(filepath.FromSlash(p)) && below && slices.Contains(append(folders(), upgradedDir), folder)) {
			return false
		}
	}
	return (s.Remove != "") != (s.Move != "" && s.To != "")
}

// apply publishes a change. The caller holds the catalogue lock and the locks
// of all sessions that the change touches. An error before the change is
// written down leaves everything as it was and removes what was staged; after
// that point the change will be finished, if not now then by the next command,
// and the error holds ErrNoted.
func (c *Corpus) apply(ch *change) error {
	var random [8]byte
	if _, err := rand.Read(random[:]); err != nil {
		return fmt.Errorf("corpus: %w", err)
	}
	data, err := json.MarshalIndent(ch, "", "  ")
	if err != nil {
		return fmt.Errorf("corpus: %w", err)
	}
	name := pendingDir + "/" + hex.EncodeToString(random[:]) + ".json"
	if err := writeFile(c.path(name), data); err != nil {
		return c.takeBack(name, ch, err)
	}
	return c.finish(name, ch)
}

// takeBack gives up a change whose note failed to be written. What was staged goes
// only when the note cannot come back: carried out without staged files, the change
// would do nothing but remove.
func (c *Corpus) takeBack(note string, ch *change, failed error) error {
	switch err := os.Remove(c.path(note)); {
	case err == nil: // it had its name, only not for sure
		if err := folder.Sync(c.path(pendingDir)); err != nil {
			return errors.Join(failed, explain(err))
		}
	case !errors.Is(err, fs.ErrNotExist):
		return ch.noted("is written down", err)
	}
	c.discard(ch)
	return failed
}

// noted is the error about a change that is to be counted on, with how far it got.
func (ch *change) noted(state string, err error) error {
	if mend := remedy(err); mend != "" {
		err = fmt.Errorf("%w: %s", err, mend)
	}
	return &notedError{ch.About + " " + state, err}
}

// notedError is an ErrNoted.
type notedError struct {
	said string // of the change
	err  error  // why it is not carried out to its end
}

func (e *notedError) Error() string {
	return fmt.Sprintf("corpus: %s: %v; %v, so it need not be started again", e.said, e.err, ErrNoted)
}

func (e *notedError) Unwrap() error        { return e.err }
func (e *notedError) Is(target error) bool { return target == ErrNoted }

// discard removes the staged files of a change that will not be made.
func (c *Corpus) discard(ch *change) {
	for _, s := range ch.Steps {
		if s.Move != "" && isTemp(path.Base(s.Move)) {
			os.Remove(c.path(s.Move))
			c.pruneEmpty(path.Dir(s.Move))
		}
	}
}

// finish carries out a change and removes its note. Its errors hold ErrNoted.
func (c *Corpus) finish(note string, ch *change) error {
	for _, s := range ch.Steps {
		if err := c.carryOut(s); err != nil {
			return ch.noted("is half done", err)
		}
	}
	err := os.Remove(c.path(note))
	if err == nil || errors.Is(err, fs.ErrNotExist) {
		err = folder.Sync(c.path(pendingDir))
	}
	if err != nil {
		return ch.noted("is done, but its note not removed for sure", err)
	}
	return nil
}

// carryOut makes a step, or finds it made and makes that last: whoever made it may
// have been cut off before. Its errors lack the remedy.
func (c *Corpus) carryOut(s step) error {
	if err := c.containedStep(s); err != nil {
		return err
	}
	if s.Remove != "" {
		target := c.path(s.Remove)
		if err := folder.Remove(target); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		if err := syncThere(filepath.Dir(target)); err != nil {
			return err
		}
		c.pruneEmpty(path.Dir(s.Remove))
		return nil
	}
	from, to := c.path(s.Move), c.path(s.To)
	if _, err := os.Lstat(from); errors.Is(err, fs.ErrNotExist) {
		return errors.Join(syncThere(filepath.Dir(to)), syncThere(filepath.Dir(from)))
	}
	return rename(from, to)
}

// syncThere syncs a folder, should it be there.
func syncThere(dir string) error {
	if err := folder.Sync(dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// pruneEmpty removes partition folders that became empty. Folders that are not
// empty stay; that is no error.
func (c *Corpus) pruneEmpty(dir string) {
	for strings.Contains(dir, "=") {
		if os.Remove(c.path(dir)) != nil {
			return
		}
		dir = path.Dir(dir)
	}
}

// pending lists the notes of changes under way, in order of their names.
func (c *Corpus) pending() (notes []string, changes []*change, err error) {
	entries, err := os.ReadDir(c.path(pendingDir))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil, nil
	}
	if err != nil {
		return nil, nil, explain(err)
	}
	for _, e := range entries {
		note := pendingDir + "/" + e.Name()
		if isTemp(e.Name()) {
			continue
		}
		data, err := c.read(note, mostNote)
		if errors.Is(err, fs.ErrNotExist) {
			continue // finished in the meantime
		}
		ch := new(change)
		if err == nil {
			err = json.Unmarshal(data, ch)
		}
		if err != nil {
			return nil, nil, fmt.Errorf("corpus: %s: %v: restore the file, or delete it and run strikerose check -C %s", note, err, shell.Word(c.dir))
		}
		notes, changes = append(notes, note), append(changes, ch)
	}
	return notes, changes, nil
}

// redo finishes the changes of killed writers and removes notes that were not
// written to their end. The caller holds the catalogue lock, so none of them is
// still at work.
func (c *Corpus) redo() error {
	notes, changes, err := c.pending()
	if err != nil {
		return err
	}
	for i := range notes {
		if err := c.finish(notes[i], changes[i]); err != nil {
			return err
		}
	}
	return removeTemps(c.path(pendingDir))
}

// settle finishes what killed writers left half done, before anything else is
// written: the temporary files that such a change still needs must not be
// taken for leftovers.
func (c *Corpus) settle(ctx context.Context) error {
	notes, _, err := c.pending()
	if err != nil || len(notes) == 0 {
		return err
	}
	release, err := c.lockCatalogue(ctx)
	if err != nil {
		return err
	}
	return errors.Join(c.redo(), release())
}
