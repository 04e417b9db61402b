package corpus

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"math"
	"math/bits"
	"slices"

	"github.com/klauspost/compress/zstd"
	"github.com/parquet-go/parquet-go/encoding/bytestreamsplit"
	"github.com/parquet-go/parquet-go/encoding/delta"
	"github.com/parquet-go/parquet-go/encoding/rle"
)

// Numbers that the Parquet format gives to types, encodings and the like.
// Reference: https://github.com/apache/parquet-format/blob/master/src/main/thrift/parquet.thrift
const (
	typeBool   = 0
	typeInt32  = 1
	typeInt64  = 2
	typeFloat  = 4
	typeDouble = 5
	typeBytes  = 6

	encodingPlain      = 0
	encodingLevels     = 3 // runs and bit packing
	encodingDelta      = 5
	encodingDictionary = 8
	encodingSplit      = 9 // byte stream split

	codecZstd = 6

	pageDictionary = 2
	pageData       = 3 // version 2
)

// Limits of the texts in a column: of each, of all that differ in a row group,
// and of what is stated as a row group's smallest or largest.
const (
	maxTextBytes  = 1 << 20
	maxTextsBytes = 64 << 20
	maxBoundBytes = 128
)

// physical returns the type and the encoding of a column's values in a file.
func (c *column) physical() (typ, encoding int32) {
	switch c.kind {
	case kindInt32:
		return typeInt32, encodingDictionary
	case kindInt64:
		if c.delta {
			return typeInt64, encodingDelta
		}
		return typeInt64, encodingPlain
	case kindFloat32:
		return typeFloat, encodingSplit
	case kindFloat64:
		return typeDouble, encodingSplit
	case kindBool:
		return typeBool, encodingPlain
	case kindString:
		return typeBytes, encodingDictionary
	}
	panic(fmt.Sprintf("corpus: column %s is of kind %d", c.name, c.kind))
}

// chunk is one column of one row group as it stands in a file: a dictionary
// page where its encoding has one, then one data page.
type chunk struct {
	pages        []byte
	dictionary   int // bytes of the dictionary page, 0 none
	uncompressed int
	rows, nulls  int
	min, max     []byte // of the values that are not null; nil unknown
}

// chunkWriter encodes chunks. Its buffers are used again; one goroutine at a
// time may use it.
type chunkWriter struct {
	zstd     *zstd.Encoder
	literals literals
	head     compactWriter

	values     []byte  // encoded, not yet compressed
	dictionary []byte  // likewise
	levels     []byte  // encoded: which values are null
	present    []uint8 // 1 where a value is not null; empty if all or none are
	index      []int32
	compressed []byte
	places     map[int32]int32
	texts      map[string]int32
	floats     []float32
	doubles    []float64
	int32s     []int32
	int64s     []int64
	strings    []string
}

func newChunkWriter() (*chunkWriter, error) {
	z, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(1), zstd.WithEncoderCRC(false), zstd.WithZeroFrames(true))
	if err != nil {
		return nil, err
	}
	return &chunkWriter{zstd: z, places: make(map[int32]int32), texts: make(map[string]int32)}, nil
}

// encode writes one column's values of a row group to out, whose room is used
// again.
func (w *chunkWriter) encode(c *column, data any, out *chunk) error {
	*out = chunk{pages: out.pages[:0], rows: rowsOf(data)}
	w.values, w.dictionary, w.levels, w.present = w.values[:0], w.dictionary[:0], w.levels[:0], w.present[:0]
	entries := 0 // of the dictionary
	var err error
	switch d := data.(type) {
	case []int32:
		if c.optional {
			d = withoutNulls(w, &w.int32s, d, func(v int32) bool { return v == 0 })
		}
		entries = w.smallNumbers(d)
		out.min, out.max = boundsOf(d, appendInt32)
	case []int64:
		if c.optional {
			d = withoutNulls(w, &w.int64s, d, func(v int64) bool { return v == 0 })
		}
		if c.delta {
			var e delta.BinaryPackedEncoding
			w.values, err = e.EncodeInt64(w.values, d)
		} else {
			for _, v := range d {
				w.values = appendInt64(w.values, v)
			}
		}
		out.min, out.max = boundsOf(d, appendInt64)
	case []float32:
		if c.optional {
			d = withoutNulls(w, &w.floats, d, func(v float32) bool { return v != v })
		}
		var e bytestreamsplit.Encoding
		w.values, err = e.EncodeFloat(w.values, d)
		out.min, out.max = boundsOf(d, appendFloat)
	case []float64:
		if c.optional {
			d = withoutNulls(w, &w.doubles, d, func(v float64) bool { return v != v })
		}
		var e bytestreamsplit.Encoding
		w.values, err = e.EncodeDouble(w.values, d)
		out.min, out.max = boundsOf(d, appendDouble)
	case []bool:
		w.truths(d)
	case []string:
		if c.optional {
			d = withoutNulls(w, &w.strings, d, func(v string) bool { return v == "" })
		}
		entries, err = w.textValues(d)
		out.min, out.max = boundsOf(d, appendText)
	case repeated:
		entries, err = w.textValues([]string{d.text})
		w.values = appendRun(append(w.values[:0], 1), d.n, 0)
		out.min, out.max = boundsOf([]string{d.text}, appendText)
	case absent:
		out.nulls = d.n
	default:
		panic(fmt.Sprintf("corpus: column data of type %T", data))
	}
	if err != nil {
		return err
	}
	if len(out.min) > maxBoundBytes || len(out.max) > maxBoundBytes {
		out.min, out.max = nil, nil
	}
	if c.optional {
		if err := w.nulls(out); err != nil {
			return err
		}
	}
	return w.pages(c, entries, out)
}

// withoutNulls notes which values are null, if any is, and returns the others.
func withoutNulls[T any](w *chunkWriter, room *[]T, values []T, null func(T) bool) []T {
	if !slices.ContainsFunc(values, null) {
		return values
	}
	kept := (*room)[:0]
	for _, v := range values {
		if null(v) {
			w.present = append(w.present, 0)
			continue
		}
		w.present, kept = append(w.present, 1), append(kept, v)
	}
	*room = kept
	return kept
}

// nulls encodes which values are null.
func (w *chunkWriter) nulls(out *chunk) error {
	for _, v := range w.present {
		out.nulls += 1 - int(v)
	}
	switch out.nulls {
	case 0:
		w.levels = appendRun(w.levels, out.rows, 1)
	case out.rows:
		w.levels = appendRun(w.levels, out.rows, 0)
	default:
		var err error
		e := rle.Encoding{BitWidth: 1}
		w.levels, err = e.EncodeLevels(w.levels, w.present)
		return err
	}
	return nil
}

// appendRun appends a run of n times one value of at most 8 bits.
func appendRun(dst []byte, n int, value byte) []byte {
	return append(binary.AppendUvarint(dst, uint64(n)<<1), value)
}

// smallNumbers encodes whole numbers by a dictionary of those that occur.
func (w *chunkWriter) smallNumbers(values []int32) (entries int) {
	clear(w.places)
	w.index = w.index[:0]
	var last, place int32
	for i, v := range values {
		if i == 0 || v != last { // mostly runs
			var ok bool
			if place, ok = w.places[v]; !ok {
				place = int32(len(w.places))
				w.places[v] = place
				w.dictionary = appendInt32(w.dictionary, v)
			}
			last = v
		}
		w.index = append(w.index, place)
	}
	w.indices(len(w.places))
	return len(w.places)
}

// textValues encodes texts by a dictionary of those that occur.
func (w *chunkWriter) textValues(values []string) (entries int, err error) {
	clear(w.texts)
	w.index = w.index[:0]
	for _, v := range values {
		place, ok := w.texts[v]
		if !ok {
			if len(v) > maxTextBytes {
				return 0, fmt.Errorf("a text of %d bytes: shorten it to %d", len(v), maxTextBytes)
			}
			place = int32(len(w.texts))
			w.texts[v] = place
			w.dictionary = append(binary.LittleEndian.AppendUint32(w.dictionary, uint32(len(v))), v...)
			if len(w.dictionary) > maxTextsBytes {
				return 0, fmt.Errorf("texts of more than %d bytes in %d rows: shorten them", maxTextsBytes, len(values))
			}
		}
		w.index = append(w.index, place)
	}
	w.indices(len(w.texts))
	return len(w.texts), nil
}

// indices encodes places in a dictionary.
func (w *chunkWriter) indices(entries int) {
	e := rle.Encoding{BitWidth: max(1, bits.Len(uint(max(0, entries-1))))}
	packed, err := e.EncodeInt32(w.compressed[:0], w.index)
	if err != nil {
		panic("corpus: " + err.Error()) // the width holds every index
	}
	w.compressed = packed
	w.values = append(append(w.values, byte(e.BitWidth)), packed...)
}

func (w *chunkWriter) truths(values []bool) {
	for i, v := range values {
		if i%8 == 0 {
			w.values = append(w.values, 0)
		}
		if v {
			w.values[i/8] |= 1 << (i % 8)
		}
	}
}

// pages compresses what was encoded and appends the pages.
func (w *chunkWriter) pages(c *column, entries int, out *chunk) error {
	_, encoding := c.physical()
	if encoding == encodingDictionary {
		w.compressed = w.zstd.EncodeAll(w.dictionary, w.compressed[:0])
		w.page(pageDictionary, len(w.dictionary), nil, out, func(h *compactWriter) {
			h.nested(7)
			h.int32(1, int32(entries))
			h.int32(2, encodingPlain)
			h.end()
		})
		out.dictionary = len(out.pages)
	}
	var err error
	if c.kind == kindFloat32 {
		w.compressed, err = w.literals.appendFrame(w.compressed[:0], w.values)
	} else {
		w.compressed = w.zstd.EncodeAll(w.values, w.compressed[:0])
	}
	if err != nil {
		return err
	}
	w.page(pageData, len(w.levels)+len(w.values), w.levels, out, func(h *compactWriter) {
		h.nested(8)
		h.int32(1, int32(out.rows))
		h.int32(2, int32(out.nulls))
		h.int32(3, int32(out.rows))
		h.int32(4, encoding)
		h.int32(5, int32(len(w.levels)))
		h.int32(6, 0)
		h.bool(7, true)
		h.end()
	})
	return nil
}

// page appends a page of levels, which are never compressed, and what has just
// been compressed.
func (w *chunkWriter) page(kind int32, uncompressed int, levels []byte, out *chunk, own func(*compactWriter)) {
	crc := crc32.Update(crc32.ChecksumIEEE(levels), crc32.IEEETable, w.compressed)
	w.head.b = w.head.b[:0]
	w.head.begin()
	w.head.int32(1, kind)
	w.head.int32(2, int32(uncompressed))
	w.head.int32(3, int32(len(levels)+len(w.compressed)))
	w.head.int32(4, int32(crc))
	own(&w.head)
	w.head.end()
	out.pages = append(append(append(out.pages, w.head.b...), levels...), w.compressed...)
	out.uncompressed += len(w.head.b) + uncompressed
}

func appendInt32(b []byte, v int32) []byte { return binary.LittleEndian.AppendUint32(b, uint32(v)) }
func appendInt64(b []byte, v int64) []byte { return binary.LittleEndian.AppendUint64(b, uint64(v)) }
func appendFloat(b []byte, v float32) []byte {
	return binary.LittleEndian.AppendUint32(b, math.Float32bits(v))
}
func appendDouble(b []byte, v float64) []byte {
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
}
func appendText(b []byte, v string) []byte { return append(b, v...) }

// boundsOf returns the smallest and largest value, nil where there is none or
// one is not a number. A zero stands for either sign.
func boundsOf[T int32 | int64 | float32 | float64 | string](values []T, put func([]byte, T) []byte) (lo, hi []byte) {
	if len(values) == 0 {
		return nil, nil
	}
	least, most, ordered := values[0], values[0], true
	for _, v := range values {
		if v < least {
			least = v
		} else if v > most {
			most = v
		}
		ordered = ordered && v == v
	}
	if !ordered {
		return nil, nil
	}
	lo, hi = put(make([]byte, 0, 8), least), put(make([]byte, 0, 8), most)
	var zero T
	switch any(zero).(type) {
	case float32, float64: // smallest -0, largest +0
		if least == zero {
			lo = bytes.Repeat([]byte{0}, len(lo))
			lo[len(lo)-1] = 0x80
		}
		if most == zero {
			clear(hi)
		}
	}
	return lo, hi
}
