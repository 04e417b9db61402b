package corpus

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"

	"strikerose/dataset"
)

// tables lists the folders that hold partitions, in the order in which they
// are made.
func tables() []string { return []string{"samples", "sessions", "windows", "features", "labels"} }

// PutSession keeps a session and its samples. The row must agree with the
// samples, its rig must be in the corpus, and the values must be finite.
//
// A session of the same name and a log that another session holds are refused,
// unless replace is set. Replacing drops the old session's windows, features
// and labels view; the label journal and the old log stay. The old session is
// there until the new one is wholly on the disk.
func (c *Corpus) PutSession(ctx context.Context, s dataset.Session, sig *dataset.Signal, replace bool) (err error) {
	if err := c.acceptable(&s, sig); err != nil {
		return err
	}
	release, err := c.lockForWrite(s.Name)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	if err := c.refusal(ctx, &s, replace); err != nil { // before the work, and again when publishing
		return err
	}
	return c.publish(ctx, "importing session "+s.Name, func(ch *change) error {
		if err := c.cleanPartitions(place{s.Rig, s.Name}); err != nil {
			return err
		}
		samplesSHA, err := c.stageSamples(ctx, ch, &s, sig)
		if err != nil {
			return err
		}
		return c.stageRow(ctx, ch, &s, samplesSHA)
	}, func(ch *change) error {
		if err := c.refusal(ctx, &s, replace); err != nil {
			return err
		}
		return c.removeOld(ch, place{s.Rig, s.Name})
	})
}

// removeOld adds the removal of what a new import of a session leaves behind:
// derived tables, and everything under another rig.
func (c *Corpus) removeOld(ch *change, now place) error {
	for _, t := range tables() {
		err := c.eachPartition(t, func(p place) error {
			if p.session == now.session && (p != now || t != "samples" && t != "sessions") {
				ch.remove(part(t, p.rig, p.session))
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// acceptable refuses a session that could not be read back as it was given.
func (c *Corpus) acceptable(s *dataset.Session, sig *dataset.Signal) error {
	if err := ValidName(s.Name); err != nil {
		return fmt.Errorf("corpus: %w", err)
	}
	if err := checkSignal(s, sig); err != nil {
		return fmt.Errorf("corpus: session %s: %w", s.Name, err)
	}
	if err := checkRow(s); err != nil {
		return fmt.Errorf("corpus: session %s: %w", s.Name, err)
	}
	if _, err := os.Stat(c.path(rigPath(s.Rig))); err != nil {
		return fmt.Errorf("corpus: session %s: rig %s is not in the corpus: keep it with PutRig first: %w", s.Name, s.Rig, err)
	}
	return nil
}

// refusal says why a session may not be kept beside those that are there.
func (c *Corpus) refusal(ctx context.Context, s *dataset.Session, replace bool) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	places, err := c.places("sessions")
	if err != nil {
		return err
	}
	for _, p := range places {
		switch {
		case p.session == s.Name && !replace:
			return fmt.Errorf("corpus: session %s: exists already, on rig %s: choose another name with --session, or replace it with --force", s.Name, p.rig)
		case p.session != s.Name && folded(p.session) == folded(s.Name):
			return fmt.Errorf("corpus: session %s: differs from session %s only by case, which some file systems ignore: choose another name with --session", s.Name, p.session)
		case p.session == s.Name || replace || s.LogSHA256 == "":
			continue
		}
		r, err := c.readRow(p)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		if err == nil && r.LogSHA256 == s.LogSHA256 {
			return fmt.Errorf("corpus: session %s: log %s is held already by session %s: nothing to do, or import it a second time with --force", s.Name, s.LogName, r.Name)
		}
	}
	return nil
}

// cleanPartitions removes what killed writes of a session left behind.
func (c *Corpus) cleanPartitions(p place) error {
	for _, t := range tables() {
		if err := removeTemps(c.path(partition(t, p.rig, p.session))); err != nil {
			return err
		}
	}
	return nil
}

// stageSamples writes the samples under a temporary name, adds the rename to
// the change and returns the checksum.
func (c *Corpus) stageSamples(ctx context.Context, ch *change, s *dataset.Session, sig *dataset.Signal) (samplesSHA string, err error) {
	file, err := encodeSamples(ctx, s, sig)
	if err == nil {
		samplesSHA, err = verifySeal(file)
	}
	if err != nil {
		return "", fmt.Errorf("corpus: session %s: samples: %w", s.Name, err)
	}
	return samplesSHA, c.stagePart(ch, part("samples", s.Rig, s.Name), file)
}

// stageRow does the same with a session's row.
func (c *Corpus) stageRow(ctx context.Context, ch *change, s *dataset.Session, samplesSHA string) error {
	file, err := encodeSession(ctx, s, samplesSHA)
	if err != nil {
		return fmt.Errorf("corpus: session %s: row: %w", s.Name, err)
	}
	return c.stagePart(ch, part("sessions", s.Rig, s.Name), file)
}

// stagePart writes one file under a temporary name and adds its rename.
func (c *Corpus) stagePart(ch *change, rel string, file []byte) error {
	temp, err := stage(c.path(rel), file)
	if err != nil {
		return err
	}
	ch.move(path.Dir(rel)+"/"+filepath.Base(temp), rel)
	return nil
}

// publish makes a change of several files. First stageFiles writes what is new
// under temporary names, then, under the catalogue lock, complete has a last
// look at what is there and adds the rest of the steps. An error up to that
// point leaves everything as it was.
func (c *Corpus) publish(ctx context.Context, about string, stageFiles, complete func(*change) error) (err error) {
	ch := &change{About: about}
	if err := stageFiles(ch); err != nil {
		c.discard(ch)
		return err
	}
	release, err := c.lockCatalogue(ctx)
	if err != nil {
		c.discard(ch)
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	err = c.redo()
	if err == nil {
		err = complete(ch)
	}
	if err != nil {
		c.discard(ch)
		return err
	}
	return c.apply(ch)
}

// Signal reads the samples of a session.
func (c *Corpus) Signal(ctx context.Context, session string) (*dataset.Signal, error) {
	_, sig, err := c.load(ctx, session)
	return sig, err
}

// load reads a session's row and samples, which must belong together. Where
// they do not, a writer may be between two renames: a second look is taken
// under the lock that it holds, if the corpus lets this process lock at all.
func (c *Corpus) load(ctx context.Context, session string) (s dataset.Session, sig *dataset.Signal, err error) {
	p, err := c.find(session)
	if err != nil {
		return s, nil, err
	}
	s, sig, err = c.loadAt(ctx, p)
	if err == nil || ctx.Err() != nil {
		return s, sig, err
	}
	release, lockErr := c.lockCatalogue(ctx)
	if lockErr != nil {
		return s, nil, err
	}
	defer func() { err = errors.Join(err, release()) }()
	if p, err = c.find(session); err != nil {
		return s, nil, err
	}
	return c.loadAt(ctx, p)
}

func (c *Corpus) loadAt(ctx context.Context, p place) (s dataset.Session, sig *dataset.Signal, err error) {
	s, samplesSHA, err := c.loadRow(p)
	if err != nil {
		return s, nil, err
	}
	rel := part("samples", p.rig, p.session)
	file, err := os.ReadFile(c.path(rel))
	if errors.Is(err, fs.ErrNotExist) {
		return s, nil, c.damaged(rel, errors.New("is missing"))
	}
	if err != nil {
		return s, nil, fmt.Errorf("corpus: %w", err)
	}
	sig, d, err := decodeSamples(ctx, file)
	if err == nil {
		err = belongs(d, &s, samplesSHA)
	}
	if err == nil {
		err = checkSignal(&s, sig)
	}
	if err != nil {
		if ctx.Err() != nil {
			return s, nil, ctx.Err()
		}
		return s, nil, c.damaged(rel, err)
	}
	return s, sig, nil
}

// belongs tells whether samples are those that the session's row was written
// with.
func belongs(d *decoded, s *dataset.Session, samplesSHA string) error {
	if d.meta[sessionMeta] != s.Name || d.meta[rigMeta] != s.Rig {
		return fmt.Errorf("%w: session %s on rig %s", errMisplaced, d.meta[sessionMeta], d.meta[rigMeta])
	}
	if d.seal != samplesSHA {
		return fmt.Errorf("%w: samples %.12s where the session row states %.12s", errMisplaced, d.seal, samplesSHA)
	}
	return nil
}

// JournalPath is where the label journal of a session lies, whether or not
// there is one.
func (c *Corpus) JournalPath(session string) string { return c.path(journalPath(session)) }

func journalPath(session string) string { return journalDir + "/" + session + ".jsonl" }
