package corpus

import "fmt"

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
