package corpus

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/parquet-go/parquet-go"

	"strikerose/dataset"
)

// Stretches reads the samples of one session piece by piece, so that a session
// of any length takes little memory. It may be used by several goroutines at
// once, and goes on reading the samples that it was opened on when the session
// is imported anew.
type Stretches struct {
	file   *os.File
	size   int64
	parts  []parquet.RowGroup
	bounds []Stretch
	rel    string
	corpus *Corpus
	gyro   bool
	digest string // as the session's row states it
}

// Stretch is a run of samples that is read at once.
type Stretch struct {
	FromNs, ToNs int64 // of its first and last sample, repaired clock
	Samples      int
}

// OpenStretches opens the samples of a session for reading piece by piece. It
// reads no more than the footer; Verify compares the checksum.
func (c *Corpus) OpenStretches(session string) (*Stretches, error) {
	p, err := c.find(session)
	if err != nil {
		return nil, err
	}
	_, digest, err := c.loadRow(p)
	if err != nil {
		return nil, err
	}
	rel := part("samples", p.rig, p.session)
	f, err := os.Open(c.path(rel))
	if err != nil {
		return nil, fmt.Errorf("corpus: %w", err)
	}
	s := &Stretches{file: f, rel: rel, corpus: c, digest: digest}
	if err := s.open(p); err != nil {
		return nil, errors.Join(c.damaged(rel, err), f.Close())
	}
	return s, nil
}

func (s *Stretches) open(p place) (err error) {
	defer recovered(&err)
	info, err := s.file.Stat()
	if err != nil {
		return err
	}
	s.size = info.Size()
	if _, err := s.footerAt(); err != nil {
		return err
	}
	f, err := parquet.OpenFile(s.file, s.size)
	if err != nil {
		return err
	}
	meta := metadataOf(f)
	if meta["table"] != "samples" || meta[sessionMeta] != p.session || meta[rigMeta] != p.rig {
		return fmt.Errorf("%w: table %s, session %s on rig %s", errMisplaced, meta["table"], meta[sessionMeta], meta[rigMeta])
	}
	t := samplesTable()
	for i := range t.columns {
		leaf, ok := f.Schema().Lookup(t.columns[i].name)
		if !ok || leaf.ColumnIndex != i {
			return fmt.Errorf("column %s is missing or in another place", t.columns[i].name)
		}
		if err := t.columns[i].matches(leaf.Node); err != nil {
			return fmt.Errorf("column %s: %w", t.columns[i].name, err)
		}
	}
	s.gyro = meta[hasGyroKey] == "true"
	s.parts = f.RowGroups()
	for i, g := range f.Metadata().RowGroups {
		stats := g.Columns[colTNs].MetaData.Statistics
		if len(stats.MinValue) != 8 || len(stats.MaxValue) != 8 || g.NumRows < 1 || g.NumRows > maxRoom {
			return fmt.Errorf("row group %d: its %d rows state no time", i, g.NumRows)
		}
		s.bounds = append(s.bounds, Stretch{
			FromNs:  int64(binary.LittleEndian.Uint64(stats.MinValue)),
			ToNs:    int64(binary.LittleEndian.Uint64(stats.MaxValue)),
			Samples: int(g.NumRows),
		})
	}
	return nil
}

// footerAt returns where the footer starts, after checking that it lies inside
// the file.
func (s *Stretches) footerAt() (int64, error) {
	const tail = 8 // footer length and magic
	var end [tail]byte
	if _, err := s.file.ReadAt(end[:], s.size-tail); err != nil || string(end[4:]) != "PAR1" {
		return 0, errors.New("is not a whole Parquet file")
	}
	at := s.size - tail - int64(binary.LittleEndian.Uint32(end[:]))
	if at < 4 {
		return 0, fmt.Errorf("states a footer of %d bytes in a file of %d", s.size-tail-at, s.size)
	}
	return at, nil
}

// List returns the stretches in order of time. The caller must not change it.
func (s *Stretches) List() []Stretch { return s.bounds }

// Read reads one stretch by its place in the list. TRaw is left out.
func (s *Stretches) Read(ctx context.Context, i int) (sig *dataset.Signal, err error) {
	if i < 0 || i >= len(s.bounds) {
		return nil, fmt.Errorf("corpus: %s: there is no stretch %d of %d", s.rel, i, len(s.bounds))
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if sig, err = s.read(i); err != nil {
		return nil, s.corpus.damaged(s.rel, err)
	}
	return sig, nil
}

func (s *Stretches) read(i int) (sig *dataset.Signal, err error) {
	defer recovered(&err)
	t := samplesTable()
	rows := s.bounds[i].Samples
	column := func(k int, empty any) any {
		if err != nil {
			return empty
		}
		var out any
		out, err = t.columns[k].readChunk(empty, s.parts[i].ColumnChunks()[k], rows)
		if err == nil && rowsOf(out) != rows {
			err = fmt.Errorf("holds %d values, want %d", rowsOf(out), rows)
		}
		if err != nil {
			err = fmt.Errorf("column %s: %w", t.columns[k].name, err)
			return empty
		}
		return out
	}
	sig = &dataset.Signal{}
	sig.TNs = column(colTNs, make([]int64, 0, rows)).([]int64)
	sig.Segment = column(colSegment, make([]int32, 0, rows)).([]int32)
	for k := range 3 {
		sig.A[k] = column(colAccel+k, make([]float32, 0, rows)).([]float32)
		if s.gyro {
			sig.G[k] = column(colGyro+k, make([]float32, 0, rows)).([]float32)
		}
	}
	if err != nil {
		return nil, err
	}
	return sig, nil
}

// Verify reads the whole file once and compares its checksum with the one that
// it carries and the one that the session's row states.
func (s *Stretches) Verify(ctx context.Context) error {
	if err := s.verify(ctx); err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return s.corpus.damaged(s.rel, err)
	}
	return nil
}

func (s *Stretches) verify(ctx context.Context) error {
	footer, err := s.footerAt()
	if err != nil {
		return err
	}
	end := make([]byte, s.size-footer)
	if _, err := s.file.ReadAt(end, footer); err != nil {
		return err
	}
	at, err := sealAt(end)
	if err != nil {
		return err
	}
	h := sha256.New()
	for from := int64(0); from < footer; from += verifyBytes {
		if err := ctx.Err(); err != nil {
			return err
		}
		if _, err := io.Copy(h, io.NewSectionReader(s.file, from, min(verifyBytes, footer-from))); err != nil {
			return err
		}
	}
	h.Write(end[:at])
	h.Write([]byte(emptySeal[len(sealPrefix):]))
	h.Write(end[at+sealDigits:])
	found, stated := hex.EncodeToString(h.Sum(nil)), string(end[at:at+sealDigits])
	switch {
	case found != stated:
		return fmt.Errorf("%w: %.12s where %.12s was written", errBadDigest, found, stated)
	case stated != s.digest:
		return fmt.Errorf("%w: samples %.12s where the session row states %.12s", errMisplaced, stated, s.digest)
	}
	return nil
}

// verifyBytes is how much is read between looks at the context.
const verifyBytes = 8 << 20

// Close closes the file; no stretch can be read after it.
func (s *Stretches) Close() error { return s.file.Close() }
