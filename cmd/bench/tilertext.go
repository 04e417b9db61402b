package main

import (
	"bytes"
	"fmt"
	"strconv"
)

// textStamps are the stamps of a dialect of lines: a number behind a prefix at the
// line's start. All are taken with as many decimals as most have.
type textStamps struct {
	prefix   []byte
	decimals int
	scale    uint64 // 10^decimals
}

// prefixes is what stands before a line's stamp.
func prefixes() map[string]string {
	return map[string]string{"counts-csv": "", "units-csv": "", "console": "t:", "jsonl": `{"t":`}
}

func newTextStamps(log []byte, dialect string) (*textStamps, error) {
	prefix, ok := prefixes()[dialect]
	if !ok {
		return nil, fmt.Errorf("dialect %q is not known", dialect)
	}
	s := &textStamps{prefix: []byte(prefix)}
	var votes [mostDecimals + 1]int
	for line := range bytes.Lines(log) {
		if rest, ok := bytes.CutPrefix(line, s.prefix); ok {
			if _, decimals, n := readStamp(rest); n > 0 {
				votes[decimals]++
			}
		}
	}
	for d, n := range votes {
		if n > votes[s.decimals] {
			s.decimals = d
		}
	}
	s.scale = 1
	for range s.decimals {
		s.scale *= 10
	}
	return s, nil
}

// What is read as a stamp at most; longer ones are damage and stay as they are.
const (
	mostDigits   = 15
	mostDecimals = 6
)

// readStamp reads a stamp as a whole number of its last decimal. n is its length,
// 0 where there is none.
func readStamp(b []byte) (v int64, decimals, n int) {
	point := -1
	for n < len(b) {
		switch c := b[n]; {
		case c-'0' <= 9:
			v = v*10 + int64(c-'0')
		case c == '.' && point < 0:
			point = n
		default:
			if point >= 0 {
				decimals = n - point - 1
			}
			if n > mostDigits || decimals > mostDecimals || n == 0 || point == 0 {
				return 0, 0, 0
			}
			return v, decimals, n
		}
		n++
	}
	return 0, 0, 0 // a line has an end behind it
}

func (s *textStamps) next(log []byte, i int) (piece, bool) {
	for i < len(log) {
		end := i + bytes.IndexByte(log[i:], '\n') + 1
		if rest, ok := bytes.CutPrefix(log[i:end], s.prefix); ok {
			if v, decimals, n := readStamp(rest); n > 0 {
				for ; decimals < s.decimals; decimals++ {
					v *= 10
				}
				for ; decimals > s.decimals; decimals-- {
					v /= 10
				}
				at := i + len(s.prefix)
				return piece{to: end, at: at, past: at + n, stamp: v}, true
			}
		}
		i = end
	}
	return piece{}, false
}

func (s *textStamps) write(dst, piece []byte, at, past int, stamp int64) []byte {
	dst = append(dst, piece[:at]...)
	if s.decimals == 0 {
		dst = strconv.AppendInt(dst, stamp, 10)
	} else {
		v := uint64(stamp)
		dst = append(strconv.AppendUint(dst, v/s.scale, 10), '.')
		part := v % s.scale
		for u := s.scale / 10; u > 0; u /= 10 {
			dst = append(dst, byte('0'+part/u%10))
		}
	}
	return append(dst, piece[past:]...)
}

// modulus takes whole numbers that step by a hundred and more for microseconds
// from a counter of 32 bits; finer clocks go on for ever.
func (s *textStamps) modulus(step int64) uint64 {
	if s.decimals == 0 && step >= 100 {
		return 1 << 32
	}
	return 0
}
