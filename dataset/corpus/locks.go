package corpus

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"

	"github.com/gofrs/flock"
)

// ErrLocked is in the error of a write that meets another writer of the same
// session.
var ErrLocked = errors.New("another writer is at work")

const (
	catalogueLock = "catalogue"
	sessionLock   = "session-" // and its name
	rawLock       = "raw"
	lockRetry     = 10 * time.Millisecond
	lockAttempts  = 20 // where its file is removed each time; the last counts, as file systems may name one file otherwise each time
	catalogueWait = time.Minute
)

// Lock claims a session for writing, or says at once who has it. While it is
// held, writes of that session through this Corpus go ahead, so only the
// goroutine that holds it may make them; without it, each write takes the lock
// for itself. Release may be called once.
func (c *Corpus) Lock(session string) (release func() error, err error) {
	unlock, err := c.lockFile(session)
	if err != nil {
		return nil, err
	}
	c.mu.Lock()
	c.held[folded(session)]++
	c.mu.Unlock()
	return func() error {
		c.mu.Lock()
		delete(c.held, folded(session))
		c.mu.Unlock()
		return unlock()
	}, nil
}

// lockForWrite takes a session's lock unless Lock holds it already.
func (c *Corpus) lockForWrite(session string) (release func() error, err error) {
	c.mu.Lock()
	held := c.held[folded(session)] > 0
	c.mu.Unlock()
	if held {
		return func() error { return nil }, nil
	}
	return c.lockFile(session)
}

func (c *Corpus) lockFile(session string) (release func() error, err error) {
	if err := ValidName(session); err != nil {
		return nil, err
	}
	l, err := c.flock(sessionLock + folded(session))
	if err != nil {
		return nil, err
	}
	ok, err := l.TryLock()
	for again := 0; ok && gone(l) && again < lockAttempts; again++ {
		if err = l.Unlock(); err == nil {
			ok, err = l.TryLock()
		}
	}
	if err != nil {
		return nil, explainLock(l.Path(), err)
	}
	if !ok {
		return nil, fmt.Errorf("corpus: session %s: %w%s: wait until it is done, then run the command again", session, ErrLocked, holder(l.Path()))
	}
	// The holder's process number is only for the message above.
	_ = os.WriteFile(l.Path(), []byte(strconv.Itoa(os.Getpid())+"\n"), 0o666)
	err = c.unchanged()
	if err == nil {
		err = c.settle(context.Background())
	}
	if err != nil {
		return nil, errors.Join(err, l.Unlock())
	}
	return l.Unlock, nil
}

// holder says which process holds a lock, as far as the lock file tells.
func holder(path string) string {
	data, err := os.ReadFile(path)
	pid := strings.TrimSpace(string(data))
	if _, bad := strconv.Atoi(pid); err != nil || bad != nil {
		return ""
	}
	return " (process " + pid + ")"
}

// lockCatalogue takes the lock under which sessions appear, move and vanish.
// It is held for a few renames at a time, so it is waited for.
func (c *Corpus) lockCatalogue(ctx context.Context) (release func() error, err error) {
	if release, err = c.lockCatalogueFile(ctx); err != nil {
		return nil, err
	}
	if err := c.unchanged(); err != nil {
		return nil, errors.Join(err, release())
	}
	return release, nil
}

// lockCatalogueFile takes that lock of a corpus that may not be there yet.
func (c *Corpus) lockCatalogueFile(ctx context.Context) (release func() error, err error) {
	waiting, cancel := context.WithTimeout(ctx, catalogueWait)
	defer cancel()
	for again := 0; ; again++ {
		l, err := c.flock(catalogueLock)
		if err != nil {
			return nil, err
		}
		ok, err := l.TryLockContext(waiting, lockRetry)
		switch {
		case ctx.Err() != nil:
			return nil, errors.Join(ctx.Err(), l.Unlock())
		case errors.Is(err, context.DeadlineExceeded), err == nil && !ok:
			return nil, fmt.Errorf("corpus: %s: %w and has not let go for %s: end that process, then run the command again", l.Path(), ErrLocked, catalogueWait)
		case errors.Is(err, fs.ErrNotExist) && again < lockAttempts: // the folder of locks was just removed
		case err != nil:
			return nil, explainLock(l.Path(), err)
		case !gone(l) || again == lockAttempts:
			return l.Unlock, nil
		}
		if err := l.Unlock(); err != nil {
			return nil, explain(err)
		}
	}
}

// gone tells whether the file of a lock was removed before the lock was taken, with
// a corpus that nothing was kept in: then the lock keeps nobody out.
func gone(l *flock.Flock) bool {
	held, err := l.Stat()
	if err != nil {
		return true
	}
	there, err := os.Stat(l.Path())
	return err != nil || !os.SameFile(held, there)
}

// explainLock adds the remedy where the file system has no locks.
func explainLock(path string, err error) error {
	for _, none := range []error{syscall.ENOLCK, syscall.ENOSYS, syscall.ENOTSUP, syscall.EOPNOTSUPP} {
		if errors.Is(err, none) {
			return fmt.Errorf("corpus: %s: %w: this file system has no file locks, which keep writers apart: put the corpus on one that has, or mount it with locks, and copy it here when it is done", path, err)
		}
	}
	return explain(err)
}

func (c *Corpus) flock(name string) (*flock.Flock, error) {
	rel := locksDir + "/" + name + ".lock"
	if err := c.contained(rel); err != nil {
		return nil, err // the lock's file is written to
	}
	path := c.path(rel)
	if err := makeDir(filepath.Dir(path)); err != nil {
		return nil, explain(err)
	}
	return flock.New(path, flock.SetPermissions(0o666)), nil
}
