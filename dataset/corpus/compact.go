package corpus

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// The compact protocol of Apache Thrift, in which Parquet writes its footer and
// the headers of its pages, as far as these use it. Reference:
// https://github.com/apache/thrift/blob/master/doc/specs/thrift-compact-protocol.md

// Types of fields and of the items of lists.
const (
	compactTrue   = 1
	compactFalse  = 2
	compactByte   = 3
	compactInt16  = 4
	compactInt32  = 5
	compactInt64  = 6
	compactDouble = 7
	compactBinary = 8
	compactList   = 9
	compactSet    = 10
	compactMap    = 11
	compactStruct = 12
)

// compactWriter appends a struct, field by field in rising order of their
// numbers, to b. Each open struct ends with end.
type compactWriter struct {
	b    []byte
	last []int16 // number of the latest field, of each open struct
}

// begin opens a struct: the outermost one, or an item of a list.
func (w *compactWriter) begin() { w.last = append(w.last, 0) }

func (w *compactWriter) end() {
	w.b = append(w.b, 0)
	w.last = w.last[:len(w.last)-1]
}

func (w *compactWriter) head(id int16, kind byte) {
	last := &w.last[len(w.last)-1]
	if d := id - *last; d > 0 && d <= 15 {
		w.b = append(w.b, byte(d)<<4|kind)
	} else {
		w.b = binary.AppendVarint(append(w.b, kind), int64(id))
	}
	*last = id
}

func (w *compactWriter) int16(id int16, v int16) {
	w.head(id, compactInt16)
	w.b = binary.AppendVarint(w.b, int64(v))
}

func (w *compactWriter) int32(id int16, v int32) {
	w.head(id, compactInt32)
	w.b = binary.AppendVarint(w.b, int64(v))
}

func (w *compactWriter) int64(id int16, v int64) {
	w.head(id, compactInt64)
	w.b = binary.AppendVarint(w.b, v)
}

func (w *compactWriter) bool(id int16, v bool) {
	if v {
		w.head(id, compactTrue)
	} else {
		w.head(id, compactFalse)
	}
}

func (w *compactWriter) binary(id int16, v []byte) {
	w.head(id, compactBinary)
	w.item(v)
}

// item appends an item of a list of binaries.
func (w *compactWriter) item(v []byte) {
	w.b = append(binary.AppendUvarint(w.b, uint64(len(v))), v...)
}

func (w *compactWriter) list(id int16, kind byte, n int) {
	w.head(id, compactList)
	if n < 15 {
		w.b = append(w.b, byte(n)<<4|kind)
	} else {
		w.b = binary.AppendUvarint(append(w.b, 0xf0|kind), uint64(n))
	}
}

// nested opens a struct in a field.
func (w *compactWriter) nested(id int16) {
	w.head(id, compactStruct)
	w.begin()
}

var errCompact = errors.New("is cut short or not what Parquet writes")

// maxDepth is how deep structs and lists may lie in each other: Parquet's own
// lie five deep.
const maxDepth = 16

// compactReader reads what compactWriter and others write. It takes no more
// memory than its caller does, whatever the bytes state. After an error, which
// err holds, all that is read is zero.
type compactReader struct {
	b   []byte
	at  int
	err error
}

func (r *compactReader) fail() {
	if r.err == nil {
		r.err = fmt.Errorf("byte %d: %w", r.at, errCompact)
	}
	r.at = len(r.b)
}

func (r *compactReader) byte() byte {
	if r.at >= len(r.b) {
		r.fail()
		return 0
	}
	r.at++
	return r.b[r.at-1]
}

func (r *compactReader) uvarint() uint64 {
	v, n := binary.Uvarint(r.b[r.at:])
	if n <= 0 {
		r.fail()
		return 0
	}
	r.at += n
	return v
}

func (r *compactReader) varint() int64 {
	v := r.uvarint()
	return int64(v>>1) ^ -int64(v&1)
}

// int reads a whole number of a field or item of that kind.
func (r *compactReader) int(kind byte) int64 {
	if kind != compactInt16 && kind != compactInt32 && kind != compactInt64 {
		r.fail()
		return 0
	}
	return r.varint()
}

// bool reads a field's truth, which stands in its kind.
func (r *compactReader) bool(kind byte) bool {
	if kind != compactTrue && kind != compactFalse {
		r.fail()
	}
	return kind == compactTrue
}

// binary reads bytes, which stay part of what is read from.
func (r *compactReader) binary(kind byte) []byte {
	n := r.uvarint()
	if kind != compactBinary || n > uint64(len(r.b)-r.at) {
		r.fail()
		return nil
	}
	r.at += int(n)
	return r.b[r.at-int(n) : r.at : r.at]
}

// list reads the head of a list. Its n items take at least a byte each of what
// is left.
func (r *compactReader) list(kind byte) (item byte, n int) {
	if kind != compactList {
		r.fail()
		return 0, 0
	}
	return r.items()
}

func (r *compactReader) items() (item byte, n int) {
	head := r.byte()
	size := uint64(head >> 4)
	if size == 15 {
		size = r.uvarint()
	}
	if size > uint64(len(r.b)-r.at) {
		r.fail()
		return 0, 0
	}
	return head & 15, int(size)
}

// structs reads a list of structs, calling each for every one of them.
func (r *compactReader) structs(kind byte, each func()) {
	item, n := r.list(kind)
	if n > 0 && item != compactStruct {
		r.fail()
	}
	for i := 0; i < n && r.err == nil; i++ {
		each()
	}
}

// fields reads a struct. Take reads a field that it knows and returns true, or
// false without having read anything.
func (r *compactReader) fields(take func(id int16, kind byte) bool) { r.fieldsAt(0, take) }

func (r *compactReader) fieldsAt(depth int, take func(id int16, kind byte) bool) {
	if depth > maxDepth {
		r.fail()
	}
	for id := int16(0); r.err == nil; {
		head := r.byte()
		kind := head & 15
		switch {
		case head == 0 || r.err != nil:
			return
		case head>>4 == 0:
			id = int16(r.varint())
		default:
			id += int16(head >> 4)
		}
		if !take(id, kind) {
			r.skip(kind, depth)
		}
	}
}

// skip passes over the value of a field.
func (r *compactReader) skip(kind byte, depth int) {
	switch kind {
	case compactTrue, compactFalse:
	case compactByte:
		r.byte()
	case compactInt16, compactInt32, compactInt64:
		r.uvarint()
	case compactDouble:
		for range 8 {
			r.byte()
		}
	case compactBinary:
		r.binary(kind)
	case compactStruct:
		r.fieldsAt(depth+1, func(int16, byte) bool { return false })
	case compactList, compactSet:
		item, n := r.items()
		if depth > maxDepth {
			r.fail()
		}
		for i := 0; i < n && r.err == nil; i++ {
			if item == compactTrue || item == compactFalse {
				r.byte()
				continue
			}
			r.skip(item, depth+1)
		}
	default: // maps, which Parquet has none of, and what there is not
		r.fail()
	}
}
