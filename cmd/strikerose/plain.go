package main

import (
	"fmt"
	"io"
	"os"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/term"
)

// plain is a stream that people read. Names, notes and words of files may hold
// bytes that a terminal obeys: they clear it, rename its window, type into it, or
// turn the direction of writing. Whatever does not print goes out as an escape that
// only looks like one: \u001b, which is also how JSON writes it. Line ends and tabs
// stay.
type plain struct {
	w      io.Writer
	tail   []byte // start of a character whose rest has not come yet
	failed error  // of the first write that went wrong
}

// forPeople returns a stream's plain one.
func forPeople(w io.Writer) io.Writer {
	if _, ok := w.(*plain); ok {
		return w
	}
	return &plain{w: w}
}

// data is standard output for a file's bytes: as they are, but plain where a
// person's terminal would get them.
func (a *app) data() io.Writer {
	if f, ok := bare(a.out).(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		return a.out
	}
	return bare(a.out)
}

// bare is the stream behind a plain one, for bytes that no person reads and for
// what the program itself draws on a terminal, whose width shows only there.
func bare(w io.Writer) io.Writer {
	if p, ok := w.(*plain); ok {
		w = p.w
	}
	if b, ok := w.(*breaker); ok {
		w = b.to
	}
	return w
}

// Write writes what b prints.
func (p *plain) Write(b []byte) (int, error) {
	n := len(b)
	b = append(p.tail, b...)
	whole := len(b)
	for back := 1; back < utf8.UTFMax && back <= len(b); back++ {
		if last := b[len(b)-back:]; utf8.RuneStart(last[0]) {
			if !utf8.FullRune(last) {
				whole = len(b) - back
			}
			break
		}
	}
	p.tail = append([]byte(nil), b[whole:]...)
	if _, err := p.w.Write(printable(b[:whole])); err != nil {
		if p.failed == nil {
			p.failed = err
		}
		return 0, err
	}
	return n, nil
}

// unsaid returns why something that people were to read was not written.
func unsaid(w io.Writer) error {
	if p, ok := w.(*plain); ok && p.failed != nil {
		return fmt.Errorf("the work is done, but not all of it could be told: %w", mendable(p.failed))
	}
	return nil
}

// printable replaces what does not print.
func printable(b []byte) []byte {
	out := make([]byte, 0, len(b))
	for len(b) > 0 {
		r, n := utf8.DecodeRune(b)
		switch {
		case r == utf8.RuneError && n == 1:
			out = fmt.Appendf(out, `\x%02x`, b[0])
		case r == '\n' || r == '\t' || unicode.IsGraphic(r):
			out = append(out, b[:n]...)
		default:
			for _, half := range utf16.AppendRune(nil, r) {
				out = fmt.Appendf(out, `\u%04x`, half)
			}
		}
		b = b[n:]
	}
	return out
}
