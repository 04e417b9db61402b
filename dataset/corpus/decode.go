package corpus

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// decoded is one file's content by column: []int32, []int64, []float32,
// []float64, []bool or []string.
type decoded struct {
	rows    int
	columns []any
	meta    map[string]string // without the prefix
	seal    string
}

// decode verifies the seal of a file and reads the table's columns. Nothing in
// the file can make it panic.
func (t *table) decode(ctx context.Context, file []byte) (*decoded, error) {
	digest, err := verifySeal(file)
	if err != nil {
		return nil, err
	}
	d, err := t.parse(ctx, file)
	if err != nil {
		return nil, err
	}
	d.seal = digest
	return d, nil
}

// parse reads the table's columns without looking at the seal.
func (t *table) parse(ctx context.Context, file []byte) (d *decoded, err error) {
	f, err := t.open(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		return nil, err
	}
	most := int64(maxRoom)
	if t.most > 0 {
		most = t.most
	}
	if f.rows > most {
		return nil, fmt.Errorf("states %d rows, want at most %d", f.rows, most)
	}
	d = &decoded{rows: int(f.rows), columns: make([]any, len(t.columns)), meta: f.meta}
	for i := range t.columns {
		d.columns[i] = t.columns[i].empty(min(d.rows, 1<<12)) // the rest grows: the footer may overstate the rows
	}
	for g := range f.groups {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := f.readGroup(g, d.columns); err != nil {
			return nil, err
		}
	}
	return d, nil
}

// maxRoom is how many rows are read at once: all of a table, or a row group of
// samples.
const maxRoom = 1 << 22

// empty is a slice of the column's type with room for so many values.
func (c *column) empty(room int) any {
	switch c.kind {
	case kindInt32:
		return make([]int32, 0, room)
	case kindInt64:
		return make([]int64, 0, room)
	case kindFloat32:
		return make([]float32, 0, room)
	case kindFloat64:
		return make([]float64, 0, room)
	case kindBool:
		return make([]bool, 0, room)
	case kindString:
		return make([]string, 0, room)
	}
	panic(fmt.Sprintf("corpus: column %s is of kind %d", c.name, c.kind))
}

// openFile is a file of which the footer has been read.
type openFile struct {
	table  *table
	file   io.ReaderAt
	size   int64
	schema *parquet.Schema
	rows   int64
	groups []openGroup
	at     []int             // of each column of the table among the file's
	meta   map[string]string // without the prefix
}

// openGroup is where the columns of a row group lie.
type openGroup struct {
	rows   int64
	chunks []parquet.ColumnChunk // of the file's columns
}

// open reads the footer of a file of this table and finds the table's columns.
func (t *table) open(file io.ReaderAt, size int64) (_ *openFile, err error) {
	defer recovered(&err)
	f, err := openParquet(file, size)
	if err != nil {
		return nil, err
	}
	if name := f.meta["table"]; name != t.name {
		return nil, fmt.Errorf("holds the table %q, want %q", name, t.name)
	}
	f.table, f.at = t, make([]int, len(t.columns))
	for i := range t.columns {
		c := &t.columns[i]
		leaf, ok := f.schema.Lookup(c.name)
		if !ok {
			return nil, fmt.Errorf("column %s is missing", c.name)
		}
		if want := c.node(nil); !leaf.Node.Leaf() || leaf.Node.Repeated() || leaf.Node.Optional() != c.optional || leaf.Node.Type().Kind() != want.Type().Kind() {
			return nil, fmt.Errorf("column %s is %s, want %s", c.name, leaf.Node, want)
		}
		f.at[i] = leaf.ColumnIndex
	}
	return f, nil
}

// openParquet reads the footer of a Parquet file, after checking that it lies
// inside, and holds what it states of the row groups against the file's size.
func openParquet(file io.ReaderAt, size int64) (_ *openFile, err error) {
	defer recovered(&err)
	raw, _, err := footerBytes(file, size)
	if err != nil {
		return nil, err
	}
	if err := checkFooter(raw); err != nil {
		return nil, err
	}
	p, err := parquet.OpenFile(file, size, parquet.SkipPageIndex(true), parquet.SkipBloomFilters(true))
	if err != nil {
		return nil, err
	}
	f := &openFile{file: file, size: size, schema: p.Schema(), rows: p.NumRows(), meta: map[string]string{}}
	for _, kv := range p.Metadata().KeyValueMetadata {
		if key, ok := strings.CutPrefix(kv.Key, metaPrefix); ok {
			f.meta[key] = kv.Value
		}
	}
	sum := int64(0)
	for _, g := range p.RowGroups() {
		rows := g.NumRows()
		if rows < 1 || rows > math.MaxInt32 {
			return nil, fmt.Errorf("states a row group of %d rows", rows)
		}
		f.groups = append(f.groups, openGroup{rows, g.ColumnChunks()})
		sum += rows
	}
	if f.rows != sum {
		return nil, fmt.Errorf("states %d rows in row groups of %d", f.rows, sum)
	}
	return f, nil
}

// readGroup appends the values of row group g to the columns that are not nil.
func (f *openFile) readGroup(g int, columns []any) (err error) {
	for i := range columns {
		if columns[i] == nil {
			continue
		}
		if columns[i], err = f.readChunk(g, i, columns[i]); err != nil {
			return fmt.Errorf("column %s: %w", f.table.columns[i].name, err)
		}
	}
	return nil
}

// readChunk appends the values of column i in row group g.
func (f *openFile) readChunk(g, i int, out any) (_ any, err error) {
	defer recovered(&err)
	rows := f.groups[g].rows
	if rows > maxRoom {
		return nil, fmt.Errorf("row group %d states %d rows", g, rows)
	}
	chunk := f.groups[g].chunks[f.at[i]].(*parquet.FileColumnChunk)
	if err := f.checkPages(&f.table.columns[i], chunk, g, rows); err != nil {
		return nil, err
	}
	pages := chunk.Pages()
	defer pages.Close()
	want := int64(rowsOf(out)) + rows
	for {
		page, err := pages.ReadPage()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		if got := int64(rowsOf(out)) + page.NumValues(); got > want {
			err = fmt.Errorf("holds %d values more than its row group", got-want)
		} else {
			out, err = appendPage(out, page)
		}
		parquet.Release(page)
		if err != nil {
			return nil, err
		}
	}
	if got := int64(rowsOf(out)); got != want {
		return nil, fmt.Errorf("holds %d values fewer than its row group", want-got)
	}
	return out, nil
}

// appendPage appends a page. Pages without nulls are copied in one go, all
// others value by value.
func appendPage(out any, page parquet.Page) (any, error) {
	if page.NumNulls() == 0 {
		data, dictionary := page.Data(), page.Dictionary()
		switch d := out.(type) {
		case []int32:
			if dictionary != nil {
				return appendListed(d, dictionary, data.Int32(), parquet.Value.Int32), nil
			}
		case []string:
			if dictionary != nil {
				return appendListed(d, dictionary, data.Int32(), text), nil
			}
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

func text(v parquet.Value) string { return string(v.ByteArray()) }

// appendListed appends values of which a page holds the places in a dictionary.
func appendListed[T any](dst []T, d parquet.Dictionary, places []int32, of func(parquet.Value) T) []T {
	listed := make([]T, d.Len())
	for i := range listed {
		listed[i] = of(d.Index(int32(i)))
	}
	for _, i := range places {
		dst = append(dst, listed[i])
	}
	return dst
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
			d = append(d, text(v))
		}
		return d
	}
	panic(fmt.Sprintf("corpus: column data of type %T", out))
}

// recovered turns a panic of the Parquet library into an error.
func recovered(err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("the parquet library gave up: %v", p)
	}
}
