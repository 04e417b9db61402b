package corpus

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"slices"
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
	r, err := newChunkReader()
	if err != nil {
		return nil, err
	}
	var pages []byte
	for g := range f.groups {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if pages, err = f.readGroup(r, g, pages, d.columns); err != nil {
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
	*footer
	table *table
	file  io.ReaderAt
	at    []int // of each column of the table among the file's
}

// open reads the footer of a file of this table and finds the table's columns.
func (t *table) open(file io.ReaderAt, size int64) (*openFile, error) {
	foot, _, err := readFooter(file, size)
	if err != nil {
		return nil, err
	}
	if name := foot.meta["table"]; name != t.name {
		return nil, fmt.Errorf("holds the table %q, want %q", name, t.name)
	}
	f := &openFile{footer: foot, table: t, file: file, at: make([]int, len(t.columns))}
	for i := range t.columns {
		c := &t.columns[i]
		f.at[i] = slices.IndexFunc(foot.fields, func(field fileField) bool { return field.name == c.name })
		if f.at[i] < 0 {
			return nil, fmt.Errorf("column %s is missing", c.name)
		}
		if typ, _ := c.physical(); foot.fields[f.at[i]].typ != typ || foot.fields[f.at[i]].optional != c.optional {
			return nil, fmt.Errorf("column %s is of another type", c.name)
		}
	}
	return f, nil
}

// readGroup appends the values of row group g to the columns that are not nil.
// Room is used for the pages and returned.
func (f *openFile) readGroup(r *chunkReader, g int, room []byte, columns []any) (_ []byte, err error) {
	for i := range columns {
		if columns[i] == nil {
			continue
		}
		if room, err = f.readChunk(r, g, i, room, &columns[i]); err != nil {
			return room, err
		}
	}
	return room, nil
}

// readChunk appends the values of column i in row group g.
func (f *openFile) readChunk(r *chunkReader, g, i int, room []byte, column *any) (_ []byte, err error) {
	defer recovered(&err)
	c, place := &f.table.columns[i], f.groups[g].chunks[f.at[i]]
	if f.groups[g].rows > maxRoom {
		return room, fmt.Errorf("row group %d states %d rows", g, f.groups[g].rows)
	}
	room = slices.Grow(room[:0], int(place.bytes))[:place.bytes]
	if _, err := f.file.ReadAt(room, place.at); err != nil {
		return room, err
	}
	if *column, err = r.read(c, room, int(f.groups[g].rows), *column); err != nil {
		return room, fmt.Errorf("column %s: %w", c.name, err)
	}
	return room, nil
}

// recovered turns a panic into an error.
func recovered(err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("reading or writing gave up: %v", p)
	}
}
