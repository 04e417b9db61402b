package corpus

import (
	"encoding/binary"
	"errors"
	"fmt"

	"github.com/klauspost/compress/zstd"
	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

// A page of a stranger's file may state or unpack to gigabytes. The library
// takes the memory that a page asks for, so each is looked at before it does.
const (
	// usualHeader is more than the header of a page takes, but for one that
	// states long texts as its bounds.
	usualHeader = 1 << 10
	maxHeader   = 4 << 20
	// pageSlack is what a page may hold beside its values: levels, counts, and
	// what a dictionary of few rows takes at least.
	pageSlack = 64 << 10
	// maxTextPage bounds pages of texts, which may be of any length.
	maxTextPage = 64 << 20
)

// checkPages holds the pages of a column in a row group against what the row
// group's rows may take.
func (f *openFile) checkPages(c *column, chunk *parquet.FileColumnChunk, group int, rows int64) error {
	meta := &chunk.File().Metadata().RowGroups[group].Columns[chunk.Column()].MetaData
	if meta.Codec != format.Zstd {
		return fmt.Errorf("is compressed by %s, want zstd", meta.Codec)
	}
	at := meta.DataPageOffset
	if meta.DictionaryPageOffset != 0 { // there the library begins, wherever it lies
		at = meta.DictionaryPageOffset
	}
	if at < int64(len(parquetMagic)) || at > f.size || meta.TotalCompressedSize < 0 || meta.TotalCompressedSize > f.size-at {
		return fmt.Errorf("states %d bytes of pages from byte %d on in a file of %d", meta.TotalCompressedSize, at, f.size)
	}
	end := at + meta.TotalCompressedSize
	most := 16*rows + pageSlack
	if c.kind == kindString {
		most = maxTextPage
	}
	for at < end {
		h, n, err := f.pageHeader(at, end)
		if err != nil {
			return fmt.Errorf("header of the page at byte %d: %w", at, err)
		}
		at += n
		size := int64(h.CompressedPageSize)
		if size < 0 || size > end-at || h.UncompressedPageSize < 0 || int64(h.UncompressedPageSize) > most {
			return fmt.Errorf("page at byte %d states %d bytes, unpacked %d, for %d rows", at, size, h.UncompressedPageSize, rows)
		}
		levels, values := int64(0), int64(0)
		switch {
		case h.Type == format.DataPageV2 && h.DataPageHeaderV2.Valid:
			v := &h.DataPageHeaderV2.V
			levels, values = int64(v.DefinitionLevelsByteLength)+int64(v.RepetitionLevelsByteLength), int64(v.NumValues)
			if v.DefinitionLevelsByteLength < 0 || v.RepetitionLevelsByteLength < 0 || levels > size {
				return fmt.Errorf("page at byte %d states levels of %d bytes in %d", at, levels, size)
			}
		case h.Type == format.DictionaryPage && h.DictionaryPageHeader.Valid:
			values = int64(h.DictionaryPageHeader.V.NumValues)
		default:
			return fmt.Errorf("page at byte %d is of kind %s, which is not written here", at, h.Type)
		}
		if values < 0 || values > rows {
			return fmt.Errorf("page at byte %d states %d values for %d rows", at, values, rows)
		}
		page := pagePlan{at: at, levels: levels, size: size - levels, unpacked: int64(h.UncompressedPageSize) - levels, values: values}
		if err := f.checkPage(c, page); err != nil {
			return fmt.Errorf("page at byte %d: %w", at, err)
		}
		at += size
	}
	return nil
}

// pageHeader reads the header of a page and returns how many bytes it takes.
func (f *openFile) pageHeader(at, end int64) (h format.PageHeader, n int64, err error) {
	for size := int64(usualHeader); ; size = maxHeader {
		head := make([]byte, min(end-at, size))
		if _, err := f.file.ReadAt(head, at); err != nil {
			return h, 0, err
		}
		r := new(thrift.CompactProtocol).NewReaderFromBytes(head)
		h = format.PageHeader{}
		err = thrift.NewDecoder(r).Decode(&h)
		if err == nil || size == maxHeader {
			return h, int64(r.BytesRead()), err
		}
	}
}

// pagePlan is where a page's levels lie, and behind them its packed values.
type pagePlan struct{ at, levels, size, unpacked, values int64 }

// checkPage looks into a page for what the library would take its word for.
func (f *openFile) checkPage(c *column, p pagePlan) error {
	if p.levels > 0 {
		levels := make([]byte, p.levels)
		if _, err := f.file.ReadAt(levels, p.at); err != nil {
			return err
		}
		if err := checkLevels(levels, p.values); err != nil {
			return err
		}
	}
	if p.size == 0 {
		return nil
	}
	if err := f.checkFrame(p.at+p.levels, p.size, p.unpacked); err != nil || !c.delta {
		return err
	}
	packed := make([]byte, p.size)
	if _, err := f.file.ReadAt(packed, p.at+p.levels); err != nil {
		return err
	}
	z, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(uint64(max(p.unpacked, 128<<10))))
	if err != nil {
		return err
	}
	defer z.Close()
	deltas, err := z.DecodeAll(packed, nil)
	if err != nil {
		return err
	}
	return checkDeltas(deltas, p.values)
}

// checkLevels tells whether levels of one bit, in runs and groups of eight, are
// no more than a page's values.
func checkLevels(b []byte, values int64) error {
	n := uint64(0)
	for len(b) > 0 {
		head, k := binary.Uvarint(b)
		if k <= 0 || head>>1 > uint64(values) {
			return errLevels
		}
		b = b[k:]
		width := uint64(1) // of a run
		if head&1 == 0 {
			n += head >> 1
		} else {
			width = head >> 1
			n += 8 * width
		}
		if n >= uint64(values)+8 || width > uint64(len(b)) {
			return errLevels
		}
		b = b[width:]
	}
	return nil
}

// checkDeltas tells whether deltas of whole numbers are of blocks of usual size
// and state no more values than their page.
func checkDeltas(b []byte, values int64) error {
	var head [3]uint64 // block, parts of one, values
	for i := range head {
		v, k := binary.Uvarint(b)
		if k <= 0 {
			return errDeltas
		}
		head[i], b = v, b[k:]
	}
	if head[0] > 1<<10 || head[1] < 1 || head[1] > head[0] || head[2] > uint64(values) {
		return errDeltas
	}
	return nil
}

var (
	errLevels = errors.New("states more levels than values")
	errDeltas = errors.New("states other deltas than it has values")
)

var errPacked = errors.New("does not unpack to what it states")

// checkFrame tells whether bytes of the file are one Zstandard frame that states
// to unpack to so many bytes, or is one block, which unpacks to 128 kB at most: a
// decoder then takes no more.
func (f *openFile) checkFrame(at, size, unpacked int64) error {
	var h zstd.Header
	head := make([]byte, min(size, zstd.HeaderMaxSize))
	if _, err := f.file.ReadAt(head, at); err != nil {
		return err
	}
	if err := h.Decode(head); err != nil {
		return err
	}
	if h.Skippable || h.HasFCS && int64(h.FrameContentSize) != unpacked {
		return errPacked
	}
	// Blocks follow one another until one says that it is the last: RFC 8878,
	// section 3.1.1.2.
	end := at + size
	at += int64(h.HeaderSize)
	for blocks := 1; ; blocks++ {
		var b [3]byte
		if at+3 > end || blocks > 1 && !h.HasFCS {
			return errPacked
		}
		if _, err := f.file.ReadAt(b[:], at); err != nil {
			return err
		}
		word := int64(b[0]) | int64(b[1])<<8 | int64(b[2])<<16
		n := word >> 3
		if word>>1&3 == 1 { // one byte, repeated
			n = 1
		}
		at += 3 + n
		if word&1 != 0 {
			break
		}
	}
	if h.HasCheckSum {
		at += 4
	}
	if at != end {
		return errPacked
	}
	return nil
}
