package main

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"path/filepath"
	"sync"
	"time"

	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
	"strikerose/label"
	"strikerose/label/page"
)

// lockPatience is how long the page waits for another writer of a session
// before it tells the browser to try again.
const lockPatience = 2 * time.Second

// pageCorpus is a corpus as the page knows it.
type pageCorpus struct {
	*app
	corpus *corpus.Corpus

	mu      sync.Mutex
	writing map[string]*sync.Mutex // by session: the page's own writers wait for each other
}

func newPageCorpus(a *app, c *corpus.Corpus) *pageCorpus {
	return &pageCorpus{app: a, corpus: c, writing: make(map[string]*sync.Mutex)}
}

// ID tells a corpus from others of this machine, by where it lies.
func (p *pageCorpus) ID() string {
	path, err := filepath.Abs(p.corpus.Dir())
	if err != nil {
		path = p.corpus.Dir()
	}
	return fmt.Sprintf("%.16x", sha256.Sum256([]byte(path)))
}

func (p *pageCorpus) Sessions() ([]dataset.Session, error) { return p.corpus.Sessions() }
func (p *pageCorpus) Rigs() ([]*rig.Rig, error)            { return p.corpus.Rigs() }
func (p *pageCorpus) Rig(key string) (*rig.Rig, error)     { return p.corpus.Rig(key) }

func (p *pageCorpus) Session(name string) (dataset.Session, error) {
	s, err := p.corpus.Session(name)
	if errors.Is(err, corpus.ErrUnknownSession) {
		err = fmt.Errorf("%w: %w", page.ErrUnknownSession, err)
	}
	return s, err
}

func (p *pageCorpus) Strikes(session string) ([]dataset.Strike, error) {
	return sessionStrikes(p.corpus, session)
}

func (p *pageCorpus) Claims(ctx context.Context, session string) ([]label.Claim, error) {
	log, err := label.OpenJournal(p.corpus.JournalPath(session)).Read(ctx)
	if err != nil {
		return nil, err
	}
	return log.Claims, log.Err()
}

func (p *pageCorpus) PutCalls(name string, csv []byte) (string, error) {
	return p.corpus.PutCalls(name, csv)
}

// Append adds to the journal under the session's lock and brings the label
// table in line. The journal counts: a table that cannot be written is left
// for the next writer, with a warning.
func (p *pageCorpus) Append(ctx context.Context, session string, next func([]label.Claim) ([]label.Claim, error)) error {
	p.mu.Lock()
	own := p.writing[session]
	if own == nil {
		own = new(sync.Mutex)
		p.writing[session] = own
	}
	p.mu.Unlock()
	own.Lock()
	defer own.Unlock()
	for deadline := time.Now().Add(lockPatience); ; {
		err := locked(p.corpus, session, func() error { return p.append(ctx, session, next) })
		if !errors.Is(err, corpus.ErrLocked) {
			return err
		}
		if time.Now().After(deadline) {
			return fmt.Errorf("%w: %w", page.ErrBusy, err)
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(20 * time.Millisecond):
		}
	}
}

func (p *pageCorpus) append(ctx context.Context, session string, next func([]label.Claim) ([]label.Claim, error)) error {
	s, err := p.corpus.Session(session)
	if err != nil {
		return err
	}
	old, err := p.Claims(ctx, session)
	if err != nil {
		return err
	}
	fresh, err := next(old)
	if err != nil {
		return err
	}
	// An action that stands already is sent again, because no answer came: the
	// server may have been killed before it brought the table in line.
	if err := label.OpenJournal(p.corpus.JournalPath(session)).Append(ctx, fresh...); err != nil {
		return err
	}
	if err := putLabels(ctx, p.corpus, s); err != nil {
		p.warn("label serve: session %s: the journal is written, but the label table is not: %v", session, err)
	}
	return nil
}

// pageSamples are a session's samples as the page reads them.
type pageSamples struct{ *corpus.Stretches }

func (p *pageCorpus) Samples(session string) (page.Samples, error) {
	s, err := p.corpus.OpenStretches(session)
	if err != nil {
		return nil, err
	}
	return pageSamples{s}, nil
}

func (s pageSamples) List() []page.Stretch {
	list := s.Stretches.List()
	out := make([]page.Stretch, len(list))
	for i, one := range list {
		out[i] = page.Stretch(one)
	}
	return out
}
