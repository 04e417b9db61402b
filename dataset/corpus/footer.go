package corpus

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"github.com/parquet-go/parquet-go/encoding/thrift"
)

// A Parquet file ends in the length of its footer and four letters.
const (
	parquetMagic = "PAR1"
	tailBytes    = 4 + int64(len(parquetMagic))
)

// The library takes the memory that a footer's lists state. What a stranger's
// may state is bounded by what it holds.
const (
	// maxFooterBytes is about the footer of ten thousand row groups of samples.
	maxFooterBytes = 16 << 20
	// footerDepth is more than the levels of a footer's structs.
	footerDepth = 16
	// structBytes is less than any struct of a footer's lists takes on average.
	structBytes = 8
)

// footerBytes returns the footer, without the tail, and where it starts.
func footerBytes(file io.ReaderAt, size int64) (raw []byte, at int64, err error) {
	var tail [tailBytes]byte
	if size < int64(len(parquetMagic))+tailBytes {
		return nil, 0, errors.New("is not a whole Parquet file")
	}
	if _, err := file.ReadAt(tail[:], size-tailBytes); err != nil {
		return nil, 0, err
	}
	n := int64(binary.LittleEndian.Uint32(tail[:]))
	at = size - tailBytes - n
	switch {
	case string(tail[4:]) != parquetMagic:
		return nil, 0, errors.New("is not a whole Parquet file")
	case at < int64(len(parquetMagic)) || n > maxFooterBytes:
		return nil, 0, fmt.Errorf("states a footer of %d bytes in a file of %d", n, size)
	}
	raw = make([]byte, n)
	_, err = file.ReadAt(raw, at)
	return raw, at, err
}

// checkFooter refuses a footer that states longer lists or texts than it has
// bytes for.
func checkFooter(raw []byte) error {
	w := footerWalk{r: new(thrift.CompactProtocol).NewReaderFromBytes(raw), size: len(raw), structs: len(raw) / structBytes}
	if err := w.fields(0); err != nil {
		return fmt.Errorf("footer: %w", err)
	}
	return nil
}

// footerWalk goes through values without keeping any.
type footerWalk struct {
	r       thrift.Reader
	size    int
	structs int // that may still come in lists
}

func (w *footerWalk) left() int { return w.size - w.r.BytesRead() }

func (w *footerWalk) fields(depth int) error {
	if depth > footerDepth {
		return fmt.Errorf("is nested deeper than %d", footerDepth)
	}
	for {
		f, err := w.r.ReadField()
		if err != nil {
			return err
		}
		if f.Type == thrift.STOP {
			return nil
		}
		if f.Type == thrift.TRUE || f.Type == thrift.FALSE { // the value is the type
			continue
		}
		if err := w.value(f.Type, depth); err != nil {
			return err
		}
	}
}

func (w *footerWalk) value(t thrift.Type, depth int) (err error) {
	switch t {
	case thrift.TRUE, thrift.FALSE, thrift.I8:
		_, err = w.r.ReadInt8()
	case thrift.I16:
		_, err = w.r.ReadInt16()
	case thrift.I32:
		_, err = w.r.ReadInt32()
	case thrift.I64:
		_, err = w.r.ReadInt64()
	case thrift.DOUBLE:
		_, err = w.r.ReadFloat64()
	case thrift.BINARY:
		_, err = w.r.ReadBytes()
	case thrift.STRUCT:
		err = w.fields(depth + 1)
	case thrift.LIST:
		err = w.list(depth)
	default:
		err = fmt.Errorf("holds a %s, which no footer does", t)
	}
	return err
}

func (w *footerWalk) list(depth int) error {
	l, err := w.r.ReadList()
	if err != nil {
		return err
	}
	if l.Type == thrift.STRUCT {
		w.structs -= int(l.Size)
	}
	if l.Size < 0 || int(l.Size) > w.left() || w.structs < 0 || depth > footerDepth {
		return fmt.Errorf("states a list of %d in %d bytes", l.Size, w.left())
	}
	for range l.Size {
		if err := w.value(l.Type, depth+1); err != nil {
			return err
		}
	}
	return nil
}
