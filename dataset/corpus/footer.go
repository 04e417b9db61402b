package corpus

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"strings"
)

const parquetMagic = "PAR1"

// tailBytes is the end of a file: the length of the footer, and the magic.
const tailBytes = 8

// maxFooterBytes bounds a footer. That of the most row groups of samples takes
// 22 MB.
const maxFooterBytes = 64 << 20

// footer returns the end of a file with zeros in the seal's place.
func (w *fileWriter) footer() []byte {
	f := compactWriter{b: make([]byte, 0, len(w.groups.b)+1<<14)}
	f.begin()
	f.int32(1, 2) // version of the format
	f.list(2, compactStruct, 1+len(w.table.columns))
	f.begin()
	f.binary(4, []byte(w.table.name))
	f.int32(5, int32(len(w.table.columns)))
	f.end()
	for _, c := range w.table.columns {
		typ, _ := c.physical()
		f.begin()
		f.int32(1, typ)
		f.int32(3, repetition(c.optional))
		f.binary(4, []byte(c.name))
		if c.kind == kindString {
			f.int32(6, 0) // UTF-8, for readers of the first version
			f.nested(10)
			f.nested(1)
			f.end()
			f.end()
		}
		f.end()
	}
	f.int64(3, w.rows)
	f.list(4, compactStruct, w.n)
	f.b = append(f.b, w.groups.b...)
	f.list(5, compactStruct, len(w.meta))
	for _, m := range w.meta {
		f.begin()
		f.binary(1, []byte(metaPrefix+m.key))
		f.binary(2, []byte(m.value))
		f.end()
	}
	f.binary(6, []byte("strikerose version 1(build )"))
	f.list(7, compactStruct, len(w.table.columns)) // bounds are in the order of each type
	for range w.table.columns {
		f.begin()
		f.nested(1)
		f.end()
		f.end()
	}
	f.end()
	n := len(f.b)
	return append(binary.LittleEndian.AppendUint32(f.b, uint32(n)), parquetMagic...)
}

func repetition(optional bool) int32 {
	if optional {
		return 1
	}
	return 0
}

// footer is what a file's footer says of it, as far as it is needed here. It
// takes little more room than the footer's bytes, whatever these state.
type footer struct {
	rows   int64
	fields []fileField
	groups []fileGroup
	meta   map[string]string // without the prefix
}

// fileField is a column by its name and type.
type fileField struct {
	name     string
	typ      int32
	optional bool
}

// fileGroup is where the columns of a row group lie.
type fileGroup struct {
	rows   int64
	chunks []fileChunk
}

type fileChunk struct {
	at, bytes int64
	min, max  int64 // of whole numbers of 64 bits
	bounded   bool
}

// readFooter reads a file's footer and returns it together with where it starts.
func readFooter(file io.ReaderAt, size int64) (f *footer, at int64, err error) {
	raw, at, err := footerBytes(file, size)
	if err != nil {
		return nil, 0, err
	}
	f, err = parseFooter(raw, at)
	return f, at, err
}

// footerBytes returns the footer, without the tail, and where it starts.
func footerBytes(file io.ReaderAt, size int64) (raw []byte, at int64, err error) {
	var head [4]byte
	var tail [tailBytes]byte
	if size < int64(len(head)+tailBytes) {
		return nil, 0, errors.New("is not a whole Parquet file")
	}
	if _, err := file.ReadAt(head[:], 0); err != nil {
		return nil, 0, err
	}
	if _, err := file.ReadAt(tail[:], size-tailBytes); err != nil {
		return nil, 0, err
	}
	if string(tail[4:]) != parquetMagic || string(head[:]) != parquetMagic {
		return nil, 0, errors.New("is not a whole Parquet file")
	}
	n := int64(binary.LittleEndian.Uint32(tail[:]))
	at = size - tailBytes - n
	if at < int64(len(head)) || n > maxFooterBytes {
		return nil, 0, fmt.Errorf("states a footer of %d bytes in a file of %d", n, size)
	}
	raw = make([]byte, n)
	_, err = file.ReadAt(raw, at)
	return raw, at, err
}

// parseFooter reads a footer that starts at end, where all pages must have
// ended.
func parseFooter(raw []byte, end int64) (*footer, error) {
	f := &footer{meta: make(map[string]string)}
	r := &compactReader{b: raw}
	root := true
	r.fields(func(id int16, kind byte) bool {
		switch id {
		case 2:
			r.structs(kind, func() {
				field := r.field()
				if field.name == "" {
					r.fail()
				}
				if !root {
					f.fields = append(f.fields, field)
				}
				root = false
			})
		case 3:
			f.rows = r.int(kind)
		case 4:
			r.structs(kind, func() {
				g := r.group()
				if g.rows < 1 || len(g.chunks) == 0 {
					r.fail()
				}
				f.groups = append(f.groups, g)
			})
		case 5:
			r.structs(kind, func() {
				key, value := r.keyValue()
				if key, ok := strings.CutPrefix(key, metaPrefix); ok {
					f.meta[key] = value
				}
			})
		default:
			return false
		}
		return true
	})
	if r.err != nil {
		return nil, fmt.Errorf("footer: %w", r.err)
	}
	return f, f.check(end)
}

// check verifies that the parts of a footer agree with each other and with
// where it starts.
func (f *footer) check(end int64) error {
	var rows int64
	for i, g := range f.groups {
		if len(g.chunks) != len(f.fields) {
			return fmt.Errorf("row group %d: %d rows of %d columns, want %d columns", i, g.rows, len(g.chunks), len(f.fields))
		}
		rows += g.rows
		for j, c := range g.chunks {
			if c.at < 4 || c.at > end || c.bytes > end-c.at {
				return fmt.Errorf("row group %d: column %s lies outside the file", i, f.fields[j].name)
			}
		}
	}
	if rows != f.rows {
		return fmt.Errorf("states %d rows, yet its row groups hold %d", f.rows, rows)
	}
	return nil
}

func (r *compactReader) field() (field fileField) {
	r.fields(func(id int16, kind byte) bool {
		switch id {
		case 1:
			field.typ = int32(r.int(kind))
		case 3:
			field.optional = r.int(kind) == 1
		case 4:
			field.name = string(r.binary(kind))
		default:
			return false
		}
		return true
	})
	return field
}

func (r *compactReader) keyValue() (key, value string) {
	r.fields(func(id int16, kind byte) bool {
		switch id {
		case 1:
			key = string(r.binary(kind))
		case 2:
			value = string(r.binary(kind))
		default:
			return false
		}
		return true
	})
	return key, value
}

func (r *compactReader) group() (g fileGroup) {
	r.fields(func(id int16, kind byte) bool {
		switch id {
		case 1:
			r.structs(kind, func() {
				c := r.place()
				if c.bytes < 1 {
					r.fail()
				}
				g.chunks = append(g.chunks, c)
			})
		case 3:
			g.rows = r.int(kind)
		default:
			return false
		}
		return true
	})
	return g
}

func (r *compactReader) place() (c fileChunk) {
	r.fields(func(id int16, kind byte) bool {
		if id != 3 || kind != compactStruct {
			return false
		}
		var data, dictionary int64
		r.fields(func(id int16, kind byte) bool {
			switch id {
			case 7:
				c.bytes = r.int(kind)
			case 9:
				data = r.int(kind)
			case 11:
				dictionary = r.int(kind)
			case 12:
				if kind != compactStruct {
					return false
				}
				r.bounds(&c)
			default:
				return false
			}
			return true
		})
		c.at = data
		if dictionary != 0 {
			c.at = dictionary
		}
		return true
	})
	return c
}

func (r *compactReader) bounds(c *fileChunk) {
	var lo, hi []byte
	r.fields(func(id int16, kind byte) bool {
		switch id {
		case 5:
			hi = r.binary(kind)
		case 6:
			lo = r.binary(kind)
		default:
			return false
		}
		return true
	})
	if len(lo) == 8 && len(hi) == 8 {
		c.min, c.max, c.bounded = int64(binary.LittleEndian.Uint64(lo)), int64(binary.LittleEndian.Uint64(hi)), true
	}
}
