package corpus

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
)

// maxRowGroups is how many row groups the Parquet format can number: 4294
// million samples, 49 days at 1000 Hz.
const maxRowGroups = 1<<15 - 1

// fileWriter writes a sealed Parquet file, row group by row group. It holds one
// row group and about 0.7 kB for each that was written: the same rows give the
// same bytes, on any number of processors.
type fileWriter struct {
	table *table
	meta  []keyValue
	out   io.Writer
	hash  hash.Hash // of all that was written
	at    int64     // bytes written

	writers []*chunkWriter
	chunks  []chunk
	groups  compactWriter // the footer's list of row groups, as far as it goes
	n       int
	rows    int64
}

// keyValue is one entry of a file's metadata.
type keyValue struct{ key, value string }

// newFileWriter starts a file. Meta are the entries of its metadata beside
// those that the table itself gives.
func newFileWriter(out io.Writer, t *table, meta []keyValue) (*fileWriter, error) {
	w := &fileWriter{table: t, meta: t.metadata(meta), out: out, hash: sha256.New(), chunks: make([]chunk, len(t.columns))}
	return w, w.write([]byte(parquetMagic))
}

func (w *fileWriter) write(b []byte) error {
	w.hash.Write(b)
	n, err := w.out.Write(b)
	w.at += int64(n)
	return err
}

// largeRows is from how many rows on it pays to encode columns side by side.
const largeRows = 1 << 12

// group writes one row group: columns of equal length, in the table's order.
func (w *fileWriter) group(ctx context.Context, data []any) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	rows, err := w.table.rowsOf(data)
	if err != nil || rows == 0 {
		return err
	}
	if w.n == maxRowGroups {
		return fmt.Errorf("more than %d rows: split the log", w.rows)
	}
	hands := 1
	if rows >= largeRows {
		hands = min(runtime.GOMAXPROCS(0), len(data))
	}
	if err := w.encode(data, hands); err != nil {
		return err
	}
	w.note(rows)
	for i := range w.chunks {
		if err := w.write(w.chunks[i].pages); err != nil {
			return err
		}
	}
	return nil
}

// encode fills in the chunks of a row group, so many at a time.
func (w *fileWriter) encode(data []any, hands int) error {
	for len(w.writers) < hands {
		cw, err := newChunkWriter()
		if err != nil {
			return err
		}
		w.writers = append(w.writers, cw)
	}
	var next atomic.Int32
	work := func(cw *chunkWriter) (err error) {
		defer recovered(&err)
		for {
			i := len(data) - int(next.Add(1)) // the costly columns come last in a table
			if i < 0 {
				return nil
			}
			if err := cw.encode(&w.table.columns[i], data[i], &w.chunks[i]); err != nil {
				return fmt.Errorf("column %s: %w", w.table.columns[i].name, err)
			}
		}
	}
	if hands == 1 {
		return work(w.writers[0])
	}
	errs := make([]error, hands)
	var wait sync.WaitGroup
	for k := range hands {
		wait.Go(func() { errs[k] = work(w.writers[k]) })
	}
	wait.Wait()
	return errors.Join(errs...)
}

// note adds the row group that is about to be written to the footer.
func (w *fileWriter) note(rows int) {
	g := &w.groups
	g.begin()
	g.list(1, compactStruct, len(w.chunks))
	at, uncompressed := w.at, 0
	for i := range w.chunks {
		c := &w.chunks[i]
		typ, encoding := w.table.columns[i].physical()
		g.begin()
		g.int64(2, 0) // long out of use, yet required
		g.nested(3)
		g.int32(1, typ)
		encodings := []int32{encodingLevels, encoding}
		if encoding == encodingDictionary {
			encodings = append(encodings, encodingPlain)
		}
		g.list(2, compactInt32, len(encodings))
		for _, e := range encodings {
			g.b = append(g.b, byte(e<<1)) // as a variable-length number
		}
		g.list(3, compactBinary, 1)
		g.item([]byte(w.table.columns[i].name))
		g.int32(4, codecZstd)
		g.int64(5, int64(c.rows))
		g.int64(6, int64(c.uncompressed))
		g.int64(7, int64(len(c.pages)))
		g.int64(9, at+int64(c.dictionary))
		if c.dictionary > 0 {
			g.int64(11, at)
		}
		g.nested(12)
		g.int64(3, int64(c.nulls))
		if c.min != nil {
			g.binary(5, c.max)
			g.binary(6, c.min)
		}
		g.end()
		g.end()
		g.end()
		at += int64(len(c.pages))
		uncompressed += c.uncompressed
	}
	g.int64(2, int64(uncompressed))
	g.int64(3, int64(rows))
	g.int64(5, w.at)
	g.int64(6, at-w.at)
	g.int16(7, int16(w.n))
	g.end()
	w.n++
	w.rows += int64(rows)
}

// close writes the footer and returns the seal.
func (w *fileWriter) close() (digest string, err error) {
	footer := w.footer()
	at, err := sealAt(footer)
	if err != nil {
		return "", err
	}
	w.hash.Write(footer) // with zeros in the seal's place
	digest = hex.EncodeToString(w.hash.Sum(nil))
	copy(footer[at:], digest)
	_, err = w.out.Write(footer)
	return digest, err
}

// write writes all columns, of equal length, as one sealed Parquet file.
func (t *table) write(ctx context.Context, out io.Writer, data []any, meta []keyValue) (digest string, err error) {
	w, err := newFileWriter(out, t, meta)
	if err != nil {
		return "", err
	}
	rows, err := t.rowsOf(data)
	if err != nil {
		return "", err
	}
	part := make([]any, len(data))
	for from := 0; from < rows; from += rowGroupRows {
		for i := range data {
			part[i] = rowsFrom(data[i], from, min(from+rowGroupRows, rows))
		}
		if err := w.group(ctx, part); err != nil {
			return "", err
		}
	}
	return w.close()
}

// rowsOf returns how long the columns are, which must be all the same.
func (t *table) rowsOf(data []any) (rows int, err error) {
	rows = rowsOf(data[0])
	for i := range data {
		if n := rowsOf(data[i]); n != rows {
			return 0, fmt.Errorf("column %s: %d rows where %s has %d", t.columns[i].name, n, t.columns[0].name, rows)
		}
	}
	return rows, nil
}

// metadata returns all entries of a file's metadata, sorted by key.
func (t *table) metadata(own []keyValue) []keyValue {
	all := append([]keyValue{{"table", t.name}, {"frame", t.frame}, {sealKey, emptySeal}}, own...)
	for _, c := range t.columns {
		all = append(all, keyValue{"column." + c.name, c.doc})
		if c.unit != "" {
			all = append(all, keyValue{"unit." + c.name, c.unit})
		}
	}
	slices.SortFunc(all, func(a, b keyValue) int {
		if a.key < b.key {
			return -1
		}
		return 1
	})
	return all
}
