package corpus

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// SessionWriter keeps a session whose samples come piece by piece. It takes
// about 30 MB on two processors and some 7 MB for each more, whatever the session's
// length, and holds the session's lock until Commit or Abort. It is used by one
// goroutine at a time.
type SessionWriter struct {
	corpus  *Corpus
	samples *samplesFile // nil when done
	rig     *rig.Rig     // to be kept with the session; nil where it is kept
	release func() error
}

// NewSession starts to write a session's samples to a temporary file. Readers
// see nothing of it before Commit, and the rig need not be kept earlier. A
// session that another writer is at work on is refused.
func (c *Corpus) NewSession(ctx context.Context, rigKey, name string, hasGyro bool) (*SessionWriter, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if err := ValidName(name); err != nil {
		return nil, fmt.Errorf("corpus: %w", err)
	}
	if !filepath.IsLocal(rigKey) || strings.ContainsAny(rigKey, `/\`) {
		return nil, fmt.Errorf("corpus: session %s: rig %q cannot be a folder: want NAME-rREV", name, rigKey)
	}
	release, err := c.lockForWrite(name)
	if err != nil {
		return nil, err
	}
	p := place{rigKey, name}
	if err := c.cleanPartitions(p); err != nil {
		return nil, errors.Join(err, release())
	}
	f, err := c.newSamplesFile(p, hasGyro)
	if err != nil {
		return nil, errors.Join(err, release())
	}
	return &SessionWriter{corpus: c, samples: f, release: release}, nil
}

var errWritten = errors.New("corpus: the session is written or given up already")

// Append adds samples, as few or as many as there are, and keeps none of them.
// Their order and values are verified; after an error nothing remains but Abort.
func (w *SessionWriter) Append(ctx context.Context, sig *dataset.Signal) error {
	if w.samples == nil {
		return errWritten
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	return w.samples.append(ctx, sig)
}

// WithRig lets Commit keep the session's rig revision too, unless it is kept
// already: one comes with the other or not at all. What PutRig refuses, Commit
// refuses then.
func (w *SessionWriter) WithRig(r *rig.Rig) { w.rig = r }

// Commit keeps the session under the row, which must agree with the samples,
// and ends the writing, whatever comes of it. Its rig must be in the corpus by
// now, unless it comes along (WithRig). What PutSession says of refusals and of
// replace holds here.
func (w *SessionWriter) Commit(ctx context.Context, row dataset.Session, replace bool) (err error) {
	f := w.samples
	if f == nil {
		return errWritten
	}
	defer func() { err = errors.Join(err, w.Abort()) }()
	if now := (place{row.Rig, row.Name}); now != f.place {
		return fmt.Errorf("corpus: session %s: written as session %s on rig %s, yet its row says %s on rig %s", f.place.session, f.place.session, f.place.rig, now.session, now.rig)
	}
	if f.failed != nil {
		return f.failed
	}
	if err := f.check.finish(&row); err != nil {
		return fmt.Errorf("corpus: session %s: %w", row.Name, err)
	}
	if err := w.corpus.acceptable(&row, w.rig); err != nil {
		return err
	}
	if err := w.corpus.refusal(ctx, &row, replace); err != nil {
		return err
	}
	digest, err := f.close(ctx)
	if err != nil {
		return err
	}
	return w.corpus.publish(ctx, "importing session "+row.Name, func(ch *change) error {
		f.stage(ch)
		w.samples = nil // from here on the file is the change's
		return w.corpus.stageRow(ctx, ch, &row, digest)
	}, func(ch *change) error {
		if err := w.corpus.refusal(ctx, &row, replace); err != nil {
			return err
		}
		if w.rig != nil {
			if err := w.corpus.stageRig(ch, w.rig); err != nil {
				return err
			}
		}
		return w.corpus.removeOld(ch, f.place)
	})
}

// Abort gives the session up and leaves the corpus as it was. After Commit it
// does nothing.
func (w *SessionWriter) Abort() (err error) {
	if w.samples != nil {
		err = w.samples.remove()
		w.samples = nil
	}
	if w.release != nil {
		err = errors.Join(err, w.release())
		w.release = nil
	}
	return err
}

// acceptable refuses a session that could not be read back as it was given. Its
// rig is in the corpus, or comes along.
func (c *Corpus) acceptable(s *dataset.Session, along *rig.Rig) error {
	if err := ValidName(s.Name); err != nil {
		return fmt.Errorf("corpus: %w", err)
	}
	if err := checkRow(s); err != nil {
		return fmt.Errorf("corpus: session %s: %w", s.Name, err)
	}
	if along != nil && along.Key() == s.Rig {
		_, err := c.newRig(along)
		return err
	}
	if _, err := os.Stat(c.path(rigPath(s.Rig))); err != nil {
		return fmt.Errorf("corpus: session %s: rig %s is not in the corpus: keep it with PutRig first: %w", s.Name, s.Rig, err)
	}
	return nil
}
