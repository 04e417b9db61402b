// Package npy writes tables of numbers in the file format of NumPy, version
// 1.0 (NEP 1, "A Simple File Format for NumPy Arrays"): a magic word, a header
// that says type and shape, and the bare numbers, little-endian, row by row.
// numpy.load reads them, mapped into memory if asked to. What the columns are
// called has no place in the format and is kept beside it.
package npy

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"strings"
)

// magic starts a file; version 1.0 follows.
const magic = "\x93NUMPY\x01\x00"

// align is what the numbers' place in the file is a multiple of.
const align = 64

// Number is what a table may hold.
type Number interface{ float32 | float64 }

// Write writes a table of equally long rows. NaN is written as such. Rows of
// different lengths are refused, before anything is written; columns is the
// number of columns, which a table without rows has too.
func Write[T Number](w io.Writer, columns int, rows [][]T) error {
	for i, row := range rows {
		if len(row) != columns {
			return fmt.Errorf("npy: row %d has %d numbers where %d are asked", i, len(row), columns)
		}
	}
	if _, err := io.WriteString(w, header[T](len(rows), columns)); err != nil {
		return err
	}
	buf := make([]byte, 0, 8*columns)
	for _, row := range rows {
		buf = buf[:0]
		for _, x := range row {
			switch x := any(x).(type) {
			case float32:
				buf = binary.LittleEndian.AppendUint32(buf, math.Float32bits(x))
			case float64:
				buf = binary.LittleEndian.AppendUint64(buf, math.Float64bits(x))
			}
		}
		if _, err := w.Write(buf); err != nil {
			return err
		}
	}
	return nil
}

// header is all that stands before the numbers.
func header[T Number](rows, columns int) string {
	dtype := "<f8"
	if _, small := any(T(0)).(float32); small {
		dtype = "<f4"
	}
	text := fmt.Sprintf("{'descr': '%s', 'fortran_order': False, 'shape': (%d, %d), }", dtype, rows, columns)
	before := len(magic) + 2 // and the header's length in two bytes
	pad := (align - (before+len(text)+1)%align) % align
	text += strings.Repeat(" ", pad) + "\n"
	return magic + string(binary.LittleEndian.AppendUint16(nil, uint16(len(text)))) + text
}
