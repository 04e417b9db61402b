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
	"strikerose/dataset/pack"
)

func rawPath(sha string) string { return rawDir + "/" + sha + ".zst" }

// RawWriter keeps a log as it comes. What is written to it is hashed and
// compressed into a temporary file, to which Keep gives its place. It is used
// by one goroutine at a time.
type RawWriter struct {
	corpus  *Corpus
	file    *os.File // nil when done
	packed  *pack.Writer
	hash    hash.Hash
	bytes   int64
	settled bool
	failed  error  // of settling
	kept    string // digest of a log that Keep put there
	release func() error
}

// NewRaw starts to keep a log. Nothing is to be seen of it before Keep.
func (c *Corpus) NewRaw(ctx context.Context) (_ *RawWriter, err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	alone, release, err := c.aloneWithLogs()
	if err != nil {
		return nil, err
	}
	if alone { // with leftovers of killed writers
		if err := errors.Join(removeTemps(c.path(rawDir)), release()); err != nil {
			return nil, err
		}
	}
	l, err := c.flock(rawLock)
	if err != nil {
		return nil, err
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

// aloneWithLogs keeps writers of logs out, who share a lock from NewRaw to Abort,
// if there are none now.
func (c *Corpus) aloneWithLogs() (alone bool, release func() error, err error) {
	l, err := c.flock(rawLock)
	if err != nil {
		return false, nil, err
	}
	alone, err = l.TryLock()
	return alone, l.Unlock, explain(err)
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
	w.packed, err = pack.NewWriter(f)
	return err
}

var errKept = errors.New("corpus: the log is kept or given up already")

// Write adds the log's next bytes, as they are on the disk or in the pipe.
func (w *RawWriter) Write(p []byte) (int, error) {
	if w.file == nil || w.settled {
		return 0, errKept
	}
	w.hash.Write(p)
	n, err := w.packed.Write(p)
	w.bytes += int64(n)
	return n, explain(err)
}

// SHA256 is that of the bytes written so far.
func (w *RawWriter) SHA256() string { return hex.EncodeToString(w.hash.Sum(nil)) }

// Settle ends what is written and brings it to the disk, which takes a while. Keep
// does so too, but it can be done beside other work before.
func (w *RawWriter) Settle() error {
	if w.file == nil {
		return errKept
	}
	if !w.settled {
		w.settled = true
		if w.failed = explain(w.packed.Close()); w.failed == nil {
			w.failed = explain(w.file.Sync())
		}
	}
	return w.failed
}

// Keep keeps what was written, named after the SHA-256 of its bytes, and
// returns that and the number of bytes. A log that was kept before is left as it
// is, unless what is kept is damaged. Nobody drops the log before Abort, by when a
// session must refer to it.
func (w *RawWriter) Keep(ctx context.Context) (sha string, n int64, err error) {
	if w.file == nil {
		return "", 0, errKept
	}
	defer func() { err = errors.Join(err, w.removeTemp()) }()
	if err := ctx.Err(); err != nil {
		return "", 0, err
	}
	if err := w.Settle(); err != nil {
		return "", 0, err
	}
	sha = w.SHA256()
	if w.corpus.verifyRaw(ctx, sha) == nil {
		return sha, w.bytes, nil
	}
	temp := w.file.Name()
	err = errors.Join(ctx.Err(), w.file.Close())
	w.file = nil
	if err == nil {
		err = rename(temp, w.corpus.path(rawPath(sha)))
	}
	if err != nil {
		os.Remove(temp)
		return "", 0, explain(err)
	}
	w.kept = sha
	return sha, w.bytes, nil
}

// Drop removes the log that Keep kept, since no session will be made of it: a
// full disk needs the room. A log stays that was kept before, that a session
// refers to, or that other writers of logs, at work now, may have found there. The
// writing ends, as by Abort.
func (w *RawWriter) Drop(ctx context.Context) error {
	sha := w.kept
	if err := w.Abort(); err != nil || sha == "" {
		return err
	}
	alone, release, err := w.corpus.aloneWithLogs()
	if err != nil || !alone {
		return err
	}
	return errors.Join(w.corpus.dropRaw(ctx, sha), release())
}

// Abort gives up what was written. After Keep it only ends the writing.
func (w *RawWriter) Abort() error {
	err := w.removeTemp()
	if w.release != nil {
		err = errors.Join(err, w.release())
		w.release = nil
	}
	w.kept = ""
	return err
}

func (w *RawWriter) removeTemp() (err error) {
	if w.file != nil {
		err = explain(errors.Join(w.file.Close(), os.Remove(w.file.Name())))
		w.file = nil
	}
	return err
}

// dropRaw removes a kept log unless a session was made from it. The caller is
// alone with the logs.
func (c *Corpus) dropRaw(ctx context.Context, sha string) (err error) {
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
