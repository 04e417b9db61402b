package main

import (
	"bytes"
	"fmt"
	"strconv"
)

// textStamps are the stamps of a dialect of lines: a number behind a prefix at the
// line's start. All are taken with as many decimals as most have, in nanoseconds.
type textStamps struct {
	prefix   []byte
	decimals int
	scale    uint64 // 10^decimals
	stepNs   int64  // of the last decimal
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
	s.stepNs = 1
	s.stepNs = max(1, unitNs(float64(commonStep(piecesOf(s, log)))/float64(s.scale))/int64(s.scale))
	return s, nil
}

// unitNs tells the unit of stamps by their most common step, that of a sensor of 100
// to 8000 Hz.
func unitNs(step float64) int64 {
	switch {
	case step >= 100:
		return 1_000 // microseconds
	case step >= 0.1:
		return 1_000_000
	}
	return 1_000_000_000
}

// What is read as a stamp at most; longer ones are damage and stay as they are.
const (
	mostDigits   = 12
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
				return piece{to: end, at: at, past: at + n, stamp: v * s.stepNs}, true
			}
		}
		i = end
	}
	return piece{}, false
}

func (s *textStamps) write(dst, piece []byte, at, past int, stamp int64) []byte {
	dst = append(dst, piece[:at]...)
	v := uint64(stamp / s.stepNs)
	if s.decimals == 0 {
		dst = strconv.AppendUint(dst, v, 10)
	} else {
		dst = append(strconv.AppendUint(dst, v/s.scale, 10), '.')
		part := v % s.scale
		for u := s.scale / 10; u > 0; u /= 10 {
			dst = append(dst, byte('0'+part/u%10))
		}
	}
	return append(dst, piece[past:]...)
}

// modulus is where a board's counter of microseconds wraps, of 32 bits, in whatever
// unit it is written.
func (s *textStamps) modulus() int64 { return 1000 << 32 }
