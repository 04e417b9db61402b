package corpus

import (
	"bytes"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"
)

// everyKind is a table with a column of each kind, optional and not.
func everyKind() *table {
	t := &table{name: "kinds", frame: "none"}
	for _, c := range []column{
		{name: "int32", kind: kindInt32}, {name: "int64", kind: kindInt64}, {name: "delta", kind: kindInt64, delta: true},
		{name: "float32", kind: kindFloat32}, {name: "float64", kind: kindFloat64}, {name: "text", kind: kindString},
	} {
		t.columns = append(t.columns, c)
		c.name, c.optional = c.name+"_optional", true
		t.columns = append(t.columns, c)
	}
	t.columns = append(t.columns, column{name: "bool", kind: kindBool}, column{name: "repeated", kind: kindString}, column{name: "absent", kind: kindFloat32, optional: true})
	return t
}

// kindData fills its columns: few or many different values, small or over the
// whole range, with nulls here and there, or none or nothing else.
func kindData(rng *rand.Rand, n int) []any {
	wide := rng.IntN(2) == 0
	nullShare := []float64{0, 0.3, 1}[rng.IntN(3)]
	whole := func() int64 {
		if wide {
			return int64(rng.Uint64())
		}
		return int64(rng.IntN(5))
	}
	var data []any
	for _, optional := range []bool{false, true} {
		null := func() bool { return optional && rng.Float64() < nullShare }
		i32, i64, delta := make([]int32, n), make([]int64, n), make([]int64, n)
		f32, f64, text := make([]float32, n), make([]float64, n), make([]string, n)
		for i := range n {
			if null() {
				f32[i], f64[i] = float32(math.NaN()), math.NaN()
				continue
			}
			i32[i], i64[i], delta[i] = int32(whole()), whole(), whole()
			f32[i], f64[i] = float32(rng.NormFloat64()), rng.NormFloat64()
			text[i] = strings.Repeat("é", rng.IntN(3)+1)
		}
		data = append(data, i32, i64, delta, f32, f64, text)
	}
	var paired []any
	for i := range 6 {
		paired = append(paired, data[i], data[6+i])
	}
	truth := make([]bool, n)
	for i := range truth {
		truth[i] = rng.IntN(2) == 0
	}
	return append(paired, truth, repeated{"same", n}, absent{n})
}

// TestKinds: what is written of every kind of column is read back as it was, and
// null where it has no value.
func TestKinds(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{1, 2, 7, 8, 9, 31, 33, 127, 129, 1000, 1024, 5000, 0} {
		tab, data := everyKind(), kindData(rng, n)
		var out bytes.Buffer
		digest, err := tab.write(t.Context(), &out, data, []keyValue{{"note", "hello"}})
		if err != nil {
			t.Fatalf("%d rows: %v", n, err)
		}
		d, err := tab.decode(t.Context(), out.Bytes())
		if err != nil {
			t.Fatalf("%d rows: %v", n, err)
		}
		if d.seal != digest || d.rows != n || d.meta["note"] != "hello" {
			t.Errorf("%d rows: seal %s for %s, %d rows, %v", n, d.seal, digest, d.rows, d.meta)
		}
		f, err := tab.open(bytes.NewReader(out.Bytes()), int64(out.Len()))
		if err != nil {
			t.Fatalf("%d rows: %v", n, err)
		}
		for i, c := range tab.columns {
			nulls := int64(0)
			for j := range n {
				want, got := valueAt(data[i], j), valueAt(d.columns[i], j)
				if want != got && !(want != want && got != got) {
					t.Fatalf("%d rows: column %s, row %d: read %v, want %v", n, c.name, j, got, want)
				}
				if c.optional && (want != want || want == any(int32(0)) || want == any(int64(0)) || want == any("")) {
					nulls++
				}
			}
			if n > 0 && f.groups[0].chunks[i].(*parquet.FileColumnChunk).NullCount() != nulls {
				t.Errorf("%d rows: column %s: %d nulls, want %d", n, c.name, f.groups[0].chunks[i].(*parquet.FileColumnChunk).NullCount(), nulls)
			}
		}
	}
}

// TestKindsOfGroups: row groups of other values, other nulls and another length than
// those before them are read back as they were, each with bounds of its own values.
func TestKindsOfGroups(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	tab := everyKind()
	var out bytes.Buffer
	w := newFileWriter(&out, tab, nil)
	var groups [][]any
	for _, n := range []int{5, 3000, 0, 1, largeRows + 1, 2, 40, 7, 300, 9} {
		data := kindData(rng, n)
		data[13] = repeated{strings.Repeat("x", n%7), n}
		if err := w.group(t.Context(), data); err != nil {
			t.Fatal(err)
		}
		if n > 0 {
			groups = append(groups, data)
		}
	}
	if _, err := w.close(); err != nil {
		t.Fatal(err)
	}
	d, err := tab.decode(t.Context(), out.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	f, err := parquet.OpenFile(bytes.NewReader(out.Bytes()), int64(out.Len()))
	if err != nil {
		t.Fatal(err)
	}
	from := 0
	for g, data := range groups {
		rows := rowsOf(data[0])
		for i, c := range tab.columns {
			chunk := f.RowGroups()[g].ColumnChunks()[i].(*parquet.FileColumnChunk)
			typ := chunk.Type()
			var low, high parquet.Value
			for j := range rows {
				want, got := valueAt(data[i], j), valueAt(d.columns[i], from+j)
				if want != got && !(want != want && got != got) {
					t.Fatalf("group %d, column %s, row %d: read %v, want %v", g, c.name, j, got, want)
				}
				if want != want || c.optional && (want == any(int32(0)) || want == any(int64(0)) || want == any("")) {
					continue
				}
				v := parquet.ValueOf(want)
				if low.IsNull() || typ.Compare(v, low) < 0 {
					low = v
				}
				if high.IsNull() || typ.Compare(v, high) > 0 {
					high = v
				}
			}
			gotLow, gotHigh, ok := chunk.Bounds()
			if ok == low.IsNull() || ok && (!parquet.Equal(gotLow, low) || !parquet.Equal(gotHigh, high)) {
				t.Errorf("group %d, column %s: bounds %v to %v (%t), want %v to %v", g, c.name, gotLow, gotHigh, ok, low, high)
			}
		}
		from += rows
	}
	if d.rows != from {
		t.Errorf("%d rows, want %d", d.rows, from)
	}
}

// TestOnePage: the writer holds an index of all pages, and a column of a row group
// is one of them.
func TestOnePage(t *testing.T) {
	tab, data := everyKind(), kindData(rand.New(rand.NewPCG(3, 4)), rowGroupRows+9)
	var out bytes.Buffer
	if _, err := tab.write(t.Context(), &out, data, nil); err != nil {
		t.Fatal(err)
	}
	f, err := parquet.OpenFile(bytes.NewReader(out.Bytes()), int64(out.Len()))
	if err != nil {
		t.Fatal(err)
	}
	groups := f.RowGroups()
	if len(groups) != 2 {
		t.Fatalf("%d row groups, want 2", len(groups))
	}
	for i, g := range groups {
		for k, chunk := range g.ColumnChunks() {
			index, err := chunk.OffsetIndex()
			if err != nil {
				t.Fatal(err)
			}
			if index.NumPages() != 1 {
				t.Errorf("row group %d, column %s: %d pages", i, tab.columns[k].name, index.NumPages())
			}
		}
	}
}

func valueAt(data any, i int) any {
	switch d := data.(type) {
	case []int32:
		return d[i]
	case []int64:
		return d[i]
	case []float32:
		return d[i]
	case []float64:
		return d[i]
	case []bool:
		return d[i]
	case []string:
		return d[i]
	case repeated:
		return d.text
	}
	return float32(math.NaN()) // absent
}
