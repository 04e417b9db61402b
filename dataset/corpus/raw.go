package corpus

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"

	"github.com/klauspost/compress/zstd"

	"strikerose/dataset"
)

func rawPath(sha string) string { return rawDir + "/" + sha + ".zst" }

// KeepRaw keeps a log as it came, named after the SHA-256 of its bytes, and
// returns that and the number of bytes. A log that is kept already is left as
// it is, unless what is kept is damaged.
func (c *Corpus) KeepRaw(ctx context.Context, r io.Reader) (sha string, n int64, err error) {
	l, err := c.flock(rawLock)
	if err != nil {
		return "", 0, err
	}
	// Writers of logs share this lock; leftovers are removed by one who is alone.
	alone, err := l.TryLock()
	if err != nil {
		return "", 0, explain(err)
	}
	if alone {
		if err := removeTemps(c.path(rawDir)); err != nil {
			return "", 0, errors.Join(err, l.Unlock())
		}
		if err := l.Unlock(); err != nil {
			return "", 0, explain(err)
		}
	}
	if err := l.RLock(); err != nil {
		return "", 0, explain(err)
	}
	defer func() { err = errors.Join(err, l.Unlock()) }()

	if err := makeDir(c.path(rawDir)); err != nil {
		return "", 0, explain(err)
	}
	f, err := createTemp(c.path(rawPath("log")))
	if err != nil {
		return "", 0, explain(err)
	}
	sha, n, err = compressTo(ctx, f, r)
	if err = closeSynced(f, err); err != nil {
		os.Remove(f.Name())
		return "", 0, explain(err)
	}
	if c.verifyRaw(ctx, sha) == nil {
		return sha, n, explain(os.Remove(f.Name()))
	}
	if err := rename(f.Name(), c.path(rawPath(sha))); err != nil {
		os.Remove(f.Name())
		return "", 0, err
	}
	return sha, n, nil
}

// HasRaw tells whether a log is kept.
func (c *Corpus) HasRaw(sha string) bool {
	_, err := os.Stat(c.path(rawPath(sha)))
	return err == nil
}

// DropRaw removes a kept log that no session was made from; others stay.
func (c *Corpus) DropRaw(ctx context.Context, sha string) (err error) {
	release, err := c.lockCatalogue(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	sessions, err := c.Sessions()
	if err != nil || slices.ContainsFunc(sessions, func(s dataset.Session) bool { return s.LogSHA256 == sha }) {
		return err
	}
	if err := os.Remove(c.path(rawPath(sha))); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return explain(err)
	}
	return nil
}

func compressTo(ctx context.Context, w io.Writer, r io.Reader) (sha string, n int64, err error) {
	z, err := zstd.NewWriter(w, zstd.WithEncoderConcurrency(1))
	if err != nil {
		return "", 0, err
	}
	h := sha256.New()
	n, err = io.Copy(io.MultiWriter(h, z), &contextReader{ctx, r})
	if err = errors.Join(err, z.Close()); err != nil {
		return "", 0, err
	}
	return hex.EncodeToString(h.Sum(nil)), n, nil
}

// digestOf reads to the end and returns the SHA-256 and the number of bytes.
func digestOf(r io.Reader) (sha string, n int64, err error) {
	h := sha256.New()
	n, err = io.Copy(h, r)
	return hex.EncodeToString(h.Sum(nil)), n, err
}

// contextReader stops reading when its context ends.
type contextReader struct {
	ctx context.Context
	r   io.Reader
}

func (c *contextReader) Read(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	return c.r.Read(p)
}

// OpenRaw returns a log as it came. The caller closes it.
func (c *Corpus) OpenRaw(sha string) (io.ReadCloser, error) {
	f, err := os.Open(c.path(rawPath(sha)))
	if err != nil {
		return nil, fmt.Errorf("corpus: %w", err)
	}
	z, err := zstd.NewReader(f, zstd.WithDecoderConcurrency(1))
	if err != nil {
		return nil, errors.Join(fmt.Errorf("corpus: %s: %w", rawPath(sha), err), f.Close())
	}
	return &rawLog{z, f}, nil
}

type rawLog struct {
	z *zstd.Decoder
	f *os.File
}

func (l *rawLog) Read(p []byte) (int, error) { return l.z.Read(p) }
func (l *rawLog) Close() error {
	l.z.Close()
	return l.f.Close()
}
