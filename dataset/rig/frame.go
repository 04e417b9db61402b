package rig

import (
	"encoding/hex"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// FrameLayout is a frame description made ready for a decoder.
type FrameLayout struct {
	Magic    []byte
	Fields   []FrameField
	Checksum string // xor8, sum8, crc16-ccitt-false or none; over the bytes after the magic
	Size     int    // of a whole frame in bytes, magic and checksum included
}

// FrameField is one number in a frame.
type FrameField struct {
	Name   string // t, ax, ay, az, gx, gy, gz, or another name, which is read over
	Offset int    // in bytes from the start of the frame
	Bits   int    // 8, 16, 24, 32 or 64
	Signed bool
	Float  bool // IEEE 754, of 32 or 64 bits
	Big    bool // most significant byte first
}

// checksumSize gives the size in bytes of a checksum that is known.
func checksumSize(name string) (bytes int, ok bool) {
	switch name {
	case "none":
		return 0, true
	case "xor8", "sum8":
		return 1, true
	case "crc16-ccitt-false":
		return 2, true
	}
	return 0, false
}

// Parse makes a frame description ready for a decoder. It reports all faults.
func (f *Frame) Parse() (FrameLayout, error) {
	l := FrameLayout{Checksum: f.Checksum}
	var faults []error
	magic, err := hex.DecodeString(strings.ReplaceAll(f.Magic, " ", ""))
	if err != nil || len(magic) == 0 {
		faults = append(faults, complain("magic", `write each byte as two digits, such as "a55a"`, "magic %q is not a run of bytes in hexadecimal", f.Magic))
	}
	l.Magic = magic
	l.Size = len(magic)
	for i, s := range f.Fields {
		x, ok := parseField(s)
		if !ok {
			faults = append(faults, complain(fmt.Sprintf("fields[%d]", i),
				`write a type and a name, such as "i16le ax" (i, u or f, then the bits, then le or be)`, "field %q cannot be read", s))
		}
		x.Offset = l.Size
		l.Size += x.Bits / 8
		l.Fields = append(l.Fields, x)
	}
	size, ok := checksumSize(f.Checksum)
	if !ok {
		faults = append(faults, complain("checksum", "use none, xor8, sum8 or crc16-ccitt-false", "checksum %q is not known", f.Checksum))
	}
	l.Size += size
	if faults == nil {
		faults = l.lacks()
	}
	return l, errors.Join(faults...)
}

// parseField parses "TYPE NAME", TYPE being i, u or f, bits, le or be.
func parseField(s string) (x FrameField, ok bool) {
	words := strings.Fields(s)
	if len(words) != 2 {
		return x, false
	}
	m := fieldType.FindStringSubmatch(words[0])
	if m == nil {
		return x, false
	}
	x = FrameField{Name: words[1], Signed: m[1] == "i", Float: m[1] == "f", Big: m[3] == "be"}
	x.Bits, _ = strconv.Atoi(m[2])
	single := x.Bits == 8 // has no order of bytes
	return x, !(single && x.Float) && (single || m[3] != "") && !(x.Float && x.Bits < 32)
}

var fieldType = regexp.MustCompile(`^([iuf])(8|16|24|32|64)(le|be)?$`)

// lacks tells what keeps a layout from carrying samples.
func (l FrameLayout) lacks() []error {
	var faults []error
	seen := map[string]bool{}
	for _, x := range l.Fields {
		if seen[x.Name] && slices.Contains([]string{"t", "ax", "ay", "az", "gx", "gy", "gz"}, x.Name) {
			faults = append(faults, complain("fields", "keep one of them", "field %s is there twice", x.Name))
		}
		seen[x.Name] = true
		if x.Name == "t" && x.Float {
			faults = append(faults, complain("fields", "a time stamp has to be a whole number", "field t is a floating-point number"))
		}
	}
	for _, need := range []string{"t", "ax", "ay", "az"} {
		if !seen[need] {
			faults = append(faults, complain("fields", "a frame carries at least t, ax, ay and az", "there is no field %s", need))
		}
	}
	if seen["gx"] != seen["gy"] || seen["gy"] != seen["gz"] {
		faults = append(faults, complain("fields", "give all three or none", "only some of the fields gx, gy and gz are there"))
	}
	if l.Size > maxFrame {
		faults = append(faults, complain("", "describe a single frame, with its magic, fields and checksum", "the frame is %d bytes long, more than %d", l.Size, maxFrame))
	}
	return faults
}

// CRC16 is CRC-16/CCITT-FALSE: polynomial 0x1021, start 0xffff, bits not
// reflected (catalogue of parametrised CRC algorithms: check value 0x29b1 for
// "123456789").
func CRC16(b []byte) uint16 {
	c := uint16(0xffff)
	for _, v := range b {
		c ^= uint16(v) << 8
		for range 8 {
			if c&0x8000 != 0 {
				c = c<<1 ^ 0x1021
			} else {
				c <<= 1
			}
		}
	}
	return c
}
