package corpus

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"slices"

	"github.com/klauspost/compress/zstd"
	"github.com/parquet-go/parquet-go/encoding/bytestreamsplit"
)

// chunkReader decodes chunks. Its buffers are used again; one goroutine at a
// time may use it. Whatever the bytes are, it takes memory only for the rows
// that its caller expects.
type chunkReader struct {
	zstd       *zstd.Decoder
	values     []byte // of a page, decompressed
	dictionary []byte // of the chunk
	present    []int32
	index      []int32
	floats     []float32
	doubles    []float64
	int64s     []int64
}

func newChunkReader() (*chunkReader, error) {
	z, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecodeAllCapLimit(true), zstd.IgnoreChecksum(true))
	if err != nil {
		return nil, err
	}
	return &chunkReader{zstd: z}, nil
}

// pageHeader is the header of a page, as far as it is needed here.
type pageHeader struct {
	kind                     int32
	uncompressed, compressed int64
	crc                      uint32
	rows, nulls, levels      int64
	encoding                 int64
	other                    bool // states something that pages here have not
}

func (r *compactReader) pageHeader() (h pageHeader) {
	h.kind = -1
	r.fields(func(id int16, kind byte) bool {
		switch {
		case id == 1:
			h.kind = int32(r.int(kind))
		case id == 2:
			h.uncompressed = r.int(kind)
		case id == 3:
			h.compressed = r.int(kind)
		case id == 4:
			h.crc = uint32(r.int(kind))
		case id == 7 && kind == compactStruct: // of a dictionary
			r.fields(func(id int16, kind byte) bool {
				switch id {
				case 1:
					h.rows = r.int(kind)
				case 2:
					h.encoding = r.int(kind)
				default:
					return false
				}
				return true
			})
		case id == 8 && kind == compactStruct: // of data, version 2
			var rows int64
			r.fields(func(id int16, kind byte) bool {
				switch id {
				case 1:
					h.rows = r.int(kind)
				case 2:
					h.nulls = r.int(kind)
				case 3:
					rows = r.int(kind)
				case 4:
					h.encoding = r.int(kind)
				case 5:
					h.levels = r.int(kind)
				case 6:
					h.other = h.other || r.int(kind) != 0
				case 7:
					h.other = h.other || !r.bool(kind)
				default:
					return false
				}
				return true
			})
			h.other = h.other || rows != h.rows
		default:
			return false
		}
		return true
	})
	return h
}

// read appends the values of one chunk, of so many rows, to out, which is
// a slice of the column's type.
func (r *chunkReader) read(c *column, pages []byte, rows int, out any) (any, error) {
	r.dictionary = nil
	entries, left := -1, rows // of the dictionary, none yet; rows to come
	for len(pages) > 0 {
		head := compactReader{b: pages}
		h := head.pageHeader()
		if head.err != nil {
			return out, fmt.Errorf("page header: %w", head.err)
		}
		pages = pages[head.at:]
		if h.compressed < 0 || h.compressed > int64(len(pages)) {
			return out, fmt.Errorf("a page states %d bytes of the %d that are left", h.compressed, len(pages))
		}
		body := pages[:h.compressed]
		pages = pages[h.compressed:]
		if crc32.ChecksumIEEE(body) != h.crc {
			return out, fmt.Errorf("%w: of a page", errBadDigest)
		}
		var err error
		switch h.kind {
		case pageDictionary:
			if entries >= 0 || left != rows {
				return out, errors.New("holds a dictionary in the wrong place")
			}
			entries = int(h.rows)
			err = r.readDictionary(c, &h, body, rows)
		case pageData:
			if h.rows < 0 || h.rows > int64(left) {
				return out, fmt.Errorf("holds a page of %d values, want %d or fewer", h.rows, left)
			}
			left -= int(h.rows)
			out, err = r.readPage(c, &h, body, entries, out)
		default:
			err = fmt.Errorf("holds a page of kind %d, which strikerose does not write", h.kind)
		}
		if err != nil {
			return out, err
		}
	}
	if left != 0 {
		return out, fmt.Errorf("holds %d values, want %d", rows-left, rows)
	}
	return out, nil
}

// inflate decompresses into room, which it returns. What a page states is taken
// only up to most bytes.
func (r *chunkReader) inflate(room, src []byte, stated, most int64) ([]byte, error) {
	if stated < 0 || stated > most {
		return room, fmt.Errorf("a page states %d bytes of values, want %d or fewer", stated, most)
	}
	// A decompressor that may fill a spare byte tells a page too long.
	room = slices.Grow(room[:0], int(stated)+1)
	room, err := r.zstd.DecodeAll(src, room[:0:stated+1])
	if err != nil {
		return room, err
	}
	if int64(len(room)) != stated {
		return room, fmt.Errorf("a page of %d bytes of values states %d", len(room), stated)
	}
	return room, nil
}

// readDictionary keeps a dictionary of no more values than the chunk has rows.
func (r *chunkReader) readDictionary(c *column, h *pageHeader, body []byte, rows int) (err error) {
	if h.rows < 0 || h.rows > int64(rows) || h.encoding != encodingPlain {
		return fmt.Errorf("a dictionary of %d values, encoding %d, for %d rows", h.rows, h.encoding, rows)
	}
	most := 4 * h.rows
	if c.kind == kindString {
		most = min(h.rows*(4+maxTextBytes), maxTextsBytes)
	}
	r.dictionary, err = r.inflate(nil, body, h.uncompressed, most)
	return err
}

// readPage appends the values of a data page.
func (r *chunkReader) readPage(c *column, h *pageHeader, body []byte, entries int, out any) (any, error) {
	n := int(h.rows)
	_, encoding := c.physical()
	switch {
	case h.other || h.encoding != int64(encoding) || (encoding == encodingDictionary) != (entries >= 0):
		return out, fmt.Errorf("holds a page of encoding %d, want %d as strikerose writes it", h.encoding, encoding)
	case h.levels < 0 || h.levels > h.compressed || h.levels > h.uncompressed || h.nulls < 0 || h.nulls > h.rows || !c.optional && (h.levels > 0 || h.nulls > 0):
		return out, fmt.Errorf("holds a page of %d values, %d nulls and %d bytes of levels", h.rows, h.nulls, h.levels)
	}
	values := n - int(h.nulls)
	// The most that any encoding takes: deltas, whose blocks are filled up.
	const block = 32 << 10
	most := int64(values+block)*10 + 64
	var err error
	if r.values, err = r.inflate(r.values, body[h.levels:], h.uncompressed-h.levels, most); err != nil {
		return out, err
	}
	r.present = r.present[:0]
	if h.nulls > 0 {
		if r.present, err = appendHybrid(r.present, body[:h.levels], 1, n); err != nil {
			return out, fmt.Errorf("levels: %w", err)
		}
		var found int
		for _, v := range r.present {
			found += int(v)
		}
		if found != values {
			return out, fmt.Errorf("levels: %d values, want %d", found, values)
		}
	}
	switch d := out.(type) {
	case []int32:
		if err = r.readIndex(values, entries); err == nil && len(r.dictionary) != 4*entries {
			err = fmt.Errorf("a dictionary of %d bytes for %d values", len(r.dictionary), entries)
		}
		if err != nil {
			return out, err
		}
		dictionary := r.dictionary
		return spread(d, r.present, n, 0, func(i int) int32 {
			return int32(binary.LittleEndian.Uint32(dictionary[4*r.index[i]:]))
		}), nil
	case []string:
		if err = r.readIndex(values, entries); err != nil {
			return out, err
		}
		texts, err := r.texts(entries)
		if err != nil {
			return out, err
		}
		return spread(d, r.present, n, "", func(i int) string { return texts[r.index[i]] }), nil
	case []int64:
		if c.optional {
			r.int64s, err = appendInt64s(r.int64s[:0], c.delta, r.values, values)
			return spread(d, r.present, n, 0, func(i int) int64 { return r.int64s[i] }), err
		}
		return appendInt64s(d, c.delta, r.values, values)
	case []float32:
		if len(r.values) != 4*values {
			return out, fmt.Errorf("%d bytes for %d values", len(r.values), values)
		}
		if values < n {
			r.floats = appendFloats(r.floats[:0], r.values)
			return spread(d, r.present, n, float32(math.NaN()), func(i int) float32 { return r.floats[i] }), nil
		}
		return appendFloats(d, r.values), nil
	case []float64:
		if len(r.values) != 8*values {
			return out, fmt.Errorf("%d bytes for %d values", len(r.values), values)
		}
		var split bytestreamsplit.Encoding
		if r.doubles, err = split.DecodeDouble(r.doubles[:0], r.values); err != nil {
			return out, err
		}
		return spread(d, r.present, n, math.NaN(), func(i int) float64 { return r.doubles[i] }), nil
	case []bool:
		if len(r.values) != (values+7)/8 {
			return out, fmt.Errorf("%d bytes for %d values", len(r.values), values)
		}
		return spread(d, r.present, n, false, func(i int) bool { return r.values[i/8]>>(i%8)&1 == 1 }), nil
	}
	panic(fmt.Sprintf("corpus: column data of type %T", out))
}

// spread appends n values, those that are not present as null.
func spread[T any](dst []T, present []int32, n int, null T, value func(i int) T) []T {
	dst = slices.Grow(dst, n)
	if len(present) == 0 { // all are
		for i := range n {
			dst = append(dst, value(i))
		}
		return dst
	}
	i := 0
	for _, there := range present {
		if there == 0 {
			dst = append(dst, null)
			continue
		}
		dst = append(dst, value(i))
		i++
	}
	return dst
}

// appendFloats appends values whose bytes lie apart: all first ones, all second
// ones and so on.
func appendFloats(dst []float32, src []byte) []float32 {
	n := len(dst)
	dst = slices.Grow(dst, len(src)/4)
	var split bytestreamsplit.Encoding
	if _, err := split.DecodeFloat(dst[n:n:n+len(src)/4], src); err != nil { // into the room of dst
		panic("corpus: " + err.Error()) // the caller has compared the lengths
	}
	return dst[:n+len(src)/4]
}

// readIndex reads the places in a dictionary of so many entries.
func (r *chunkReader) readIndex(n, entries int) error {
	if n == 0 {
		r.index = r.index[:0]
		return nil
	}
	if len(r.values) == 0 || r.values[0] > 32 {
		return errors.New("a page of places in a dictionary states no width")
	}
	var err error
	if r.index, err = appendHybrid(r.index[:0], r.values[1:], int(r.values[0]), n); err != nil {
		return err
	}
	for _, v := range r.index {
		if uint32(v) >= uint32(entries) {
			return fmt.Errorf("refers to value %d of a dictionary of %d", uint32(v), entries)
		}
	}
	return nil
}

// texts splits a dictionary of texts.
func (r *chunkReader) texts(entries int) ([]string, error) {
	if entries > len(r.dictionary)/4 {
		return nil, fmt.Errorf("a dictionary of %d bytes for %d texts", len(r.dictionary), entries)
	}
	texts, rest := make([]string, entries), r.dictionary
	for i := range texts {
		if len(rest) < 4 {
			return nil, errors.New("a dictionary ends early")
		}
		n := int64(binary.LittleEndian.Uint32(rest))
		if rest = rest[4:]; n > int64(len(rest)) {
			return nil, errors.New("a dictionary ends early")
		}
		texts[i], rest = string(rest[:n]), rest[n:]
	}
	if len(rest) > 0 {
		return nil, errors.New("a dictionary holds more than it states")
	}
	return texts, nil
}

// appendHybrid appends n numbers of so many bits each, stored as runs and
// packed groups of 8. Reference:
// https://parquet.apache.org/docs/file-format/data-pages/encodings/#RLE
func appendHybrid(dst []int32, src []byte, width, n int) ([]int32, error) {
	bytes, mask := (width+7)/8, uint64(1)<<width-1
	for dst = slices.Grow(dst, n); n > 0; {
		head, k := binary.Uvarint(src)
		if k <= 0 {
			return dst, errCompact
		}
		src = src[k:]
		if head&1 == 0 { // a run
			if len(src) < bytes {
				return dst, errCompact
			}
			var v uint64
			for i, b := range src[:bytes] {
				v |= uint64(b) << (8 * i)
			}
			src = src[bytes:]
			run := min(head>>1, uint64(n))
			if v > mask || run == 0 {
				return dst, errCompact
			}
			for range run {
				dst = append(dst, int32(v))
			}
			n -= int(run)
			continue
		}
		groups := head >> 1
		if groups == 0 || groups > uint64(n+7)/8 || groups*uint64(width) > uint64(len(src)) {
			return dst, errCompact
		}
		packed := src[:int(groups)*width]
		src = src[len(packed):]
		count := min(int(groups)*8, n)
		dst = appendPacked(dst, packed, width, count)
		n -= count
	}
	return dst, nil
}

// appendPacked appends n numbers of at most 32 bits that are packed from the
// lowest bit up.
func appendPacked(dst []int32, src []byte, width, n int) []int32 {
	var held uint64
	have, at, mask := 0, 0, uint64(1)<<width-1
	for range n {
		for have < width {
			held |= uint64(src[at]) << have
			at, have = at+1, have+8
		}
		dst = append(dst, int32(held&mask))
		held, have = held>>width, have-width
	}
	return dst
}

// appendInt64s appends n whole numbers.
func appendInt64s(dst []int64, delta bool, src []byte, n int) ([]int64, error) {
	if delta {
		return appendDeltas(dst, src, n)
	}
	if len(src) != 8*n {
		return dst, fmt.Errorf("%d bytes for %d values", len(src), n)
	}
	dst = slices.Grow(dst, n)
	for i := range n {
		dst = append(dst, int64(binary.LittleEndian.Uint64(src[8*i:])))
	}
	return dst, nil
}

// appendDeltas appends n whole numbers of which the differences are stored, in
// blocks of packed bits. Reference:
// https://parquet.apache.org/docs/file-format/data-pages/encodings/#DELTAENC
func appendDeltas(dst []int64, src []byte, n int) ([]int64, error) {
	r := &compactReader{b: src} // for its numbers
	block, minis, total, value := r.uvarint(), r.uvarint(), r.uvarint(), r.varint()
	switch {
	case r.err != nil:
		return dst, r.err
	case total != uint64(n):
		return dst, fmt.Errorf("holds %d values, want %d", total, n)
	case block == 0 || block > 32<<10 || block%128 != 0 || minis == 0 || minis > block/32 || block%minis != 0 || block/minis%32 != 0:
		return dst, fmt.Errorf("states blocks of %d values in %d parts", block, minis)
	case n == 0:
		return dst, nil
	}
	size := int(block / minis)
	dst = append(slices.Grow(dst, n), value)
	for n--; n > 0; {
		least := r.varint()
		if r.err != nil || len(src)-r.at < int(minis) {
			return dst, errCompact
		}
		widths := src[r.at : r.at+int(minis)]
		r.at += int(minis)
		for _, width := range widths {
			if n == 0 {
				break
			}
			count := min(size, n)
			bytes := size / 8 * int(width)
			// The last part may leave out what fills it up.
			if width > 64 || len(src)-r.at < (count*int(width)+7)/8 {
				return dst, errCompact
			}
			packed := src[r.at:min(r.at+bytes, len(src))]
			r.at += len(packed)
			switch {
			case width == 0:
				for range count {
					value += least
					dst = append(dst, value)
				}
			default:
				dst, value = unpackDeltas(dst, packed, uint(width), count, least, value)
			}
			n -= count
		}
	}
	return dst, nil
}

// unpackDeltas appends the sums of a value and differences that are packed
// from the lowest bit up, each less least, and returns the last sum.
func unpackDeltas(dst []int64, src []byte, width uint, n int, least, value int64) ([]int64, int64) {
	mask := ^uint64(0) >> (64 - width)
	for i := range n {
		bit := uint(i) * width
		at, shift := bit/8, bit%8
		var word uint64
		if int(at)+8 <= len(src) {
			word = binary.LittleEndian.Uint64(src[at:])
		} else {
			for k, b := range src[at:] {
				word |= uint64(b) << (8 * k)
			}
		}
		word >>= shift
		if shift+width > 64 && int(at)+8 < len(src) {
			word |= uint64(src[at+8]) << (64 - shift)
		}
		value += least + int64(word&mask)
		dst = append(dst, value)
	}
	return dst, value
}
