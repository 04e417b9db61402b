package main

import (
	"context"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"
	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
	"strikerose/dataset/shell"
	"strikerose/label"
)

// selection picks sessions of a corpus by rig and by name.
type selection struct{ rigs, sessions []string }

func (s *selection) flags(cmd *cobra.Command) {
	cmd.Flags().StringSliceVar(&s.rigs, "rigs", nil, "only sessions on these rigs: `NAME` or NAME-rREV, separated by commas")
	cmd.Flags().StringSliceVar(&s.sessions, "sessions", nil, "only these sessions: `NAME`s separated by commas")
}

// open opens the corpus and selects sessions of it; none at all is an error.
func (a *app) open(sel selection) (*corpus.Corpus, []dataset.Session, error) {
	c, err := corpus.Open(a.dir)
	if err != nil {
		return nil, nil, err
	}
	sessions, err := c.Select(sel.rigs, sel.sessions)
	if err != nil {
		return nil, nil, err
	}
	if len(sessions) == 0 {
		return nil, nil, withHint(fmt.Errorf("%s: holds no sessions", a.dir), "strikerose import -C %s --rig FILE LOG...", shell.Word(a.dir))
	}
	return c, sessions, nil
}

// corpusName is what the directory of the corpus is called.
func (a *app) corpusName() string {
	path, err := filepath.Abs(a.dir)
	if err != nil {
		return a.dir
	}
	return filepath.Base(path)
}

// openOne opens the corpus and finds one session of it and its rig.
func (a *app) openOne(name string) (*corpus.Corpus, dataset.Session, *rig.Rig, error) {
	c, err := corpus.Open(a.dir)
	if err != nil {
		return nil, dataset.Session{}, nil, err
	}
	s, err := c.Session(name)
	if err != nil {
		return nil, s, nil, err
	}
	r, err := c.Rig(s.Rig)
	return c, s, r, err
}

// recording reads a session's rig and samples.
func recording(ctx context.Context, c *corpus.Corpus, s dataset.Session) (*rig.Rig, *dataset.Signal, error) {
	r, err := c.Rig(s.Rig)
	if err != nil {
		return nil, nil, err
	}
	sig, err := c.Signal(ctx, s.Name)
	return r, sig, err
}

// locked runs f while holding the lock of a session.
func locked(c *corpus.Corpus, session string, f func() error) (err error) {
	release, err := c.Lock(session)
	if err != nil {
		return err
	}
	defer func() {
		if e := release(); err == nil {
			err = e
		}
	}()
	return f()
}

// source is a corpus as the evaluation reads it.
type source struct{ *corpus.Corpus }

// Claims reads a session's journal.
func (s source) Claims(session string) ([]label.Claim, error) {
	log, err := label.OpenJournal(s.JournalPath(session)).Read(context.Background())
	if err != nil {
		return nil, err
	}
	return log.Claims, log.Err()
}
