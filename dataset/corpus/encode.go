package corpus

import (
	"bytes"
	"context"
	"fmt"
	"maps"
	"slices"

	"github.com/parquet-go/parquet-go"

	"strikerose/dataset"
)

// rowGroupRows is the size of a row group: small enough that an engine can
// skip most of a long session by its time statistics, large enough that the
// footer stays small.
const rowGroupRows = 1 << 17

// pageRows is how many values are handed over at a time.
const pageRows = 1 << 10

// metaPrefix starts every key that this package puts into a file's metadata.
const metaPrefix = "strikerose."

// Metadata keys that say whose table it is.
const (
	rigMeta     = "rig"
	sessionMeta = "session"
)

// encode writes columns of equal length as one sealed Parquet file of the
// session s. The data must stand in the table's order, without rig and session,
// which encode adds. The same input gives the same bytes.
func (t *table) encode(ctx context.Context, s *dataset.Session, data []any, meta map[string]string) (sealed []byte, err error) {
	if len(data)+2 != len(t.columns) {
		panic(fmt.Sprintf("corpus: table %s has %d columns, data has %d", t.name, len(t.columns), len(data)+2))
	}
	rows := rowsOf(data[0])
	data = append([]any{repeated{s.Rig, rows}, repeated{s.Name, rows}}, data...)
	return t.file(ctx, data, t.writerOptions(s, meta))
}

// file writes all columns, of equal length, as one sealed Parquet file.
func (t *table) file(ctx context.Context, data []any, options []parquet.WriterOption) (sealed []byte, err error) {
	defer recovered(&err)
	rows := rowsOf(data[0])
	for i := range data {
		if n := rowsOf(data[i]); n != rows {
			return nil, fmt.Errorf("column %s: %d rows where %s has %d", t.columns[i].name, n, t.columns[0].name, rows)
		}
	}
	var out bytes.Buffer
	w := parquet.NewGenericWriter[any](&out, options...)
	columns := w.ColumnWriters()
	buf := make([]parquet.Value, 0, min(pageRows, rows))
	for start := 0; start < rows; start += rowGroupRows {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		end := min(start+rowGroupRows, rows)
		for i, cw := range columns {
			if err := t.columns[i].write(cw, i, data[i], start, end, buf); err != nil {
				return nil, fmt.Errorf("column %s: %w", t.columns[i].name, err)
			}
		}
		if err := w.Flush(); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return seal(out.Bytes())
}

// write hands rows from..to of one column to its writer, by way of buf.
func (c *column) write(w *parquet.ColumnWriter, index int, data any, from, to int, buf []parquet.Value) error {
	for ; from < to; from += pageRows {
		buf = c.appendValues(buf[:0], index, data, from, min(from+pageRows, to))
		if _, err := w.WriteRowValues(buf); err != nil {
			return err
		}
	}
	return nil
}

// writerOptions fixes everything that decides the bytes of a file. A file of
// several sessions has none of its own: s is nil.
func (t *table) writerOptions(s *dataset.Session, meta map[string]string) []parquet.WriterOption {
	options := []parquet.WriterOption{
		t.schema(),
		parquet.CreatedBy("strikerose", "1", ""),
		parquet.KeyValueMetadata(metaPrefix+"table", t.name),
		parquet.KeyValueMetadata(metaPrefix+"frame", t.frame),
	}
	if s != nil {
		options = append(options, parquet.KeyValueMetadata(metaPrefix+rigMeta, s.Rig), parquet.KeyValueMetadata(metaPrefix+sessionMeta, s.Name))
	}
	options = append(options, parquet.KeyValueMetadata(metaPrefix+sealKey, emptySeal))
	for _, c := range t.columns {
		options = append(options, parquet.KeyValueMetadata(metaPrefix+"column."+c.name, c.doc))
		if c.unit != "" {
			options = append(options, parquet.KeyValueMetadata(metaPrefix+"unit."+c.name, c.unit))
		}
	}
	for _, key := range slices.Sorted(maps.Keys(meta)) {
		options = append(options, parquet.KeyValueMetadata(metaPrefix+key, meta[key]))
	}
	return options
}

// appendValues appends rows from..to of one column. The loops are written out,
// because a call for each value would cost more than all the rest of it.
func (c *column) appendValues(dst []parquet.Value, index int, data any, from, to int) []parquet.Value {
	first := len(dst)
	switch d := data.(type) {
	case []int32:
		for _, v := range d[from:to] {
			dst = append(dst, parquet.Int32Value(v))
		}
		c.setLevels(dst[first:], index, func(i int) bool { return d[from+i] == 0 })
	case []int64:
		for _, v := range d[from:to] {
			dst = append(dst, parquet.Int64Value(v))
		}
		c.setLevels(dst[first:], index, func(i int) bool { return d[from+i] == 0 })
	case []float32:
		for _, v := range d[from:to] {
			dst = append(dst, parquet.FloatValue(v))
		}
		c.setLevels(dst[first:], index, func(i int) bool { return d[from+i] != d[from+i] })
	case []float64:
		for _, v := range d[from:to] {
			dst = append(dst, parquet.DoubleValue(v))
		}
		c.setLevels(dst[first:], index, func(i int) bool { return d[from+i] != d[from+i] })
	case []bool:
		for _, v := range d[from:to] {
			dst = append(dst, parquet.BooleanValue(v))
		}
		c.setLevels(dst[first:], index, func(int) bool { return false })
	case []string:
		for _, v := range d[from:to] {
			dst = append(dst, textValue(v))
		}
		c.setLevels(dst[first:], index, func(i int) bool { return d[from+i] == "" })
	case repeated:
		v := textValue(d.text)
		for range to - from {
			dst = append(dst, v)
		}
		c.setLevels(dst[first:], index, func(int) bool { return false })
	case absent:
		for range to - from {
			dst = append(dst, parquet.NullValue())
		}
		c.setLevels(dst[first:], index, func(int) bool { return true })
	default:
		panic(fmt.Sprintf("corpus: column data of type %T", data))
	}
	return dst
}

// setLevels makes the values of an optional column null or not.
func (c *column) setLevels(values []parquet.Value, index int, isNull func(i int) bool) {
	if !c.optional {
		return
	}
	for i, v := range values {
		if isNull(i) {
			values[i] = parquet.NullValue().Level(0, 0, index)
		} else {
			values[i] = v.Level(0, 1, index)
		}
	}
}

func textValue(s string) parquet.Value { return parquet.ByteArrayValue([]byte(s)) }

// recovered turns a panic of the Parquet library into an error.
func recovered(err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("the parquet library gave up: %v", p)
	}
}
