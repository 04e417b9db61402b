package main

import (
	"bytes"
	"errors"

	"strikerose/dataset/rig"
)

// frameStamps are the stamps of packed binary frames. Frames whose checksum is
// wrong are none.
type frameStamps struct {
	layout rig.FrameLayout
	field  rig.FrameField // t
}

func newFrameStamps(l rig.FrameLayout) (*frameStamps, error) {
	for _, f := range l.Fields {
		if f.Name == "t" {
			if f.Bits > 32 || f.Signed {
				return nil, errors.New("[log.frame]: only stamps of up to 32 bits without a sign can be carried on")
			}
			return &frameStamps{l, f}, nil
		}
	}
	return nil, errors.New("[log.frame]: there is no field t")
}

func (s *frameStamps) next(log []byte, i int) (piece, bool) {
	for {
		k := bytes.Index(log[min(i, len(log)):], s.layout.Magic)
		if k < 0 || i+k+s.layout.Size > len(log) {
			return piece{}, false
		}
		i += k
		frame := log[i : i+s.layout.Size]
		if s.fits(frame) {
			at := i + s.field.Offset
			return piece{to: i + s.layout.Size, at: at, past: at + s.field.Bits/8, stamp: s.read(frame[s.field.Offset:])}, true
		}
		i++
	}
}

// fits tells whether a frame's checksum is right.
func (s *frameStamps) fits(frame []byte) bool {
	sum := s.checksum(frame)
	return bytes.Equal(sum[:s.sumBytes()], frame[len(frame)-s.sumBytes():])
}

func (s *frameStamps) sumBytes() int {
	switch s.layout.Checksum {
	case "none":
		return 0
	case "crc16-ccitt-false":
		return 2
	}
	return 1
}

// checksum is that of a frame, in its first bytes.
func (s *frameStamps) checksum(frame []byte) (sum [2]byte) {
	body := frame[len(s.layout.Magic) : len(frame)-s.sumBytes()]
	switch s.layout.Checksum {
	case "xor8":
		for _, b := range body {
			sum[0] ^= b
		}
	case "sum8":
		for _, b := range body {
			sum[0] += b
		}
	case "crc16-ccitt-false":
		c := rig.CRC16(body)
		sum = [2]byte{byte(c >> 8), byte(c)}
	}
	return sum
}

// read reads the stamp that b starts with.
func (s *frameStamps) read(b []byte) (v int64) {
	n := s.field.Bits / 8
	for k := range n {
		if s.field.Big {
			v = v<<8 | int64(b[k])
		} else {
			v |= int64(b[k]) << (8 * k)
		}
	}
	return v
}

func (s *frameStamps) write(dst, piece []byte, at, past int, stamp int64) []byte {
	from := len(dst) + at - s.field.Offset
	dst = append(dst, piece...)
	frame := dst[from : from+s.layout.Size]
	b := frame[s.field.Offset : s.field.Offset+past-at]
	var apart, more byte // how the stamp changes: by exclusive or, and by difference
	for k, old := range b {
		shift := 8 * k
		if s.field.Big {
			shift = 8 * (len(b) - 1 - k)
		}
		b[k] = byte(stamp >> shift)
		apart ^= old ^ b[k]
		more += b[k] - old
	}
	switch end := len(frame) - 1; s.layout.Checksum {
	case "xor8": // the sum was right, and is brought up to date faster than made anew
		frame[end] ^= apart
	case "sum8":
		frame[end] += more
	case "crc16-ccitt-false":
		sum := s.checksum(frame)
		copy(frame[end-1:], sum[:])
	}
	return dst
}

func (s *frameStamps) modulus() int64 { return 1 << s.field.Bits }
