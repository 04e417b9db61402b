package corpus

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"strikerose/dataset/shell"
)

// upgradedDir holds a file for each session that the step under way has brought
// over, so that none is brought over twice.
const upgradedDir = ".upgraded"

// formatStep brings a corpus from one version of the layout to the next, one
// session after the other.
type formatStep struct {
	from  int    // to from + 1
	about string // what changes, in words
	// session writes what becomes of a session's files under temporary names and
	// adds their renames and removals to the change. It reads files as version
	// from wrote them and must do so for ever: what it needs of the reader of
	// that version moves beside it when the reader changes. Logs and journals are
	// none of its business.
	session func(ctx context.Context, c *Corpus, p place, ch *change) error
}

// formatSteps lists the steps between all versions, oldest first.
func formatSteps() []formatStep { return nil } // version 1 is the first

// Upgrade brings the corpus in dir to FormatVersion and returns the version
// that it was of. A corpus that is of it already is left alone, and a newer one
// is refused.
//
// From the start of an upgrade to its end every program refuses the corpus, so
// that none meets files of two versions. Each session is brought over in one
// step. An upgrade that is cut off, at whatever moment, goes on where it was when
// it is started again. It ends with ErrLocked where a writer that began earlier
// is still at work. Logs, journals and rig files stay as they are.
func Upgrade(ctx context.Context, dir string) (from int, err error) {
	return upgrade(ctx, dir, FormatVersion, formatSteps())
}

func upgrade(ctx context.Context, dir string, to int, steps []formatStep) (from int, err error) {
	mark, err := readMark(dir)
	if err != nil {
		return 0, err
	}
	if mark.Format > to {
		return mark.Format, mark.refusal(dir, to)
	}
	from = mark.From
	if from == 0 {
		from = mark.Format
	}
	if mark == (formatFile{Format: to}) {
		return from, explain(os.RemoveAll(filepath.Join(dir, upgradedDir))) // there if the last upgrade was killed at its very end
	}
	c := corpusIn(dir, mark)
	if err := c.remark(ctx, formatFile{Format: to, From: from}); err != nil {
		return from, err
	}
	for version := from; version < to; version++ {
		i := slices.IndexFunc(steps, func(s formatStep) bool { return s.from == version })
		if i < 0 {
			return from, fmt.Errorf("corpus: %s: there is no step from format %d to %d", dir, version, version+1)
		}
		if err := c.takeStep(ctx, steps[i]); err != nil {
			return from, fmt.Errorf("%w (the upgrade from format %d to %d is half done: strikerose check -C %s --upgrade goes on with it)", err, from, to, shell.Word(dir))
		}
		next := formatFile{Format: to, From: version + 1}
		if next.From == to {
			next.From = 0
		}
		if err := c.remark(ctx, next); err != nil {
			return from, err
		}
	}
	return from, nil
}

// remark replaces corpus.toml, unless another process did so meanwhile, and
// forgets which sessions the step before brought over. Where the step stays the
// same, as when a newer program goes on with it, they are remembered.
func (c *Corpus) remark(ctx context.Context, mark formatFile) (err error) {
	release, err := c.lockCatalogue(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	if err := c.redo(); err != nil {
		return err
	}
	if mark == c.mark {
		return nil // an upgrade that was cut off goes on
	}
	sameStep := mark.From == c.mark.From
	if err := c.writeMark(mark); err != nil || sameStep {
		return err
	}
	return explain(os.RemoveAll(c.path(upgradedDir)))
}

// takeStep brings all sessions over that are not yet.
func (c *Corpus) takeStep(ctx context.Context, step formatStep) error {
	places, err := c.places("sessions")
	if err != nil {
		return err
	}
	for _, p := range places {
		if err := c.upgradeSession(ctx, p, step); err != nil {
			return err
		}
	}
	return nil
}

func (c *Corpus) upgradeSession(ctx context.Context, p place, step formatStep) (err error) {
	if err := ctx.Err(); err != nil {
		return err
	}
	release, err := c.lockForWrite(p.session)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	done := fmt.Sprintf("%s/%d-%s", upgradedDir, step.from, p.session)
	if _, err := os.Lstat(c.path(done)); !errors.Is(err, fs.ErrNotExist) {
		return explain(err)
	}
	return c.publish(ctx, fmt.Sprintf("bringing session %s to format %d", p.session, step.from+1), func(ch *change) error {
		if err := c.cleanPartitions(p); err != nil {
			return err
		}
		if err := step.session(ctx, c, p, ch); err != nil {
			return fmt.Errorf("corpus: session %s: %s: %w", p.session, step.about, err)
		}
		folder := partition("sessions", p.rig, p.session)
		temp, err := stage(c.path(folder+"/upgraded"), nil)
		if err != nil {
			return err
		}
		ch.move(folder+"/"+filepath.Base(temp), done)
		return nil
	}, func(*change) error { return nil })
}
