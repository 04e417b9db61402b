package rig

import (
	"encoding/hex"
	"fmt"
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

// Checksums lists the frame checksums that are known and their sizes in bytes.
func Checksums() map[string]int {
	return map[string]int{"none": 0, "xor8": 1, "sum8": 1, "crc16-ccitt-false": 2}
}

// Parse makes a frame description ready for a decoder.
func (f *Frame) Parse() (FrameLayout, error) {
	var l FrameLayout
	var err error
	if l.Magic, err = parseMagic(f.Magic); err != nil {
		return l, err
	}
	size, ok := Checksums()[f.Checksum]
	if !ok {
		return l, fmt.Errorf("checksum %q is not known: use none, xor8, sum8 or crc16-ccitt-false", f.Checksum)
	}
	l.Checksum = f.Checksum
	at := len(l.Magic)
	for _, s := range f.Fields {
		x, err := parseField(s)
		if err != nil {
			return l, err
		}
		x.Offset = at
		at += x.Bits / 8
		l.Fields = append(l.Fields, x)
	}
	l.Size = at + size
	return l, l.complete()
}

func parseMagic(s string) ([]byte, error) {
	b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	if err != nil || len(b) == 0 {
		return nil, fmt.Errorf("magic %q is not a run of bytes in hexadecimal: write each byte as two digits, such as \"a55a\"", s)
	}
	return b, nil
}

// parseField parses "TYPE NAME", TYPE being i, u or f, bits, le or be.
func parseField(s string) (FrameField, error) {
	kind, name, ok := strings.Cut(strings.TrimSpace(s), " ")
	x := FrameField{Name: strings.TrimSpace(name)}
	if ok && len(kind) >= 2 && x.Name != "" {
		order := kind[len(kind)-2:]
		bits := kind[1 : len(kind)-2]
		if kind == "i8" || kind == "u8" { // a single byte has no order
			order, bits = "le", "8"
		}
		x.Bits, _ = strconv.Atoi(bits)
		x.Signed, x.Float, x.Big = kind[0] == 'i', kind[0] == 'f', order == "be"
		whole := (kind[0] == 'i' || kind[0] == 'u') && (x.Bits == 8 || x.Bits == 16 || x.Bits == 24 || x.Bits == 32 || x.Bits == 64)
		float := x.Float && (x.Bits == 32 || x.Bits == 64)
		if (whole || float) && (order == "le" || order == "be") {
			return x, nil
		}
	}
	return x, fmt.Errorf("field %q cannot be read: write a type and a name, such as \"i16le ax\" (i, u or f, then the bits, then le or be)", s)
}

// complete tells what a layout lacks for it to carry samples.
func (l FrameLayout) complete() error {
	seen := map[string]bool{}
	for _, x := range l.Fields {
		known := strings.Contains(" t ax ay az gx gy gz ", " "+x.Name+" ")
		if known && seen[x.Name] {
			return fmt.Errorf("field %s is there twice: keep one of them", x.Name)
		}
		seen[x.Name] = true
		if x.Name == "t" && x.Float {
			return fmt.Errorf("field t is a floating-point number: a time stamp has to be a whole number")
		}
	}
	for _, need := range []string{"t", "ax", "ay", "az"} {
		if !seen[need] {
			return fmt.Errorf("no field %s: a frame carries at least t, ax, ay and az", need)
		}
	}
	if n := seen2(seen, "gx", "gy", "gz"); n != 0 && n != 3 {
		return fmt.Errorf("only some of gx, gy and gz are there: give all three or none")
	}
	return nil
}

func seen2(seen map[string]bool, names ...string) int {
	n := 0
	for _, s := range names {
		if seen[s] {
			n++
		}
	}
	return n
}
