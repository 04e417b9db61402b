package corpus

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// decoded is one file's content by column: []int32, []int64, []float32,
// []float64, []bool or []string, nil for a column that was skipped.
type decoded struct {
	rows    int
	columns []any
	meta    map[string]string // without the prefix
	seal    string
}

// decode verifies the seal of a file and reads the table's columns, except
// those to be skipped, which stay nil. Nothing in the file can make it panic.
func (t *table) decode(ctx context.Context, file []byte, skip ...string) (*decoded, error) {
	digest, err := verifySeal(file)
	if err != nil {
		return nil, err
	}
	d, err := t.parse(ctx, file, skip...)
	if err != nil {
		return nil, err
	}
	d.seal = digest
	return d, nil
}

// parse reads the table's columns without looking at the seal.
func (t *table) parse(ctx context.Context, file []byte, skip ...string) (d *decoded, err error) {
	defer recovered(&err)
	f, err := openParquet(file)
	if err != nil {
		return nil, err
	}
	d = &decoded{columns: make([]any, len(t.columns)), meta: metadataOf(f)}
	if name := d.meta["table"]; name != t.name {
		return nil, fmt.Errorf("holds the table %q, want %q", name, t.name)
	}
	rows := f.NumRows()
	if rows < 0 || rows > math.MaxInt32 {
		return nil, fmt.Errorf("states %d rows", rows)
	}
	d.rows = int(rows)
	for i := range t.columns {
		c := &t.columns[i]
		leaf, ok := f.Schema().Lookup(c.name)
		if !ok {
			return nil, fmt.Errorf("column %s is missing", c.name)
		}
		if err := c.matches(leaf.Node); err != nil {
			return nil, fmt.Errorf("column %s: %w", c.name, err)
		}
		if slices.Contains(skip, c.name) {
			continue
		}
		if d.columns[i], err = c.read(ctx, f, leaf.ColumnIndex, d.rows); err != nil {
			return nil, fmt.Errorf("column %s: %w", c.name, err)
		}
	}
	return d, nil
}

// openParquet opens a file that is whole in memory, after checking that the
// footer it announces lies inside it.
func openParquet(file []byte) (*parquet.File, error) {
	const tail = 8 // footer length and magic
	if len(file) < tail+4 || string(file[len(file)-4:]) != "PAR1" {
		return nil, errors.New("is not a whole Parquet file")
	}
	if n := binary.LittleEndian.Uint32(file[len(file)-tail:]); int64(n) > int64(len(file)-tail-4) {
		return nil, fmt.Errorf("states a footer of %d bytes in a file of %d", n, len(file))
	}
	return parquet.OpenFile(bytes.NewReader(file), int64(len(file)))
}

func metadataOf(f *parquet.File) map[string]string {
	meta := make(map[string]string)
	for _, kv := range f.Metadata().KeyValueMetadata {
		if key, ok := strings.CutPrefix(kv.Key, metaPrefix); ok {
			meta[key] = kv.Value
		}
	}
	return meta
}

// matches compares a column's physical type with the table's.
func (c *column) matches(n parquet.Node) error {
	want := c.node()
	if !n.Leaf() || n.Repeated() || n.Optional() != c.optional || n.Type().Kind() != want.Type().Kind() {
		return fmt.Errorf("is %s, want %s", n, want)
	}
	return nil
}

// maxRoom is for how many rows room is made before any is read.
const maxRoom = 1 << 22

// read collects one column over all row groups.
func (c *column) read(ctx context.Context, f *parquet.File, index, rows int) (any, error) {
	room := min(rows, maxRoom) // the rest grows: the footer may overstate the rows
	var out any
	switch c.kind {
	case kindInt32:
		out = make([]int32, 0, room)
	case kindInt64:
		out = make([]int64, 0, room)
	case kindFloat32:
		out = make([]float32, 0, room)
	case kindFloat64:
		out = make([]float64, 0, room)
	case kindBool:
		out = make([]bool, 0, room)
	case kindString:
		out = make([]string, 0, room)
	}
	for _, rg := range f.RowGroups() {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		var err error
		if out, err = c.readChunk(out, rg.ColumnChunks()[index], rows); err != nil {
			return nil, err
		}
	}
	if n := rowsOf(out); n != rows {
		return nil, fmt.Errorf("holds %d values, want %d", n, rows)
	}
	return out, nil
}

func (c *column) readChunk(out any, chunk parquet.ColumnChunk, rows int) (_ any, err error) {
	pages := chunk.Pages()
	defer pages.Close()
	for {
		page, err := pages.ReadPage()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		if got := int64(rowsOf(out)) + page.NumValues(); got > int64(rows) {
			err = fmt.Errorf("holds %d values or more, want %d", got, rows)
		} else {
			out, err = c.readPage(out, page)
		}
		parquet.Release(page)
		if err != nil {
			return nil, err
		}
	}
}

// readPage appends a page. Pages of plain numbers without nulls are copied in
// one go, all others value by value.
func (c *column) readPage(out any, page parquet.Page) (any, error) {
	if page.Dictionary() == nil && page.NumNulls() == 0 {
		data := page.Data()
		switch d := out.(type) {
		case []int64:
			return append(d, data.Int64()...), nil
		case []float32:
			return append(d, data.Float()...), nil
		case []float64:
			return append(d, data.Double()...), nil
		}
	}
	values := page.Values()
	var buf [512]parquet.Value
	for {
		n, err := values.ReadValues(buf[:])
		out = appendRead(out, buf[:n])
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		if n == 0 {
			return nil, io.ErrNoProgress
		}
	}
}

func appendRead(out any, values []parquet.Value) any {
	switch d := out.(type) {
	case []int32:
		for _, v := range values {
			d = append(d, v.Int32()) // 0 for null
		}
		return d
	case []int64:
		for _, v := range values {
			d = append(d, v.Int64())
		}
		return d
	case []float32:
		for _, v := range values {
			if v.IsNull() {
				d = append(d, float32(math.NaN()))
				continue
			}
			d = append(d, v.Float())
		}
		return d
	case []float64:
		for _, v := range values {
			if v.IsNull() {
				d = append(d, math.NaN())
				continue
			}
			d = append(d, v.Double())
		}
		return d
	case []bool:
		for _, v := range values {
			d = append(d, v.Boolean())
		}
		return d
	case []string:
		for _, v := range values {
			if v.IsNull() {
				d = append(d, "")
				continue
			}
			d = append(d, string(v.ByteArray()))
		}
		return d
	}
	panic(fmt.Sprintf("corpus: column data of type %T", out))
}
