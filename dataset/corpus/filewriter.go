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

// pageBytes is what a column of a row group takes at most, so that it is one page:
// the writer holds an index of all pages until the footer.
const pageBytes = 8*rowGroupRows + 1

// pageRows is how many values are handed over at a time.
const pageRows = 1 << 10

// fileWriter writes a sealed Parquet file, row group by row group. It holds one
// row group and the footer's list of those that were written: the same rows give
// the same bytes, on any number of processors.
type fileWriter struct {
	table   *table
	out     *footerHolder
	parquet *parquet.GenericWriter[any]
	n       int
	rows    int64
}

// keyValue is one entry of a file's metadata.
type keyValue struct{ key, value string }

// newFileWriter starts a file. Meta are the entries of its metadata beside
// those that the table itself gives.
func newFileWriter(out io.Writer, t *table, meta []keyValue) *fileWriter {
	held := &footerHolder{out: out, hash: sha256.New()}
	return &fileWriter{table: t, out: held, parquet: parquet.NewGenericWriter[any](held, t.writerOptions(meta)...)}
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
		columns.Go(func() error { return w.table.columns[i].encode(column, i, data[i], rows) })
	}
	if err := columns.Wait(); err != nil {
		return err
	}
	return w.parquet.Flush()
}

// encode encodes and compresses the rows of one column in memory.
func (c *column) encode(to *parquet.ColumnWriter, index int, data any, rows int) (err error) {
	defer recovered(&err)
	buf := make([]parquet.Value, 0, min(pageRows, rows))
	for from := 0; from < rows; from += pageRows {
		buf = c.appendValues(buf[:0], index, data, from, min(from+pageRows, rows))
		if _, err := to.WriteRowValues(buf); err != nil {
			return fmt.Errorf("column %s: %w", c.name, err)
		}
	}
	if err := to.Flush(); err != nil {
		return fmt.Errorf("column %s: %w", c.name, err)
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
	options := []parquet.WriterOption{t.schema(), parquet.CreatedBy("strikerose", "1", ""), parquet.PageBufferSize(pageBytes)}
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

// appendValues appends rows from..to of one column.
func (c *column) appendValues(dst []parquet.Value, index int, data any, from, to int) []parquet.Value {
	switch d := data.(type) {
	case []int32:
		return appendBoxed(dst, d[from:to], c.optional, index, parquet.Int32Value, func(v int32) bool { return v == 0 })
	case []int64:
		return appendBoxed(dst, d[from:to], c.optional, index, parquet.Int64Value, func(v int64) bool { return v == 0 })
	case []float32: // most values are readings: a call for each would cost more than all the rest
		if !c.optional {
			for _, v := range d[from:to] {
				dst = append(dst, parquet.FloatValue(v))
			}
			return dst
		}
		for _, v := range d[from:to] {
			if v != v {
				dst = append(dst, parquet.NullValue().Level(0, 0, index))
				continue
			}
			dst = append(dst, parquet.FloatValue(v).Level(0, 1, index))
		}
		return dst
	case []float64:
		return appendBoxed(dst, d[from:to], c.optional, index, parquet.DoubleValue, func(v float64) bool { return v != v })
	case []bool:
		return appendBoxed(dst, d[from:to], c.optional, index, parquet.BooleanValue, func(v bool) bool { return !v })
	case []string:
		return appendBoxed(dst, d[from:to], c.optional, index, textValue, func(v string) bool { return v == "" })
	case repeated:
		return appendSame(dst, textValue(d.text).Level(0, 0, index), to-from)
	case absent:
		return appendSame(dst, parquet.NullValue().Level(0, 0, index), to-from)
	}
	panic(fmt.Sprintf("corpus: column data of type %T", data))
}

func textValue(s string) parquet.Value { return parquet.ByteArrayValue([]byte(s)) }

// appendBoxed appends values as the library takes them. Those of an optional
// column state whether they are there at all.
func appendBoxed[T any](dst []parquet.Value, values []T, optional bool, index int, box func(T) parquet.Value, null func(T) bool) []parquet.Value {
	if !optional {
		for _, v := range values {
			dst = append(dst, box(v))
		}
		return dst
	}
	for _, v := range values {
		if null(v) {
			dst = append(dst, parquet.NullValue().Level(0, 0, index))
			continue
		}
		dst = append(dst, box(v).Level(0, 1, index))
	}
	return dst
}

func appendSame(dst []parquet.Value, v parquet.Value, n int) []parquet.Value {
	for range n {
		dst = append(dst, v)
	}
	return dst
}
