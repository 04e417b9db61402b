package corpus

import (
	"fmt"
	"reflect"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/compress/zstd"
	"github.com/parquet-go/parquet-go/encoding"
)

// kind is a column's Go type. The zero value of an optional column's type
// (NaN for numbers with a fraction) is stored as null and read back as it was.
type kind int

const (
	kindInt32 kind = iota
	kindInt64
	kindFloat32
	kindFloat64
	kindBool
	kindString
)

// column describes one column of a table.
type column struct {
	name     string
	kind     kind
	optional bool
	delta    bool   // delta-coded whole numbers: times
	unit     string // SI, or "" where there is none
	doc      string
}

// table is the description of one kind of file: its folder below the corpus,
// and its columns in order. Every table starts with rig and session, because
// engines guess the types of partition values in paths.
type table struct {
	name    string
	frame   string // of the vectors in it
	columns []column
	most    int64 // rows that are read at once, 0 maxRoom
}

// identity is the pair of columns that every table starts with.
func identity() []column {
	return []column{
		{name: "rig", kind: kindString, doc: "rig revision, NAME-rREV"},
		{name: "session", kind: kindString, doc: "session name, unique in the corpus"},
	}
}

// index returns the position of a column; an unknown name is a programmer's
// mistake.
func (t *table) index(name string) int {
	for i := range t.columns {
		if t.columns[i].name == name {
			return i
		}
	}
	panic("corpus: table " + t.name + " has no column " + name)
}

// schema returns the Parquet schema, with columns in the table's order, of a file
// whose rows are given by columns.
func (t *table) schema(columns []*wholeColumn) *parquet.Schema {
	g := orderedGroup{Group: parquet.Group{}}
	// One for all columns, since each holds some megabytes. Readings are noise: a
	// closer look for repetitions finds few more.
	codec := &zstd.Codec{Level: zstd.SpeedFastest}
	for i, c := range t.columns {
		g.Group[c.name] = parquet.Compressed(c.node(columns[i]), codec)
		g.order = append(g.order, c.name)
	}
	return parquet.NewSchema(t.name, g)
}

// node is the column as it is encoded, not yet compressed. Rows are nil where none
// will be written.
func (c *column) node(rows *wholeColumn) parquet.Node {
	var typ parquet.Type
	var enc encoding.Encoding = &parquet.Plain
	switch c.kind {
	case kindInt32:
		typ, enc = parquet.Int32Type, &parquet.RLEDictionary
	case kindInt64:
		typ = parquet.Int64Type
		if c.delta {
			enc = &parquet.DeltaBinaryPacked
		}
	case kindFloat32:
		typ, enc = parquet.FloatType, &parquet.ByteStreamSplit
	case kindFloat64:
		typ, enc = parquet.DoubleType, &parquet.ByteStreamSplit
	case kindBool:
		typ = parquet.BooleanType
	case kindString:
		typ, enc = parquet.String().Type(), &parquet.RLEDictionary
	}
	n := parquet.Encoded(parquet.Leaf(wholeType{typ, rows}), enc)
	if c.optional {
		n = parquet.Optional(n)
	}
	return n
}

// orderedGroup is a group whose columns keep the order they were given in,
// where parquet.Group sorts them by name.
type orderedGroup struct {
	parquet.Group
	order []string
}

func (g orderedGroup) Fields() []parquet.Field {
	byName := make(map[string]parquet.Field, len(g.order))
	for _, f := range g.Group.Fields() {
		byName[f.Name()] = f
	}
	out := make([]parquet.Field, len(g.order))
	for i, name := range g.order {
		out[i] = byName[name]
	}
	return out
}

func (g orderedGroup) GoType() reflect.Type { return g.Group.GoType() }

// repeated is a column that holds the same text in each of n rows.
type repeated struct {
	text string
	n    int
}

// absent is an optional column with no value in any of n rows.
type absent struct{ n int }

// rowsOf returns the number of rows of one column's data.
func rowsOf(data any) int {
	switch d := data.(type) {
	case []int32:
		return len(d)
	case []int64:
		return len(d)
	case []float32:
		return len(d)
	case []float64:
		return len(d)
	case []bool:
		return len(d)
	case []string:
		return len(d)
	case repeated:
		return d.n
	case absent:
		return d.n
	}
	panic(fmt.Sprintf("corpus: column data of type %T", data))
}

// rowsFrom returns rows from..to of one column's data, sharing memory with it.
func rowsFrom(data any, from, to int) any {
	switch d := data.(type) {
	case []int32:
		return d[from:to]
	case []int64:
		return d[from:to]
	case []float32:
		return d[from:to]
	case []float64:
		return d[from:to]
	case []bool:
		return d[from:to]
	case []string:
		return d[from:to]
	case repeated:
		return repeated{d.text, to - from}
	case absent:
		return absent{to - from}
	}
	panic(fmt.Sprintf("corpus: column data of type %T", data))
}
