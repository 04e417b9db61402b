package corpus

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/dataset/shell"
)

// Rename gives a session another name. Every table of it is written anew,
// because the name stands in each, and the label journal moves along: it is
// the journal's file name that ties it to the session, whatever name the
// claims in it carry. Nothing has to be recomputed, so stale is empty.
func (c *Corpus) Rename(old, new string) (stale []string, err error) {
	if err := ValidName(new); err != nil {
		return nil, fmt.Errorf("corpus: %w", err)
	}
	if folded(old) == folded(new) {
		return nil, fmt.Errorf("corpus: session %s: the new name %s differs only by case, which some file systems ignore: choose another name, or rename twice", old, new)
	}
	return nil, c.move(context.Background(), old, func(s *dataset.Session) error {
		s.Name = new
		return nil
	})
}

// SetSession lets edit correct what a session's row says: the striker, or the
// rig, given by its key. The name and what was read from the log must stay.
//
// A change of the rig moves the session to the other partition. Its windows and
// features and the labels view were made for the old rig and are dropped; stale
// says what has to be run again, one sentence each, and whether the log itself
// must be imported again because the rigs read it differently.
func (c *Corpus) SetSession(session string, edit func(*dataset.Session) error) (stale []string, err error) {
	var before, after dataset.Session
	err = c.move(context.Background(), session, func(s *dataset.Session) error {
		before = copySession(*s)
		if err := edit(s); err != nil {
			return err
		}
		after = copySession(*s)
		return onlyCorrected(before, after)
	})
	if err != nil || before.Rig == after.Rig {
		return nil, err
	}
	return c.staleAfterRig(before.Rig, &after)
}

// onlyCorrected refuses an edit of anything but striker and rig.
func onlyCorrected(before, after dataset.Session) error {
	for _, f := range sessionFields() {
		if f.name == "striker" || f.name == "rig" {
			continue
		}
		if fmt.Sprint(f.get(&before)) != fmt.Sprint(f.get(&after)) {
			return fmt.Errorf("corpus: session %s: %s cannot be set: only striker and rig can; import the log again for the rest", before.Name, f.name)
		}
	}
	return nil
}

// move rewrites a session under the row that edit leaves. Where the name or the
// rig changes, its files move too.
func (c *Corpus) move(ctx context.Context, session string, edit func(*dataset.Session) error) (err error) {
	release, err := c.lockForWrite(session)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	from, err := c.find(session)
	if err != nil {
		return err
	}
	s, samplesSHA, err := c.loadRow(from)
	if err != nil {
		return err
	}
	if err := edit(&s); err != nil {
		return err
	}
	to := place{s.Rig, s.Name}
	if from == to {
		return c.publish(ctx, "correcting session "+session,
			func(ch *change) error {
				if err := c.cleanPartitions(to); err != nil {
					return err
				}
				return c.stageRow(ctx, ch, &s, samplesSHA)
			},
			func(*change) error { return nil })
	}
	if from.session != to.session {
		release, err := c.lockForWrite(to.session)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, release()) }()
	}
	return c.publish(ctx, "moving session "+session,
		func(ch *change) error { return c.stageMove(ctx, ch, from, &s) },
		func(ch *change) error { return c.finishMove(ch, from, to) })
}

// stageMove writes all tables of a session for its new place.
func (c *Corpus) stageMove(ctx context.Context, ch *change, from place, s *dataset.Session) error {
	if err := c.acceptable(s, nil); err != nil {
		return err
	}
	to := place{s.Rig, s.Name}
	if err := c.cleanPartitions(to); err != nil {
		return err
	}
	samplesSHA, err := c.copySamples(ctx, ch, from, to)
	if err != nil {
		return err
	}
	if from.rig == s.Rig {
		if err := c.stageDerived(ctx, ch, from, s, samplesSHA); err != nil {
			return err
		}
	}
	return c.stageRow(ctx, ch, s, samplesSHA)
}

// copySamples writes a session's samples for its new place and returns their
// checksum.
func (c *Corpus) copySamples(ctx context.Context, ch *change, from, to place) (digest string, err error) {
	old, err := c.openSamples(from)
	if err != nil {
		return "", err
	}
	defer old.Close()
	f, err := c.newSamplesFile(to, old.row.HasGyro)
	if err != nil {
		return "", err
	}
	err = old.each(ctx, func(sig *dataset.Signal) error { return f.append(ctx, sig) })
	if err == nil {
		digest, err = f.close(ctx)
	}
	if err != nil {
		return "", errors.Join(err, f.remove())
	}
	f.stage(ch)
	return digest, nil
}

// finishMove has a last look at the catalogue and adds the journal's move and
// the removal of the old files.
func (c *Corpus) finishMove(ch *change, from, to place) error {
	if from.session != to.session {
		places, err := c.places("sessions")
		if err != nil {
			return err
		}
		for _, p := range places {
			if folded(p.session) == folded(to.session) {
				return fmt.Errorf("corpus: session %s: there is a session %s already: choose another name", from.session, p.session)
			}
		}
		if _, err := os.Lstat(c.JournalPath(to.session)); err == nil {
			return fmt.Errorf("corpus: %s: belongs to no session, yet would be the journal of session %s: move it away, or choose another name", journalPath(to.session), to.session)
		}
		if _, err := os.Lstat(c.JournalPath(from.session)); err == nil {
			ch.move(journalPath(from.session), journalPath(to.session))
		}
	}
	ch.remove(part("sessions", from.rig, from.session))
	for _, t := range tables() {
		if t != "sessions" {
			ch.remove(part(t, from.rig, from.session))
		}
	}
	return nil
}

// stageDerived writes what was computed from a session under its new name,
// with the links between the tables renewed.
func (c *Corpus) stageDerived(ctx context.Context, ch *change, from place, s *dataset.Session, samplesSHA string) error {
	_, oldSamplesSHA, err := c.loadRow(from)
	if err != nil {
		return err
	}
	// renewed keeps a link only where it was good.
	renewed := func(d *decoded, was, is string) string {
		if d.meta[fromKey] == was {
			return is
		}
		return d.meta[fromKey]
	}
	oldWindowsSHA, windowsSHA := "", ""
	rewrite := func(t string, encode func(file []byte) ([]byte, error)) error {
		rel := part(t, from.rig, from.session)
		file, err := c.read(rel, mostPart)
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("corpus: %w", err)
		}
		if file, err = encode(file); err != nil {
			return c.damaged(rel, err)
		}
		return c.stagePart(ch, part(t, s.Rig, s.Name), file)
	}
	err = rewrite("windows", func(file []byte) ([]byte, error) {
		strikes, d, err := decodeStrikes(ctx, file)
		if err != nil {
			return nil, err
		}
		oldWindowsSHA = d.seal
		file, err = encodeStrikes(ctx, s, strikes, madeOf(d), renewed(d, oldSamplesSHA, samplesSHA))
		if err == nil {
			windowsSHA, err = verifySeal(file)
		}
		return file, err
	})
	if err != nil {
		return err
	}
	err = rewrite("features", func(file []byte) ([]byte, error) {
		t, d, err := decodeFeatures(ctx, file)
		if err != nil {
			return nil, err
		}
		return t.encode(ctx, s, renewed(d, oldWindowsSHA, windowsSHA))
	})
	if err != nil {
		return err
	}
	return rewrite("labels", func(file []byte) ([]byte, error) {
		rows, d, err := decodeLabels(ctx, file)
		if err != nil {
			return nil, err
		}
		return encodeLabels(ctx, s, rows, keyValue{fromKey, renewed(d, oldWindowsSHA, windowsSHA)}, keyValue{journalKey, d.meta[journalKey]})
	})
}

// staleAfterRig says what a session's new rig makes stale.
func (c *Corpus) staleAfterRig(oldKey string, s *dataset.Session) (stale []string, err error) {
	on := " " + shell.Line("-C", c.dir, "--sessions", s.Name)
	stale = append(stale,
		"windows were found under rig "+oldKey+": run strikerose find"+on,
		"features were computed under rig "+oldKey+": run strikerose features"+on,
	)
	if _, err := os.Lstat(c.JournalPath(s.Name)); err == nil {
		stale = append(stale, "labels stay in the journal; those of a plan were aligned under rig "+oldKey+": run strikerose label plan again if faces, bands or sensor axes differ")
	}
	old, err := c.Rig(oldKey)
	if errors.Is(err, fs.ErrNotExist) {
		return append(stale, "rig "+oldKey+" is not in the corpus, so whether it read the log alike is unknown: import "+s.LogName+" again with --force"), nil
	}
	if err != nil {
		return stale, err
	}
	now, err := c.Rig(s.Rig)
	if err != nil {
		return stale, err
	}
	var differing []string
	for _, d := range rig.Diff(old, now) {
		if readsLog(d.Key) {
			differing = append(differing, d.Key)
		}
	}
	if len(differing) > 0 {
		stale = append(stale, fmt.Sprintf("the log was read under rig %s, which differs in %s: run strikerose import %s",
			oldKey, strings.Join(differing, ", "), shell.Line("-C", c.dir, "--rig", c.path(rigPath(s.Rig)), "--session", s.Name, "--force", s.LogName)))
	}
	return stale, nil
}

// readsLog tells whether a key of the rig file decides how a log is read.
func readsLog(key string) bool {
	for _, prefix := range []string{"log", "sensor.rate_hz", "sensor.axes", "sensor.accel_range", "sensor.accel_lsb", "sensor.gyro"} {
		if strings.HasPrefix(key, prefix) {
			return true
		}
	}
	return false
}

// Drop removes a session and everything computed from it. The log as it came
// and the label journal, which moves to journal/dropped, are kept; kept says
// where, one sentence each.
func (c *Corpus) Drop(session string) (kept []string, err error) {
	release, err := c.lockForWrite(session)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, release()) }()
	p, err := c.find(session)
	if err != nil {
		return nil, err
	}
	if s, _, err := c.loadRow(p); err == nil && s.LogSHA256 != "" {
		kept = append(kept, fmt.Sprintf("the log %s stays as %s: delete it if no other session needs it", s.LogName, c.path(rawPath(s.LogSHA256))))
	}
	err = c.publish(context.Background(), "dropping session "+session, func(*change) error { return nil }, func(ch *change) error {
		digest, err := fileDigest(c.JournalPath(session))
		if err != nil {
			return err
		}
		ch.remove(part("sessions", p.rig, p.session))
		if digest != "" {
			to := droppedDir + "/" + session + "-" + digest + ".jsonl"
			ch.move(journalPath(session), to)
			kept = append(kept, "the label journal stays as "+c.path(to))
		}
		for _, t := range tables() {
			if t != "sessions" {
				ch.remove(part(t, p.rig, p.session))
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return kept, nil
}
