package intake

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
)

const (
	headBytes = 256 << 10 // looked at to recognise a dialect
	maxLine   = 64 << 10  // a longer line is damaged
	bufBytes  = 512 << 10 // read buffer; holds a head and the longest line
)

// Source is a log being read: plain bytes behind a buffer, with the verbatim
// bytes hashed and counted on their way.
type Source struct {
	in          *bufio.Reader
	raw         *rawReader
	close       func()
	at          int64  // plain bytes consumed
	last        line   // the line read last
	compression string // gzip, zstd or ""
	cut         string // why a compressed stream ended early, or ""
	torn        bool   // cut tells of bytes that were changed, not only of a missing end
}

// rawReader hashes and counts what it passes on, and stops when the context
// is done.
type rawReader struct {
	ctx  context.Context
	r    io.Reader
	hash hash.Hash // nil: the log is Hashed
	n    int64
	p    Progress
	err  error // of the reader beneath, other than io.EOF
}

func (s *rawReader) Read(b []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		s.err = err
		return 0, err
	}
	n, err := s.r.Read(b)
	if s.hash != nil {
		s.hash.Write(b[:n])
	}
	s.n += int64(n)
	if s.p != nil && n > 0 {
		s.p.Add(int64(n))
	}
	if err != nil && err != io.EOF {
		s.err = err
	}
	return n, err
}

// openSource looks at the first bytes and puts the fitting decompressor
// between the log and its reader.
func openSource(ctx context.Context, r io.Reader, p Progress) (*Source, error) {
	raw := &rawReader{ctx: ctx, r: r, p: p}
	if _, ok := r.(Hashed); !ok {
		raw.hash = sha256.New()
	}
	s := &Source{raw: raw, close: func() {}}
	packed := bufio.NewReaderSize(raw, bufBytes)
	magic, _ := packed.Peek(4)
	if raw.err != nil {
		return nil, raw.err
	}
	s.in = packed
	switch {
	case bytes.HasPrefix(magic, []byte{0x1f, 0x8b}):
		s.compression = "gzip"
		z, err := gzip.NewReader(packed)
		if err != nil {
			return nil, fmt.Errorf("gzip header is broken (%v): copy the log again", err)
		}
		s.in = bufio.NewReaderSize(&lenient{s: s, r: z}, bufBytes)
	case bytes.HasPrefix(magic, []byte("PK\x03\x04")):
		return nil, errors.New("is a zip archive: unpack it, and import the logs in it (gzip and zstd are read as they are)")
	case bytes.HasPrefix(magic, []byte{0x28, 0xb5, 0x2f, 0xfd}):
		s.compression = "zstd"
		z, err := zstd.NewReader(packed, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxWindow(maxWindow))
		if err != nil {
			return nil, fmt.Errorf("zstd header is broken (%v): copy the log again", err)
		}
		s.close = z.Close
		s.in = bufio.NewReaderSize(&lenient{s: s, r: z}, bufBytes)
	}
	return s, s.skipMark()
}

// skipMark reads over a UTF-8 byte order mark and refuses UTF-16.
func (s *Source) skipMark() error {
	b, _ := s.in.Peek(3)
	switch {
	case bytes.HasPrefix(b, []byte{0xef, 0xbb, 0xbf}):
		s.discard(3)
	case bytes.HasPrefix(b, []byte{0xff, 0xfe}), bytes.HasPrefix(b, []byte{0xfe, 0xff}):
		return errors.New("is UTF-16 text: save it as UTF-8 (iconv -f UTF-16 -t UTF-8)")
	}
	return nil
}

// lenient ends a compressed stream where it breaks off, and notes why, so that
// what could be read is kept.
type lenient struct {
	s   *Source
	r   io.Reader
	out int64 // bytes unpacked
}

func (l *lenient) Read(b []byte) (int, error) {
	n, err := l.r.Read(b)
	l.out += int64(n)
	if bomb := swells(l.out, l.s.raw.n); bomb != nil {
		l.s.raw.err = bomb
		return 0, bomb
	}
	if err == nil || err == io.EOF {
		return n, err
	}
	if l.s.raw.err != nil {
		return n, l.s.raw.err
	}
	switch {
	case errors.Is(err, io.ErrUnexpectedEOF):
		l.s.cut = "the compressed stream ends too early"
	case errors.Is(err, zstd.ErrWindowSizeExceeded):
		l.s.cut, l.s.torn = fmt.Sprintf("the compressed stream looks back further than %d MB (it was packed with a long window), or is damaged", maxWindow>>20), true
	case errors.Is(err, gzip.ErrHeader): // behind a whole one, whose checksum was right
		l.s.cut = "bytes that are not gzip follow the compressed stream"
	default:
		l.s.cut, l.s.torn = fmt.Sprintf("the compressed stream is damaged (%v)", err), true
	}
	return n, io.EOF
}

// head returns the first plain bytes without consuming them, and whether they
// are all there is.
func (s *Source) head() (b []byte, whole bool) {
	b, err := s.in.Peek(headBytes)
	return b, err != nil
}

// buffered returns the plain bytes that were read ahead, without consuming them.
func (s *Source) buffered() []byte {
	b, _ := s.in.Peek(s.in.Buffered())
	return b
}

func (s *Source) discard(n int) {
	k, _ := s.in.Discard(n)
	s.at += int64(k)
}

// finish reads what is left of the verbatim bytes, so that hash and count
// cover all of them.
func (s *Source) finish() (sha string, n int64, err error) {
	s.close()
	if _, err := io.Copy(io.Discard, s.raw); err != nil {
		return "", 0, err
	}
	if h, ok := s.raw.r.(Hashed); ok {
		return h.SHA256(), s.raw.n, nil
	}
	return hex.EncodeToString(s.raw.hash.Sum(nil)), s.raw.n, nil
}

// line is one line of text without its end.
type line struct {
	text   []byte // valid until the next call
	number int64  // from 1
	at     int64  // offset of its first byte
	long   bool   // more than maxLine bytes; text holds only its start
}

// nextLine reads the next line into s.last. Both \n and \r\n end one.
func (s *Source) nextLine() error {
	l := &s.last
	l.number++
	l.at = s.at
	l.long = false
	b, err := s.in.ReadSlice('\n')
	s.at += int64(len(b))
	if err == bufio.ErrBufferFull || len(b) > maxLine+2 {
		l.long = true
		l.text = append([]byte(nil), b[:40]...)
		for err == bufio.ErrBufferFull {
			b, err = s.in.ReadSlice('\n')
			s.at += int64(len(b))
		}
		if err == io.EOF {
			err = nil
		}
		return err
	}
	if err != nil && (err != io.EOF || len(b) == 0) {
		return err
	}
	l.text = trimEnd(b)
	return nil
}

func trimEnd(b []byte) []byte {
	for len(b) > 0 && (b[len(b)-1] == '\n' || b[len(b)-1] == '\r') {
		b = b[:len(b)-1]
	}
	return b
}
