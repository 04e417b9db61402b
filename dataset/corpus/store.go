package corpus

import (
	"context"
	"errors"
	"fmt"
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
	if err := c.acceptable(&s, nil); err != nil {
		return err
	}
	w, err := c.NewSession(ctx, s.Rig, s.Name, sig.HasGyro())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, w.Abort()) }()
	if err := c.refusal(ctx, &s, replace); err != nil { // before the work, and again when publishing
		return err
	}
	if err := w.Append(ctx, sig); err != nil {
		return err
	}
	return w.Commit(ctx, s, replace)
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
			return fmt.Errorf("corpus: session %s: differs from session %s only by case or in how accents are composed, which some file systems ignore: choose another name with --session", s.Name, p.session)
		}
	}
	if replace || s.LogSHA256 == "" {
		return nil
	}
	rows, err := c.rows(places)
	if err != nil {
		return err
	}
	for _, r := range rows {
		if r.Name != s.Name && r.LogSHA256 == s.LogSHA256 {
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

// stageRow writes a session's row under a temporary name and adds the rename to
// the change.
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

// Signal reads all samples of a session into memory. EachChunk reads them
// without.
func (c *Corpus) Signal(ctx context.Context, session string) (*dataset.Signal, error) {
	r, err := c.openSession(ctx, session)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	whole := newStretch(r.gyro())
	room := int(min(r.rows, maxRoom)) // the rest grows: the footer may overstate the rows
	whole.TNs, whole.TRaw, whole.Segment = make([]int64, 0, room), make([]int64, 0, room), make([]int32, 0, room)
	for k := range 3 {
		whole.A[k] = make([]float32, 0, room)
		if whole.HasGyro() {
			whole.G[k] = make([]float32, 0, room)
		}
	}
	err = r.each(ctx, func(sig *dataset.Signal) error {
		appendStretch(whole, sig)
		return nil
	})
	if err != nil {
		return nil, err
	}
	return whole, nil
}

// JournalPath is where the label journal of a session lies, whether or not
// there is one.
func (c *Corpus) JournalPath(session string) string { return c.path(journalPath(session)) }

func journalPath(session string) string { return journalDir + "/" + session + ".jsonl" }
