// Package table reads the small tables that people write by hand or save from
// a spreadsheet: CSV with a header line. It finds the separator (comma,
// semicolon, tab or bar), skips a byte order mark, blank rows and lines that
// start with #, and keeps the position of each cell for messages. It knows
// nothing of what the columns mean.
package table

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
)

// maxBytes is the largest table that is read.
const maxBytes = 64 << 20

// maxFaults is how many faults a message lists.
const maxFaults = 20

// Table is a table with a header.
type Table struct {
	Name    string
	Columns []string // in lower case, without blanks around them
	Rows    []Row
	comma   rune
	faults  []error
	more    int // faults beyond maxFaults
}

// Row is one row, its cells without blanks around them.
type Row struct {
	cells []string
	line  []int // of each cell, from 1
	col   []int // first byte of each cell, from 1
}

// Read reads a table whose header must name all of the required columns.
func Read(r io.Reader, name string, required ...string) (*Table, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(data) > maxBytes {
		return nil, fmt.Errorf("%s: more than %d MB: this is no table of strikes", name, maxBytes>>20)
	}
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		return nil, fmt.Errorf("%s: UTF-16 text: save it as CSV in UTF-8", name)
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	t := &Table{Name: name, comma: separator(data, required)}
	cr := csv.NewReader(bytes.NewReader(data))
	cr.Comma, cr.Comment, cr.FieldsPerRecord = t.comma, '#', -1
	for {
		cells, err := cr.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if bad, ok := errors.AsType[*csv.ParseError](err); ok {
			return nil, fmt.Errorf("%s:%d:%d: %w: put quotes around a whole cell or leave them out", name, bad.Line, bad.Column, bad.Err)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		row := Row{cells: cells, line: make([]int, len(cells)), col: make([]int, len(cells))}
		blank := true
		for i := range cells {
			row.line[i], row.col[i] = cr.FieldPos(i)
			cells[i] = strings.TrimSpace(cells[i])
			blank = blank && cells[i] == ""
		}
		switch {
		case blank:
		case t.Columns == nil:
			if err := t.header(row, required); err != nil {
				return nil, err
			}
		default:
			t.Rows = append(t.Rows, row)
			for i := len(t.Columns); i < len(cells); i++ {
				if cells[i] != "" {
					t.Fault(row, i, "%q lies beyond the header's %d columns: an unquoted separator, or a decimal comma?", cells[i], len(t.Columns))
				}
			}
		}
	}
	if t.Columns == nil {
		return nil, fmt.Errorf("%s: no header: the first line must be %s", name, strings.Join(required, ","))
	}
	return t, nil
}

// separator picks the one that splits the first line into most of the
// required columns, the comma if none does.
func separator(data []byte, required []string) rune {
	var head string
	for text := range strings.Lines(string(data[:min(len(data), 64<<10)])) {
		if text = strings.TrimSpace(text); text != "" && !strings.HasPrefix(text, "#") {
			head = text
			break
		}
	}
	best, most := ',', 0
	for _, comma := range ",;\t|" {
		count := 0
		for cell := range strings.SplitSeq(head, string(comma)) {
			if slices.Contains(required, clean(cell)) {
				count++
			}
		}
		if count > most {
			best, most = comma, count
		}
	}
	return best
}

func clean(cell string) string {
	return strings.ToLower(strings.Trim(strings.TrimSpace(cell), `"`))
}

func (t *Table) header(row Row, required []string) error {
	for i, cell := range row.cells {
		column := clean(cell)
		if column != "" && slices.Contains(t.Columns, column) {
			return fmt.Errorf("%s:%d:%d: the header names %q twice: rename one", t.Name, row.line[i], row.col[i], column)
		}
		t.Columns = append(t.Columns, column)
	}
	var missing []string
	for _, want := range required {
		if !slices.Contains(t.Columns, want) {
			missing = append(missing, want)
		}
	}
	if len(missing) > 0 {
		return fmt.Errorf("%s:%d:1: the header lacks %s (it has %s): the first line must name the columns %s",
			t.Name, row.line[0], strings.Join(missing, ", "), shorten(strings.Join(t.Columns, ",")), strings.Join(required, ","))
	}
	return nil
}

func shorten(s string) string {
	if len(s) > 200 {
		return strings.ToValidUTF8(s[:200], "") + "..."
	}
	return s
}

// Column returns the position of a column, -1 if the table lacks it.
func (t *Table) Column(name string) int { return slices.Index(t.Columns, name) }

// Cell returns a row's text in a column; "" beyond the row's end and for
// column -1.
func (r Row) Cell(column int) string {
	if column < 0 || column >= len(r.cells) {
		return ""
	}
	return r.cells[column]
}

// Line returns the line of the file that a row starts on.
func (r Row) Line() int { return r.line[0] }

// Fault notes that a row's cell in a column is wrong and why. All faults
// together are the error that Err returns.
func (t *Table) Fault(r Row, column int, format string, args ...any) {
	if len(t.faults) == maxFaults {
		t.more++
		return
	}
	at := min(max(column, 0), len(r.cells)-1)
	t.faults = append(t.faults, fmt.Errorf("%s:%d:%d: %s", t.Name, r.line[at], r.col[at], shorten(fmt.Sprintf(format, args...))))
}

// Err returns the faults found so far, nil if there are none.
func (t *Table) Err() error {
	if t.more > 0 {
		return errors.Join(append(slices.Clone(t.faults), fmt.Errorf("%s: and %d faults more", t.Name, t.more))...)
	}
	return errors.Join(t.faults...)
}

// Int reads a whole number from a cell; a cell that holds none is a fault.
func (t *Table) Int(r Row, column int) (int, bool) {
	n, err := strconv.Atoi(r.Cell(column))
	if err != nil {
		t.Fault(r, column, "%s %q is not a whole number", t.Columns[column], r.Cell(column))
		return 0, false
	}
	return n, true
}

// Float reads a finite number from a cell; a cell that holds none is a fault.
// Where the separator is not the comma, a decimal comma is understood.
func (t *Table) Float(r Row, column int) (float64, bool) {
	text := r.Cell(column)
	if t.comma != ',' && strings.Count(text, ",") == 1 {
		text = strings.Replace(text, ",", ".", 1)
	}
	x, err := strconv.ParseFloat(text, 64)
	switch {
	case err != nil && strings.Contains(text, ","):
		t.Fault(r, column, "%s %q is not a number: write a decimal point, or separate the columns by semicolons", t.Columns[column], r.Cell(column))
	case err != nil || math.IsNaN(x) || math.IsInf(x, 0):
		t.Fault(r, column, "%s %q is not a number", t.Columns[column], r.Cell(column))
	default:
		return x, true
	}
	return 0, false
}
