package corpus

import (
	"bytes"
	"context"
	"fmt"
	"maps"
	"math"
	"slices"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/compress/zstd"

	"strikerose/dataset"
)

// rowGroupRows is the size of a row group: small enough that an engine can
// skip most of a long session by its time statistics, large enough that the
// footer stays small.
const rowGroupRows = 1 << 17

// pageRows is how many values are handed over at a time.
const pageRows = 1 << 13

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
	defer recovered(&err)
	if len(data)+2 != len(t.columns) {
		panic(fmt.Sprintf("corpus: table %s has %d columns, data has %d", t.name, len(t.columns), len(data)+2))
	}
	rows := rowsOf(data[0])
	data = append([]any{repeated{s.Rig, rows}, repeated{s.Name, rows}}, data...)
	for i := range data {
		if n := rowsOf(data[i]); n != rows {
			return nil, fmt.Errorf("column %s: %d rows where %s has %d", t.columns[i].name, n, t.columns[2].name, rows)
		}
	}
	var out bytes.Buffer
	w := parquet.NewGenericWriter[any](&out, t.writerOptions(s, meta)...)
	columns := w.ColumnWriters()
	buf := make([]parquet.Value, 0, pageRows)
	for start := 0; start < rows; start += rowGroupRows {
		end := min(start+rowGroupRows, rows)
		for i, cw := range columns {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			for from := start; from < end; from += pageRows {
				buf = t.columns[i].appendValues(buf[:0], i, data[i], from, min(from+pageRows, end))
				if _, err := cw.WriteRowValues(buf); err != nil {
					return nil, fmt.Errorf("column %s: %w", t.columns[i].name, err)
				}
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

// writerOptions fixes everything that decides the bytes of a file.
func (t *table) writerOptions(s *dataset.Session, meta map[string]string) []parquet.WriterOption {
	options := []parquet.WriterOption{
		t.schema(),
		parquet.CreatedBy("strikerose", "1", ""),
		parquet.Compression(&zstd.Codec{Level: zstd.SpeedDefault, Concurrency: 1}),
		parquet.KeyValueMetadata(metaPrefix+"table", t.name),
		parquet.KeyValueMetadata(metaPrefix+"frame", t.frame),
		parquet.KeyValueMetadata(metaPrefix+rigMeta, s.Rig),
		parquet.KeyValueMetadata(metaPrefix+sessionMeta, s.Name),
		parquet.KeyValueMetadata(metaPrefix+sealKey, emptySeal),
	}
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

// appendValues appends rows from..to of one column.
func (c *column) appendValues(dst []parquet.Value, index int, data any, from, to int) []parquet.Value {
	level := 0
	if c.optional {
		level = 1
	}
	null := parquet.NullValue().Level(0, 0, index)
	put := func(v parquet.Value, isNull bool) {
		if c.optional && isNull {
			dst = append(dst, null)
			return
		}
		dst = append(dst, v.Level(0, level, index))
	}
	switch d := data.(type) {
	case []int32:
		for _, v := range d[from:to] {
			put(parquet.Int32Value(v), v == 0)
		}
	case []int64:
		for _, v := range d[from:to] {
			put(parquet.Int64Value(v), v == 0)
		}
	case []float32:
		for _, v := range d[from:to] {
			put(parquet.FloatValue(v), v != v)
		}
	case []float64:
		for _, v := range d[from:to] {
			put(parquet.DoubleValue(v), math.IsNaN(v))
		}
	case []bool:
		for _, v := range d[from:to] {
			put(parquet.BooleanValue(v), false)
		}
	case []string:
		for _, v := range d[from:to] {
			put(parquet.ByteArrayValue([]byte(v)), v == "")
		}
	case repeated:
		v := parquet.ByteArrayValue([]byte(d.text))
		for range to - from {
			put(v, false)
		}
	case absent:
		for range to - from {
			dst = append(dst, null)
		}
	}
	return dst
}

// recovered turns a panic of the Parquet library into an error.
func recovered(err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("the parquet library gave up: %v", p)
	}
}
