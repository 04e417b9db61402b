package intake

import (
	"context"
	"io"
	"unicode/utf8"
)

// verdict is what a decoder says of one line.
type verdict struct {
	what outcome
	why  string // kind of damage
}

type outcome int8

const (
	isSample outcome = iota
	isOther          // carries no record: header, banner, comment
	isDamaged
)

func damaged(why string) verdict { return verdict{isDamaged, why} }

// lineDecoder decodes a log line by line.
type lineDecoder interface {
	line(text []byte, x *row) verdict
}

// plainDecoder is a lineDecoder with a short way for lines that are as boards
// write nearly all of them. It tells how many bytes at the start of b are one but
// for its end; then the row is what line would make of it. 0: they are none, or it
// cannot tell.
type plainDecoder interface {
	plain(b []byte, x *row) (n int)
}

// decodeLines runs a line decoder over a log and keeps the account.
func decodeLines(ctx context.Context, s *Source, r *recorder, d lineDecoder) error {
	l := &s.last
	var x row
	short, _ := d.(plainDecoder)
	for n := 0; ; n++ {
		if n%4096 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		if short != nil {
			if err := decodePlain(s, r, short, &x); err != nil {
				return err
			}
		}
		err := s.nextLine()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		r.Lines++
		v := verdict{isDamaged, tooLong}
		if !l.long {
			v = classify(l.text, &x, d)
		}
		switch v.what {
		case isSample:
			if err := r.add(&x, l.number, l.at); err != nil {
				return err
			}
		case isOther:
			r.Other++
		default:
			r.damaged(v.why, place(l.number, l.at), excerpt(l.text))
		}
	}
}

// decodePlain decodes the plain lines in the buffer up to the first other one.
func decodePlain(s *Source, r *recorder, d plainDecoder, x *row) error {
	b := s.buffered()
	from := 0
	defer func() { s.discard(from) }()
	for {
		n := d.plain(b[from:], x)
		end := from + n
		if end < len(b) && b[end] == '\r' {
			end++
		}
		if n == 0 || n > maxLine || end >= len(b) || b[end] != '\n' {
			return nil
		}
		s.last.number++
		r.Lines++
		if err := r.add(x, s.last.number, s.at+int64(from)); err != nil {
			return err
		}
		from = end + 1
	}
}

const tooLong = "line longer than 64 KiB"

// classify handles what all text dialects share, blank lines and comments, and
// leaves the rest to the dialect.
func classify(text []byte, x *row, d lineDecoder) verdict {
	i := 0
	for i < len(text) && (text[i] == ' ' || text[i] == '\t') {
		i++
	}
	text = text[i:]
	if len(text) == 0 || text[0] == '#' || text[0] == '/' && len(text) > 1 && text[1] == '/' {
		return verdict{what: isOther}
	}
	*x = row{}
	return d.line(text, x)
}

// sampleLines counts the good records among the head's lines.
func sampleLines(h *head, d lineDecoder) int {
	n := 0
	var x row
	for _, l := range h.lines {
		if classify(l, &x, d).what == isSample {
			n++
		}
	}
	return n
}

// chatter tells whether a line that is no record is a message for people and
// not the remains of a record: printable, and not made of numbers alone.
func chatter(text []byte) bool {
	words := false
	for i := 0; i < len(text); {
		c := text[i]
		if c >= utf8.RuneSelf {
			r, n := utf8.DecodeRune(text[i:])
			if r == utf8.RuneError { // also the mark that replaced a broken byte
				return false
			}
			i += n
			continue
		}
		if c < 32 && c != '\t' || c == 127 {
			return false
		}
		if lower := c | 0x20; lower >= 'a' && lower <= 'z' && lower != 'a' && lower != 'g' && lower != 'x' && lower != 'y' && lower != 'z' && lower != 't' && lower != 'e' {
			words = true
		}
		i++
	}
	return words
}
