package corpus

import (
	"fmt"
	"math"
	"slices"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/encoding"
)

// wholeColumn gives the library the rows of a column as they lie in memory. Its own
// way takes value by value, boxed, which costs more than to encode and compress
// them. The library sees wholeType, whose buffer is told by placeholders which rows
// are null, and makes its page of what set took.
type wholeColumn struct {
	values     encoding.Values    // of the row group, nulls left out; indexes where there is a dictionary
	dictionary parquet.Dictionary // nil: the column has none
	indexes    []int32            // memory of values
	boxed      [1]parquet.Value   // for the dictionary
}

// wholeType is the type of a column, or of the indexes into its dictionary.
type wholeType struct {
	parquet.Type
	column *wholeColumn
}

func (t wholeType) NewDictionary(index, n int, data encoding.Values) parquet.Dictionary {
	d := t.Type.NewDictionary(index, n, data)
	t.column.dictionary = d
	return wholeDictionary{d, wholeType{d.Type(), t.column}}
}

func (t wholeType) NewColumnBuffer(index, _ int) parquet.ColumnBuffer {
	return &wholeBuffer{ColumnBuffer: t.Type.NewColumnBuffer(index, 0), of: t, index: index}
}

// wholeDictionary is a dictionary whose indexes are given whole.
type wholeDictionary struct {
	parquet.Dictionary
	indexes wholeType
}

func (d wholeDictionary) Type() parquet.Type { return d.indexes }

// wholeBuffer counts the values of a row group. The buffer that it stands in for
// stays empty.
type wholeBuffer struct {
	parquet.ColumnBuffer
	of    wholeType
	index int
	n     int
}

func (b *wholeBuffer) WriteValues(placeholders []parquet.Value) (int, error) {
	b.n += len(placeholders)
	return len(placeholders), nil
}

func (b *wholeBuffer) Page() parquet.Page {
	if b.n == 0 {
		return b.ColumnBuffer.Page()
	}
	return b.of.NewPage(b.index, b.n, b.of.column.values)
}

func (b *wholeBuffer) Len() int { return b.n }
func (b *wholeBuffer) Reset()   { b.n = 0 }

// set takes the rows of a row group and tells which of them are null, in order.
func (w *wholeColumn) set(c *column, data any, tell func(n int, null bool)) {
	switch d := data.(type) {
	case []int32:
		index(w, kept(c, d, 0, tell), parquet.Int32Value)
	case []int64:
		w.values = encoding.Int64Values(kept(c, d, 0, tell))
	case []float32:
		w.values = encoding.FloatValues(kept(c, d, float32(math.NaN()), tell))
	case []float64:
		w.values = encoding.DoubleValues(kept(c, d, math.NaN(), tell))
	case []bool:
		w.values = encoding.BooleanValues(packed(kept(c, d, false, tell)))
	case []string:
		index(w, kept(c, d, "", tell), textValue)
	case repeated:
		tell(d.n, false)
		index(w, []string{d.text}, textValue)
		w.indexes = slices.Grow(w.indexes, d.n)[:d.n]
		clear(w.indexes) // all rows are the first of the dictionary
		w.values = encoding.Int32Values(w.indexes)
	case absent:
		tell(d.n, true)
	default:
		panic(fmt.Sprintf("corpus: column data of type %T", data))
	}
}

func textValue(s string) parquet.Value { return parquet.ByteArrayValue([]byte(s)) }

// kept is values without those that stand for null in an optional column. It
// shares memory with them where there are none.
func kept[T comparable](c *column, values []T, null T, tell func(n int, null bool)) (present []T) {
	isNull := func(v T) bool { return c.optional && (v == null || v != v) } // as NaN is, the null of fractions
	for i := 0; i < len(values); {
		from, is := i, isNull(values[i])
		for i < len(values) && isNull(values[i]) == is {
			i++
		}
		tell(i-from, is)
		switch {
		case is:
		case i-from == len(values):
			return values
		default:
			present = append(present, values[from:i]...)
		}
	}
	return present
}

// packed is one bit a value, from the lowest bit on.
func packed(values []bool) []byte {
	bits := make([]byte, (len(values)+7)/8)
	for i, v := range values {
		if v {
			bits[i/8] |= 1 << (i % 8)
		}
	}
	return bits
}

// index gives the indexes of values in the dictionary. Neighbours are mostly the
// same, and looked up once.
func index[T comparable](w *wholeColumn, values []T, box func(T) parquet.Value) {
	w.indexes = slices.Grow(w.indexes[:0], len(values))[:len(values)]
	for i, v := range values {
		if i > 0 && v == values[i-1] {
			w.indexes[i] = w.indexes[i-1]
			continue
		}
		w.boxed[0] = box(v)
		w.dictionary.Insert(w.indexes[i:i+1], w.boxed[:])
	}
	w.values = encoding.Int32Values(w.indexes)
}
