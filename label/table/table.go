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
	at    []place // of each cell
}

// place is where a cell's first byte lies, from 1.
type place struct{ line, col int32 }

// Read reads a table whose header must name all of the required columns.
func Read(r io.Reader, name string, required ...string) (*Table, error) {
	in := newLimited(r)
	head := in.start()
	if bytes.HasPrefix(head, []byte("\xff\xfe")) || bytes.HasPrefix(head, []byte("\xfe\xff")) {
		return nil, fmt.Errorf("%s: UTF-16 text: save it as CSV in UTF-8", name)
	}
	if mark := []byte("\xef\xbb\xbf"); bytes.HasPrefix(head, mark) {
		head = head[len(mark):]
		_, _ = in.r.Discard(len(mark)) // it was seen
	}
	t := &Table{Name: name, comma: separator(head, required)}
	cr := csv.NewReader(in)
	cr.Comma, cr.Comment, cr.FieldsPerRecord = t.comma, '#', -1
	line, cells := 0, 0 // of the row read last; of all rows and what rows cost
	for {
		row, err := readRow(cr)
		if errors.Is(err, io.EOF) {
			break
		}
		if bad, ok := errors.AsType[*csv.ParseError](err); ok {
			return nil, fmt.Errorf("%s:%d:%d: %w: put quotes around a whole cell or leave them out", name, bad.Line, bad.Column, bad.Err)
		}
		if big, ok := errors.AsType[tooLarge](err); ok {
			return nil, fmt.Errorf("%s: behind line %d: %w", name, line, big)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		in.inRow = 0
		line = row.Line()
		if n := len(row.cells); n > maxColumns {
			return nil, fmt.Errorf("%s:%d:1: a row of %d cells: a table of strikes has at most %d columns", name, line, n, maxColumns)
		}
		if cells += len(row.cells) + rowCells; cells > maxCells {
			return nil, fmt.Errorf("%s:%d:1: %w", name, line, tooLarge(fmt.Sprintf("more than %d cells up to here: split the table", maxCells)))
		}
		switch {
		case row.blank():
		case t.Columns == nil:
			if err := t.header(row, required); err != nil {
				return nil, err
			}
		default:
			t.Rows = append(t.Rows, row)
			for i := len(t.Columns); i < len(row.cells); i++ {
				if row.cells[i] != "" {
					t.Fault(row, i, "%q lies beyond the header's %d columns: an unquoted separator, or a decimal comma?", row.cells[i], len(t.Columns))
				}
			}
		}
	}
	if t.Columns == nil {
		return nil, fmt.Errorf("%s: no header: the first line must be %s", name, strings.Join(required, ","))
	}
	return t, nil
}

// readRow reads the next row, its cells without blanks around them.
func readRow(cr *csv.Reader) (Row, error) {
	cells, err := cr.Read()
	if err != nil {
		return Row{}, err
	}
	row := Row{cells: cells, at: make([]place, len(cells))}
	for i := range cells {
		line, col := cr.FieldPos(i)
		row.at[i] = place{int32(line), int32(col)} // a table's bytes fit
		cells[i] = strings.TrimSpace(cells[i])
	}
	return row, nil
}

// blank tells whether nothing stands in a row.
func (r Row) blank() bool {
	return !slices.ContainsFunc(r.cells, func(cell string) bool { return cell != "" })
}

// separator picks the one that splits the first line into most of the
// required columns, the comma if none does.
func separator(head []byte, required []string) rune {
	var first string
	for text := range strings.Lines(string(head)) {
		if text = strings.TrimSpace(text); text != "" && !strings.HasPrefix(text, "#") {
			first = text
			break
		}
	}
	best, most := ',', 0
	for _, comma := range ",;\t|" {
		count := 0
		for cell := range strings.SplitSeq(first, string(comma)) {
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
			return fmt.Errorf("%s:%d:%d: the header names %q twice: rename one", t.Name, row.at[i].line, row.at[i].col, column)
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
			t.Name, row.at[0].line, strings.Join(missing, ", "), shorten(strings.Join(t.Columns, ",")), strings.Join(required, ","))
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
func (r Row) Line() int { return int(r.at[0].line) }

// Fault notes that a row's cell in a column is wrong and why. All faults
// together are the error that Err returns.
func (t *Table) Fault(r Row, column int, format string, args ...any) {
	if len(t.faults) == maxFaults {
		t.more++
		return
	}
	at := min(max(column, 0), len(r.cells)-1)
	t.faults = append(t.faults, fmt.Errorf("%s:%d:%d: %s", t.Name, r.at[at].line, r.at[at].col, shorten(fmt.Sprintf(format, args...))))
}

// OneSession refuses a table about one session that lists more than MaxStrikes.
func (t *Table) OneSession() error {
	if len(t.Rows) > MaxStrikes {
		return fmt.Errorf("%s: it lists %d strikes, more than the %d of one session: split it", t.Name, len(t.Rows), MaxStrikes)
	}
	return nil
}

// Err returns the faults found so far, nil if there are none.
func (t *Table) Err() error {
	if t.more > 0 {
		return errors.Join(append(slices.Clone(t.faults), fmt.Errorf("%s: faults not listed: %d more", t.Name, t.more))...)
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
