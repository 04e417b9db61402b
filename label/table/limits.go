package table

import (
	"bufio"
	"errors"
	"fmt"
	"io"
)

// Limits of a table, so that a file from anywhere is refused before it fills
// the memory. The largest tables that people carry about, all labels of a
// corpus of hundreds of sessions, stay within a half of each.
const (
	maxBytes   = 64 << 20 // of the whole table
	maxColumns = 1000     // named in the header, or filled in one row
	maxCells   = 4 << 20  // of all rows: some 40 bytes of memory each
	rowCells   = 2        // that a row costs besides its own
	maxRow     = 1 << 20  // bytes from one row's end to the next; a quote that is never closed runs on to the end of the file
	headBytes  = 64 << 10 // looked at to find the separator
)

// MaxStrikes is how many strikes a plan, a truth or the notes of one session may
// tell of: many times as many as anybody strikes in one.
const MaxStrikes = 20_000

// limited reads a table and refuses one beyond its limits.
type limited struct {
	r     *bufio.Reader
	all   int // bytes read
	inRow int // bytes read since the last row ended
}

// ErrTooLarge is in the error about a table beyond the limits.
var ErrTooLarge = errors.New("too large")

// tooLarge says what of a table is too large.
type tooLarge string

func (e tooLarge) Error() string        { return string(e) }
func (e tooLarge) Is(target error) bool { return target == ErrTooLarge }

func (l *limited) Read(p []byte) (int, error) {
	n, err := l.r.Read(p)
	l.all += n
	l.inRow += n
	switch {
	case l.all > maxBytes:
		return 0, tooLarge(fmt.Sprintf("more than %d MB: this is no table of strikes", maxBytes>>20))
	case l.inRow > maxRow:
		return 0, tooLarge(fmt.Sprintf("a row of more than %d MB: is a quote not closed?", maxRow>>20))
	}
	return n, err
}

// start returns the first bytes without reading over them. A failure to read
// is left for the next reading to meet.
func (l *limited) start() []byte {
	b, _ := l.r.Peek(headBytes)
	return b
}

func newLimited(r io.Reader) *limited { return &limited{r: bufio.NewReaderSize(r, headBytes)} }
