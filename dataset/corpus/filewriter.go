package corpus

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"io"
	"runtime"
	"slices"

	"github.com/parquet-go/parquet-go"
	"golang.org/x/sync/errgroup"
)

// maxRowGroups is for how many the footer stays below maxFooterBytes: 1074
// million samples, 12 days at 1000 Hz.
const maxRowGroups = 1 << 13

// pageBytes is more than the library counts of a column of a row group, which are
// five bytes a row, so that it is one page: the writer holds an index of all pages
// until the footer.
const pageBytes = 8 * rowGroupRows

// tellRows is of how many rows the library is told at a time.
const tellRows = 1 << 10

// fileWriter writes a sealed Parquet file, row group by row group. It holds one
// row group and the footer's list of those that were written: the same rows give
// the same bytes, on any number of processors.
type fileWriter struct {
	table   *table
	out     *footerHolder
	parquet *parquet.GenericWriter[any]
	columns []*wholeColumn
	n       int
	rows    int64

	present, null []parquet.Value // placeholders of rows, see wholeColumn
}

// keyValue is one entry of a file's metadata.
type keyValue struct{ key, value string }

// newFileWriter starts a file. Meta are the entries of its metadata beside
// those that the table itself gives.
func newFileWriter(out io.Writer, t *table, meta []keyValue) *fileWriter {
	held := &footerHolder{out: out, hash: sha256.New()}
	w := &fileWriter{
		table: t, out: held,
		present: slices.Repeat([]parquet.Value{parquet.Value{}.Level(0, 1, 0)}, tellRows),
		null:    make([]parquet.Value, tellRows),
	}
	for range t.columns {
		w.columns = append(w.columns, new(wholeColumn))
	}
	w.parquet = parquet.NewGenericWriter[any](held, append(t.writerOptions(meta), t.schema(w.columns))...)
	return w
}

// largeRows is from how many rows on it pays to encode columns side by side.
const largeRows = 1 << 12

// group writes one row group: columns of equal length, in the table's order.
func (w *fileWriter) group(ctx context.Context, data []any) (err error) {
	defer recovered(&err)
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
	w.n++
	w.rows += int64(rows)
	hands := 1
	if rows >= largeRows {
		hands = min(runtime.GOMAXPROCS(0), len(data))
	}
	var columns errgroup.Group
	columns.SetLimit(hands)
	for i, column := range slices.Backward(w.parquet.ColumnWriters()) { // the costly ones come last in a table
		columns.Go(func() error { return w.encode(column, i, data[i]) })
	}
	if err := columns.Wait(); err != nil {
		return err
	}
	return w.parquet.Flush()
}

// encode encodes and compresses the rows of one column in memory.
func (w *fileWriter) encode(to *parquet.ColumnWriter, i int, data any) (err error) {
	defer recovered(&err)
	c := &w.table.columns[i]
	var failed error
	w.columns[i].set(c, data, func(n int, null bool) {
		rows := w.present
		if null {
			rows = w.null
		}
		for ; n > 0 && failed == nil; n -= len(rows) {
			_, failed = to.WriteRowValues(rows[:min(n, len(rows))])
		}
	})
	if failed == nil {
		failed = to.Flush()
	}
	if failed != nil {
		return fmt.Errorf("column %s: %w", c.name, failed)
	}
	return nil
}

// close writes the footer and returns the seal.
func (w *fileWriter) close() (digest string, err error) {
	defer recovered(&err)
	w.out.hold = true
	if err := w.parquet.Close(); err != nil {
		return "", err
	}
	return w.out.seal()
}

// footerHolder hashes what passes through it and holds back the footer, in
// which the hash is to be filled in.
type footerHolder struct {
	out    io.Writer
	hash   hash.Hash
	hold   bool
	footer []byte
}

func (h *footerHolder) Write(p []byte) (int, error) {
	h.hash.Write(p) // of the footer with zeros in the seal's place
	if h.hold {
		h.footer = append(h.footer, p...)
		return len(p), nil
	}
	return h.out.Write(p)
}

func (h *footerHolder) seal() (digest string, err error) {
	at, err := sealAt(h.footer)
	if err != nil {
		return "", err
	}
	digest = hex.EncodeToString(h.hash.Sum(nil))
	copy(h.footer[at:], digest)
	_, err = h.out.Write(h.footer)
	return digest, err
}

// write writes all columns, of equal length, as one sealed Parquet file.
func (t *table) write(ctx context.Context, out io.Writer, data []any, meta []keyValue) (digest string, err error) {
	rows, err := t.rowsOf(data)
	if err != nil {
		return "", err
	}
	w := newFileWriter(out, t, meta)
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

// writerOptions fixes everything that decides the bytes of a file.
func (t *table) writerOptions(own []keyValue) []parquet.WriterOption {
	options := []parquet.WriterOption{parquet.CreatedBy("strikerose", "1", ""), parquet.PageBufferSize(pageBytes)}
	all := slices.Concat([]keyValue{{"table", t.name}, {"frame", t.frame}, {sealKey, emptySeal}}, own)
	for _, c := range t.columns {
		all = append(all, keyValue{"column." + c.name, c.doc})
		if c.unit != "" {
			all = append(all, keyValue{"unit." + c.name, c.unit})
		}
	}
	for _, c := range identity() { // the same in every row: a page's bounds tell nothing
		options = append(options, parquet.SkipPageBounds(c.name), parquet.SkipPageStatistics(c.name))
	}
	for _, kv := range all {
		options = append(options, parquet.KeyValueMetadata(metaPrefix+kv.key, kv.value))
	}
	return options
}
