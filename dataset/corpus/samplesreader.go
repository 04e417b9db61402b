package corpus

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"runtime"
	"slices"
	"strings"
	"sync"

	"strikerose/dataset"
)

// samplesReader reads an open samples part, row group by row group. Several
// goroutines may use it at once.
type samplesReader struct {
	*openFile
	corpus *Corpus
	rel    string
	place  place
	close  func() error
	row    dataset.Session
	digest string // of the samples, as the session's row states it
}

// openSession opens a session's samples, which must belong to its row. Where
// they do not, a writer may be between two renames: a second look is taken
// under the lock that it holds, if the corpus lets this process lock at all.
func (c *Corpus) openSession(ctx context.Context, session string) (r *samplesReader, err error) {
	look := func() (*samplesReader, error) {
		p, err := c.find(session)
		if err != nil {
			return nil, err
		}
		return c.openSamples(p)
	}
	r, err = look()
	if err == nil || ctx.Err() != nil || errors.Is(err, ErrUnknownSession) {
		return r, err
	}
	release, lockErr := c.lockCatalogue(ctx)
	if lockErr != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, release()) }()
	return look()
}

// openSamples opens the samples part of a session that lies at p.
func (c *Corpus) openSamples(p place) (*samplesReader, error) {
	row, digest, err := c.loadRow(p)
	if err != nil {
		return nil, err
	}
	return c.openSamplesOf(p, row, digest)
}

func (c *Corpus) openSamplesOf(p place, row dataset.Session, digest string) (*samplesReader, error) {
	rel := part("samples", p.rig, p.session)
	f, err := c.openFile(rel)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, c.damaged(rel, errors.New("is missing"))
	}
	if err != nil {
		return nil, fmt.Errorf("corpus: %w", err)
	}
	r := &samplesReader{corpus: c, rel: rel, place: p, close: f.Close, row: row, digest: digest}
	info, err := f.Stat()
	if err == nil {
		err = r.open(f, info.Size())
	}
	if err != nil {
		return nil, errors.Join(c.damaged(rel, err), f.Close())
	}
	return r, nil
}

// open reads the footer and holds it against the session's row.
func (r *samplesReader) open(file io.ReaderAt, size int64) (err error) {
	if r.openFile, err = samplesTable().open(file, size); err != nil {
		return err
	}
	if r.meta[sessionMeta] != r.place.session || r.meta[rigMeta] != r.place.rig {
		return fmt.Errorf("%w: session %s on rig %s", errMisplaced, r.meta[sessionMeta], r.meta[rigMeta])
	}
	if stated := strings.TrimPrefix(r.meta[sealKey], sealPrefix); stated != r.digest {
		return fmt.Errorf("%w: samples %.12s where the session row states %.12s", errMisplaced, stated, r.digest)
	}
	return nil
}

func (r *samplesReader) gyro() bool { return r.meta[hasGyroKey] == "true" }

// Close closes the file; nothing can be read after it.
func (r *samplesReader) Close() error { return r.close() }

// readings are the columns that make up a signal.
func (r *samplesReader) readings() []int {
	columns := []int{colTNs, colTRaw, colSegment, colAccel, colAccel + 1, colAccel + 2}
	if r.gyro() {
		columns = append(columns, colGyro, colGyro+1, colGyro+2)
	}
	return columns
}

// signalOf makes a signal of columns that were read; those left out stay nil.
func signalOf(columns []any) *dataset.Signal {
	sig := new(dataset.Signal)
	sig.TNs, _ = columns[colTNs].([]int64)
	sig.TRaw, _ = columns[colTRaw].([]int64)
	sig.Segment, _ = columns[colSegment].([]int32)
	for k := range 3 {
		sig.A[k], _ = columns[colAccel+k].([]float32)
		sig.G[k], _ = columns[colGyro+k].([]float32)
	}
	return sig
}

// each calls take for the samples of one row group after the other, whose room
// is used again, and verifies the checksum and that row and samples agree. What
// take was called for before an error is not to be relied on. An error of take
// ends it and is returned as it is.
func (r *samplesReader) each(ctx context.Context, take func(*dataset.Signal) error) error {
	check := signalCheck{gyro: r.gyro()}
	return r.verified(ctx, r.readings(), func(columns []any) error {
		sig := signalOf(columns)
		if err := check.add(sig); err != nil {
			return r.corpus.damaged(r.rel, err)
		}
		return take(sig)
	}, func() error { return check.finish(&r.row) })
}

// verified scans columns while the checksum of the file is compared. Finish
// judges what was read, if all of it was.
func (r *samplesReader) verified(ctx context.Context, columns []int, take func([]any) error, finish func() error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	sealed := make(chan error, 1)
	go func() { sealed <- r.verifySeal(ctx) }()
	err := r.scan(ctx, columns, take)
	if err == nil {
		if err = finish(); err != nil {
			err = r.corpus.damaged(r.rel, err)
		}
	}
	var damage *damageError
	if err != nil && !errors.As(err, &damage) { // not of the file: no need to wait for it
		cancel()
		<-sealed
		return err
	}
	if bad := <-sealed; bad != nil && ctx.Err() == nil {
		return r.corpus.damaged(r.rel, bad) // says more than what came of it
	} else if bad != nil {
		return bad
	}
	return err
}

// rowGroup is room for the columns of one row group.
type rowGroup struct {
	columns []any
	ready   chan error
}

// mostAhead bounds how many row groups are decoded side by side: each takes some
// 6 MB, however many processors there are.
const mostAhead = 4

// scan calls take for the columns of one row group after the other; those that
// were not asked for are nil. Row groups ahead are decoded side by side.
func (r *samplesReader) scan(ctx context.Context, columns []int, take func([]any) error) error {
	ctx, cancel := context.WithCancel(ctx)
	var wait sync.WaitGroup
	defer wait.Wait()
	defer cancel()
	ahead := min(runtime.GOMAXPROCS(0), mostAhead, len(r.groups))
	free, queue := make(chan *rowGroup, ahead+1), make(chan *rowGroup, ahead+1)
	for range ahead + 1 {
		g := &rowGroup{columns: make([]any, len(r.table.columns)), ready: make(chan error, 1)}
		for _, i := range columns {
			g.columns[i] = r.table.columns[i].empty(0)
		}
		free <- g
	}
	wait.Go(func() {
		defer close(queue)
		hands := make(chan struct{}, ahead)
		for i := range r.groups {
			select {
			case <-ctx.Done():
				return
			case g := <-free:
				queue <- g
				hands <- struct{}{}
				wait.Go(func() {
					g.ready <- r.decode(i, g)
					<-hands
				})
			}
		}
	})
	for g := range queue {
		if err := <-g.ready; err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			return r.corpus.damaged(r.rel, err)
		}
		if err := take(g.columns); err != nil {
			return err
		}
		free <- g
	}
	return ctx.Err()
}

// decode reads row group i into g.
func (r *samplesReader) decode(i int, g *rowGroup) error {
	for k, c := range g.columns {
		if c != nil {
			g.columns[k] = rowsFrom(c, 0, 0)
		}
	}
	return r.readGroup(i, g.columns)
}

// verifySeal reads the whole file once and compares its checksum with the one
// that it carries, which open has compared with the row's.
func (r *samplesReader) verifySeal(ctx context.Context) error {
	raw, footer, err := footerBytes(r.file, r.size)
	if err != nil {
		return err
	}
	at, err := sealAt(raw)
	if err != nil {
		return err
	}
	h := sha256.New()
	if _, err := io.Copy(h, &contextReader{ctx, io.NewSectionReader(r.file, 0, footer)}); err != nil {
		return err
	}
	stated := string(raw[at : at+sealDigits])
	copy(raw[at:], emptySeal[len(sealPrefix):])
	h.Write(raw)
	if _, err := io.Copy(h, io.NewSectionReader(r.file, r.size-tailBytes, tailBytes)); err != nil {
		return err
	}
	switch found := hex.EncodeToString(h.Sum(nil)); {
	case found != stated:
		return fmt.Errorf("%w: %.12s where %.12s was written", errBadDigest, found, stated)
	case stated != r.digest:
		return fmt.Errorf("%w: samples %.12s where the session row states %.12s", errMisplaced, stated, r.digest)
	}
	return nil
}

// EachChunk calls take for a session's samples in order, stretch by stretch,
// in memory that does not grow with the session. The signal is used again
// after take returns. The checksum of the samples and their agreement with the
// session's row are verified along the way: what take saw counts only if
// EachChunk returns nil. An error of take ends it and is returned as it is.
func (c *Corpus) EachChunk(ctx context.Context, session string, take func(*dataset.Signal) error) error {
	r, err := c.openSession(ctx, session)
	if err != nil {
		return err
	}
	defer r.Close()
	return r.each(ctx, take)
}

// EachReading calls take for the named columns of a session's samples, such as
// "ax_mps2", stretch by stretch; the values are used again after take returns.
// It reads no other column and compares the checksums of those columns' pages
// alone. An error of take ends it and is returned as it is.
func (c *Corpus) EachReading(ctx context.Context, session string, columns []string, take func(values [][]float32) error) error {
	t := samplesTable()
	wanted := make([]int, len(columns))
	for k, name := range columns {
		wanted[k] = slices.IndexFunc(t.columns, func(col column) bool { return col.name == name && col.kind == kindFloat32 })
		if wanted[k] < 0 {
			return fmt.Errorf("corpus: session %s: %q is no reading of the sensor: ask for ax_mps2, ay_mps2, az_mps2, gx_radps, gy_radps or gz_radps", session, name)
		}
	}
	r, err := c.openSession(ctx, session)
	if err != nil {
		return err
	}
	defer r.Close()
	values := make([][]float32, len(wanted))
	return r.scan(ctx, wanted, func(columns []any) error {
		for k, i := range wanted {
			values[k] = columns[i].([]float32)
		}
		return take(values)
	})
}
