package corpus

import (
	"context"
	"fmt"

	"github.com/parquet-go/parquet-go"

	"strikerose/dataset"
)

// Stretches reads the samples of one session piece by piece, so that a session
// of any length takes little memory. It may be used by several goroutines at
// once, and goes on reading the samples that it was opened on when the session
// is imported anew.
type Stretches struct {
	samples *samplesReader
	bounds  []Stretch
}

// Stretch is a run of samples that is read at once.
type Stretch struct {
	FromNs, ToNs int64 // of its first and last sample, repaired clock
	Samples      int
}

// OpenStretches opens the samples of a session for reading piece by piece. It
// reads no more than the footer; Verify compares the checksum.
func (c *Corpus) OpenStretches(session string) (*Stretches, error) {
	r, err := c.openSession(context.Background(), session)
	if err != nil {
		return nil, err
	}
	s := &Stretches{samples: r}
	for i, g := range r.groups {
		from, to, ok := g.chunks[r.at[colTNs]].(*parquet.FileColumnChunk).Bounds()
		if !ok || g.rows > maxRoom {
			r.Close()
			return nil, c.damaged(r.rel, fmt.Errorf("row group %d: its %d rows state no time", i, g.rows))
		}
		s.bounds = append(s.bounds, Stretch{FromNs: from.Int64(), ToNs: to.Int64(), Samples: int(g.rows)})
	}
	return s, nil
}

// List returns the stretches in order of time. The caller must not change it.
func (s *Stretches) List() []Stretch { return s.bounds }

// Read reads one stretch by its place in the list. TRaw is left out.
func (s *Stretches) Read(ctx context.Context, i int) (sig *dataset.Signal, err error) {
	if i < 0 || i >= len(s.bounds) {
		return nil, fmt.Errorf("corpus: %s: there is no stretch %d of %d", s.samples.rel, i, len(s.bounds))
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if sig, err = s.read(i); err != nil {
		return nil, s.samples.corpus.damaged(s.samples.rel, err)
	}
	return sig, nil
}

func (s *Stretches) read(i int) (*dataset.Signal, error) {
	columns := make([]any, len(s.samples.table.columns))
	for _, k := range s.samples.readings() {
		if k != colTRaw {
			columns[k] = s.samples.table.columns[k].empty(s.bounds[i].Samples)
		}
	}
	if err := s.samples.readGroup(i, columns); err != nil {
		return nil, err
	}
	return signalOf(columns), nil
}

// Verify reads the whole file once and compares its checksum with the one that
// it carries and the one that the session's row states.
func (s *Stretches) Verify(ctx context.Context) error {
	if err := s.samples.verifySeal(ctx); err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return s.samples.corpus.damaged(s.samples.rel, err)
	}
	return nil
}

// Close closes the file; no stretch can be read after it.
func (s *Stretches) Close() error { return s.samples.Close() }
