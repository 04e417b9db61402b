package corpus

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"slices"

	"github.com/klauspost/compress/zstd"

	"strikerose/dataset"
)

func rawPath(sha string) string { return rawDir + "/" + sha + ".zst" }

// RawWriter keeps a log as it comes. What is written to it is hashed and
// compressed into a temporary file, to which Keep gives its place. It is used
// by one goroutine at a time.
type RawWriter struct {
	corpus  *Corpus
	file    *os.File // nil when done
	packed  *zstd.Encoder
	hash    hash.Hash
	bytes   int64
	release func() error
}

// NewRaw starts to keep a log. Nothing is to be seen of it before Keep.
func (c *Corpus) NewRaw(ctx context.Context) (_ *RawWriter, err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	l, err := c.flock(rawLock)
	if err != nil {
		return nil, err
	}
	// Writers of logs share this lock; leftovers are removed by one who is alone.
	alone, err := l.TryLock()
	if err != nil {
		return nil, explain(err)
	}
	if alone {
		if err := removeTemps(c.path(rawDir)); err != nil {
			return nil, errors.Join(err, l.Unlock())
		}
		if err := l.Unlock(); err != nil {
			return nil, explain(err)
		}
	}
	if err := l.RLock(); err != nil {
		return nil, explain(err)
	}
	w := &RawWriter{corpus: c, hash: sha256.New(), release: l.Unlock}
	if err := w.open(); err != nil {
		return nil, errors.Join(explain(err), w.Abort())
	}
	return w, nil
}

func (w *RawWriter) open() (err error) {
	if err := makeDir(w.corpus.path(rawDir)); err != nil {
		return err
	}
	f, err := createTemp(w.corpus.path(rawPath("log")))
	if err != nil {
		return err
	}
	w.file = f
	w.packed, err = zstd.NewWriter(f, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(1))
	return err
}

var errKept = errors.New("corpus: the log is kept or given up already")

// Write adds the log's next bytes, as they are on the disk or in the pipe.
func (w *RawWriter) Write(p []byte) (int, error) {
	if w.file == nil {
		return 0, errKept
	}
	w.hash.Write(p)
	n, err := w.packed.Write(p)
	w.bytes += int64(n)
	return n, explain(err)
}

// Keep keeps what was written, named after the SHA-256 of its bytes, and
// returns that, the number of bytes, and whether the log was kept already. One
// that was is left as it is, unless what is kept is damaged. The writing ends,
// whatever comes of it.
func (w *RawWriter) Keep(ctx context.Context) (sha string, n int64, kept bool, err error) {
	if w.file == nil {
		return "", 0, false, errKept
	}
	defer func() { err = errors.Join(err, w.Abort()) }()
	if err := ctx.Err(); err != nil {
		return "", 0, false, err
	}
	if err := w.packed.Close(); err != nil {
		return "", 0, false, explain(err)
	}
	sha = hex.EncodeToString(w.hash.Sum(nil))
	if w.corpus.verifyRaw(ctx, sha) == nil {
		return sha, w.bytes, true, nil
	}
	temp := w.file.Name()
	err = closeSynced(w.file, ctx.Err())
	w.file = nil
	if err == nil {
		err = rename(temp, w.corpus.path(rawPath(sha)))
	}
	if err != nil {
		os.Remove(temp)
		return "", 0, false, explain(err)
	}
	return sha, w.bytes, false, nil
}

// Abort gives up what was written. After Keep it does nothing.
func (w *RawWriter) Abort() (err error) {
	if w.file != nil {
		err = explain(errors.Join(w.file.Close(), os.Remove(w.file.Name())))
		w.file = nil
	}
	if w.release != nil {
		err = errors.Join(err, w.release())
		w.release = nil
	}
	return err
}

// KeepRaw keeps a log, as RawWriter does, and returns its SHA-256 and the
// number of its bytes.
func (c *Corpus) KeepRaw(ctx context.Context, r io.Reader) (sha string, n int64, err error) {
	w, err := c.NewRaw(ctx)
	if err != nil {
		return "", 0, err
	}
	defer func() { err = errors.Join(err, w.Abort()) }()
	if _, err := io.Copy(w, &contextReader{ctx, r}); err != nil {
		return "", 0, err
	}
	sha, n, _, err = w.Keep(ctx)
	return sha, n, err
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
	if err := c.redo(); err != nil { // a change that is half done may bring a session of it
		return err
	}
	sessions, err := c.Sessions()
	if err != nil || slices.ContainsFunc(sessions, func(s dataset.Session) bool { return s.LogSHA256 == sha }) {
		return err
	}
	if err := os.Remove(c.path(rawPath(sha))); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return explain(err)
	}
	return nil
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

// rawWindow is more than the writer of raw logs looks back, 8 MB. The header of a
// stranger's may ask for gigabytes.
const rawWindow = 32 << 20

// OpenRaw returns a log as it came. The caller closes it.
func (c *Corpus) OpenRaw(sha string) (io.ReadCloser, error) {
	f, err := c.openFile(rawPath(sha))
	if err != nil {
		return nil, fmt.Errorf("corpus: %w", err)
	}
	z, err := zstd.NewReader(f, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxWindow(rawWindow))
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
