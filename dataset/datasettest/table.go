package datasettest

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"
)

// Row is one row of a table, by the names of its columns.
type Row map[string]string

// Rows reads a CSV table with a header line.
func Rows(t testing.TB, path string) []Row {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	if len(lines) == 0 {
		t.Fatalf("%s: it has no header", path)
	}
	out := make([]Row, len(lines)-1)
	for i, cells := range lines[1:] {
		out[i] = Row{}
		for k, name := range lines[0] {
			out[i][name] = cells[k]
		}
	}
	return out
}

// Number reads the number in a column.
func (r Row) Number(t testing.TB, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		t.Fatalf("column %s: %v", column, err)
	}
	return v
}
