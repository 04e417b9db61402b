package corpus

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"
	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"

	"strikerose/dataset"
)

// place of a page in a file: its header, then its body.
type pagePlace struct {
	name           string
	at, body, next int
}

// pagesOf lists all pages of a file, then its footer and its tail.
func pagesOf(t *testing.T, file []byte) []pagePlace {
	t.Helper()
	_, end, err := footerBytes(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	meta, pages := footerOf(t, file), []pagePlace{{"magic", 0, 0, 4}}
	for g, group := range meta.RowGroups {
		for i := range group.Columns {
			c := &group.Columns[i].MetaData
			at := c.DataPageOffset
			if c.DictionaryPageOffset != 0 {
				at = c.DictionaryPageOffset
			}
			for stop := at + c.TotalCompressedSize; at < stop; {
				var h format.PageHeader
				r := new(thrift.CompactProtocol).NewReaderFromBytes(file[at:])
				if err := thrift.NewDecoder(r).Decode(&h); err != nil {
					t.Fatal(err)
				}
				body := int(at) + r.BytesRead()
				p := pagePlace{fmt.Sprintf("row group %d, column %s, kind %s", g, c.PathInSchema[0], h.Type), int(at), body, body + int(h.CompressedPageSize)}
				pages = append(pages, p)
				at = int64(p.next)
			}
		}
	}
	tail := len(file) - int(tailBytes)
	return append(pages, pagePlace{"footer", int(end), int(end), tail}, pagePlace{"tail", tail, tail, len(file)})
}

func footerOf(t *testing.T, file []byte) *format.FileMetaData {
	t.Helper()
	raw, _, err := footerBytes(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	meta := new(format.FileMetaData)
	if err := thrift.Unmarshal(new(thrift.CompactProtocol), raw, meta); err != nil {
		t.Fatal(err)
	}
	return meta
}

// withFooter is a file of the given pages and footer.
func withFooter(pages, footer []byte) []byte {
	file := append([]byte(parquetMagic), pages...)
	file = append(file, footer...)
	file = binary.LittleEndian.AppendUint32(file, uint32(len(footer)))
	return append(file, parquetMagic...)
}

// tableReaders read each table of a session by every way there is.
func tableReaders(c *Corpus, session string) map[string][]func() error {
	return map[string][]func() error{
		"samples": {
			func() error { _, err := c.Signal(context.Background(), session); return err },
			func() error {
				return c.EachChunk(context.Background(), session, func(*dataset.Signal) error { return nil })
			},
		},
		"sessions": {
			func() error { _, err := c.Session(session); return err },
			func() error { _, err := c.Sessions(); return err },
			func() error { _, err := c.Select(nil, []string{session}); return err },
		},
		"windows":  {func() error { _, _, err := c.Strikes(session); return err }},
		"features": {func() error { _, err := c.Features(session); return err }},
		"labels":   {func() error { _, err := c.Labels(session); return err }},
	}
}

// TestEveryPageDamaged flips bits in the header and the body of every page of
// every table, in the footer and in the tail, and cuts the file at the start
// and in the middle of each: every way of reading ends in an error that says
// which file it is and what to run.
func TestEveryPageDamaged(t *testing.T) {
	c := newCorpus(t)
	addSession(t, c, "monday", testRig(t, "garage", true), 2500, 1)
	for table, readers := range tableReaders(c, "monday") {
		rel := table + "/" + mondayPlace
		whole, err := os.ReadFile(c.path(rel))
		if err != nil {
			t.Fatal(err)
		}
		try := func(what string, file []byte) {
			t.Helper()
			if err := os.WriteFile(c.path(rel), file, 0o666); err != nil {
				t.Fatal(err)
			}
			clear(c.known) // a row of the same size and time would be taken from memory
			for i, read := range readers {
				if err := read(); err == nil {
					t.Errorf("%s: %s: reading in way %d gives no error", rel, what, i)
				} else if !strings.Contains(err.Error(), rel) || !strings.Contains(err.Error(), "run strikerose check -C "+c.Dir()) {
					t.Errorf("%s: %s: the error does not name the file and what to run: %v", rel, what, err)
				}
			}
		}
		for i, p := range pagesOf(t, whole) {
			places := map[int]bool{p.at: true, p.at + (p.body-p.at)/2: true, p.body: true, (p.body + p.next) / 2: true, p.next - 1: true}
			for at := range places {
				if at >= p.next {
					continue
				}
				bad := slices.Clone(whole)
				bad[at] ^= 1 << (i % 8)
				try(fmt.Sprintf("bit %d of byte %d (%s) flipped", i%8, at, p.name), bad)
			}
			try("cut before "+p.name, whole[:p.at])
			try("cut inside "+p.name, whole[:(p.at+p.next)/2])
		}
		if err := os.WriteFile(c.path(rel), whole, 0o666); err != nil {
			t.Fatal(err)
		}
		for _, read := range readers {
			if err := read(); err != nil {
				t.Errorf("%s: whole again, yet %v", rel, err)
			}
		}
	}
	requireProblems(t, c)
}

// TestStretchDamaged: reading a stretch, which does not verify the seal, never
// gives other values for a bit flipped in a page.
func TestStretchDamaged(t *testing.T) {
	c := newCorpus(t)
	addSession(t, c, "monday", testRig(t, "garage", true), 2500, 1)
	path := c.path("samples/" + mondayPlace)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	read := func() (sig *dataset.Signal, column []float32, err error) {
		s, err := c.OpenStretches("monday")
		if err != nil {
			return nil, nil, err
		}
		defer s.Close()
		sig, err = s.Read(t.Context(), 0)
		if err != nil {
			return nil, nil, err
		}
		err = c.EachReading(t.Context(), "monday", []string{"ax_mps2"}, func(values [][]float32) error {
			column = slices.Clone(values[0])
			return nil
		})
		return sig, column, err
	}
	want, column, err := read()
	if err != nil {
		t.Fatal(err)
	}
	refused := 0
	for i, p := range pagesOf(t, whole) {
		for at := p.at; at < p.next; at += 1 + (p.next-p.at)/12 {
			bad := slices.Clone(whole)
			bad[at] ^= 1 << (i % 8)
			if err := os.WriteFile(path, bad, 0o666); err != nil {
				t.Fatal(err)
			}
			sig, values, err := read()
			if err != nil {
				refused++
			} else if !reflect.DeepEqual(want, sig) || !slices.Equal(column, values) {
				t.Errorf("byte %d (%s) flipped: other values without an error", at, p.name)
			}
		}
	}
	if refused < 100 {
		t.Errorf("only %d flips were noticed", refused)
	}
}

// resealed is a file whose seal is made good after a change, as a stranger
// could make it.
func resealed(file []byte) []byte {
	at, err := sealAt(file)
	if err != nil {
		return file
	}
	copy(file[at:], sealOf(file, at))
	return file
}

// TestStrangersFiles: whatever lies behind a good seal, reading neither panics
// nor takes memory that the stated rows do not ask for.
func TestStrangersFiles(t *testing.T) {
	c := newCorpus(t)
	addSession(t, c, "monday", testRig(t, "garage", true), 400, 1)
	all := readers()
	for _, table := range tables() {
		whole, err := os.ReadFile(c.path(filepath.FromSlash(table + "/" + mondayPlace)))
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range pagesOf(t, whole) {
			for at := p.at; at < min(p.body+20, p.next); at += 7 {
				for _, bits := range []byte{0x01, 0xff} {
					bad := slices.Clone(whole)
					bad[at] ^= bits
					for _, way := range []string{table, table + " behind the seal"} {
						used := allocated(func() { _ = all[way](t.Context(), resealed(bad)) })
						if used > 64<<20 {
							t.Errorf("%s: byte %d (%s) changed by %#x: %d MB taken", way, at, p.name, bits, used>>20)
						}
					}
				}
			}
		}
	}
}

func allocated(do func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	do()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

// bombRows is how many rows the bombs state.
const bombRows = 100

// bomb is a page of 100 rows that states or holds far more than its rows allow.
func bomb(t *testing.T, encoding format.Encoding, stated int, content, levels []byte, change func(*format.PageHeader)) []byte {
	t.Helper()
	z, err := zstd.NewWriter(nil, zstd.WithEncoderCRC(false), zstd.WithZeroFrames(true))
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	body := z.EncodeAll(content, slices.Clone(levels))
	h := format.PageHeader{
		Type: format.DataPageV2, UncompressedPageSize: int32(stated), CompressedPageSize: int32(len(body)), CRC: int32(crc32.ChecksumIEEE(body)),
		DataPageHeaderV2: thrift.New(format.DataPageHeaderV2{NumValues: bombRows, NumRows: bombRows, Encoding: encoding, DefinitionLevelsByteLength: int32(len(levels))}),
	}
	if change != nil {
		change(&h)
	}
	head, err := thrift.Marshal(new(thrift.CompactProtocol), &h)
	if err != nil {
		t.Fatal(err)
	}
	return append(head, body...)
}

// withPages is a file of one column with these pages in the place of its own.
// Change, unless nil, changes what the footer says of them.
func withPages(t *testing.T, tab *table, data any, pages []byte, change func(*format.ColumnMetaData)) []byte {
	t.Helper()
	var out bytes.Buffer
	if _, err := tab.write(t.Context(), &out, []any{data}, nil); err != nil {
		t.Fatal(err)
	}
	meta := footerOf(t, out.Bytes())
	c := &meta.RowGroups[0].Columns[0]
	c.MetaData.DictionaryPageOffset, c.MetaData.DataPageOffset, c.MetaData.TotalCompressedSize = 0, 4, int64(len(pages))
	if change != nil {
		change(&c.MetaData)
	}
	footer, err := thrift.Marshal(new(thrift.CompactProtocol), meta)
	if err != nil {
		t.Fatal(err)
	}
	return withFooter(pages, footer)
}

// TestBombs: pages that state or hold gigabytes for 100 rows are refused in
// little memory.
func TestBombs(t *testing.T) {
	const gigabyte = 1 << 30
	zeros := make([]byte, 64<<20) // what lies behind a few kB
	one := func(c column) *table { return &table{name: "bombs", columns: []column{c}} }
	float := one(column{name: "f", kind: kindFloat32})
	optional := one(column{name: "o", kind: kindFloat32, optional: true})
	whole := one(column{name: "i", kind: kindInt64, delta: true})
	words := one(column{name: "s", kind: kindString})
	data := map[*table]any{float: make([]float32, bombRows), optional: make([]float32, bombRows), whole: make([]int64, bombRows), words: repeated{"x", bombRows}}
	varint := func(vs ...uint64) (b []byte) {
		for _, v := range vs {
			b = binary.AppendUvarint(b, v)
		}
		return b
	}
	floats := func(stated int, content []byte, change func(*format.PageHeader)) []byte {
		return bomb(t, format.ByteStreamSplit, stated, content, nil, change)
	}
	levels := func(stated int, levels []byte, change func(*format.DataPageHeaderV2)) []byte {
		return bomb(t, format.ByteStreamSplit, stated, zeros[:400], levels, func(h *format.PageHeader) { change(&h.DataPageHeaderV2.V) })
	}
	deltas := func(stated int, content []byte) []byte {
		return bomb(t, format.DeltaBinaryPacked, stated, content, nil, nil)
	}
	places := func(content []byte) []byte {
		return bomb(t, format.RLEDictionary, len(content), content, nil, nil)
	}
	dictionary := func(rows, stated int, content []byte) []byte {
		return bomb(t, format.Plain, stated, content, nil, func(h *format.PageHeader) {
			h.Type, h.DataPageHeaderV2 = format.DictionaryPage, thrift.Null[format.DataPageHeaderV2]{}
			h.DictionaryPageHeader = thrift.New(format.DictionaryPageHeader{NumValues: int32(rows), Encoding: format.Plain})
		})
	}
	join := func(pages ...[]byte) []byte { return slices.Concat(pages...) }
	oneText := dictionary(1, 5, []byte("\x01\x00\x00\x00x"))
	allOfOne := places(append([]byte{1}, append(varint(bombRows<<1), 0)...))
	for name, tc := range map[string]struct {
		table *table
		pages []byte
	}{
		"states a gigabyte":             {float, floats(gigabyte, zeros[:400], nil)},
		"states less than there is":     {float, floats(400, zeros, nil)},
		"states more than there is":     {float, floats(400, zeros[:396], nil)},
		"states less than none":         {float, floats(-1, zeros[:400], nil)},
		"unpacks in two parts":          {float, floats(400, zeros[:400], func(h *format.PageHeader) { h.CRC = 0; h.CompressedPageSize += 8 })},
		"states more rows":              {float, floats(400, zeros[:400], func(h *format.PageHeader) { h.DataPageHeaderV2.V.NumValues = gigabyte })},
		"states more bytes of itself":   {float, floats(400, zeros[:400], func(h *format.PageHeader) { h.CompressedPageSize = gigabyte })},
		"states more levels":            {optional, levels(400, nil, func(h *format.DataPageHeaderV2) { h.DefinitionLevelsByteLength = gigabyte })},
		"states more nulls":             {optional, levels(402, varint(bombRows<<1, 0), func(h *format.DataPageHeaderV2) { h.NumNulls = gigabyte })},
		"has a run without end":         {optional, levels(406, append(varint(gigabyte<<1), 0), func(h *format.DataPageHeaderV2) { h.NumNulls = 1 })},
		"has groups without end":        {optional, levels(405, varint(gigabyte<<1|1, 0), func(h *format.DataPageHeaderV2) { h.NumNulls = 1 })},
		"holds more deltas":             {whole, deltas(11, varint(128, 4, gigabyte, 0, 0, 0, 0))},
		"has blocks without end":        {whole, deltas(12, append(varint(gigabyte, 1, bombRows, 0), 0, 0, 0))},
		"has no parts in a block":       {whole, deltas(6, varint(128, 0, bombRows, 0))},
		"is a dictionary of a gigabyte": {words, join(dictionary(bombRows, gigabyte, zeros[:400]), allOfOne)},
		"is a dictionary for no rows":   {words, join(dictionary(gigabyte, 400, zeros[:400]), allOfOne)},
		"has a text of a gigabyte":      {words, join(dictionary(1, 4, []byte{0, 0, 0, 64}), allOfOne)},
		"refers outside its dictionary": {words, join(oneText, places(append([]byte{1}, append(varint(bombRows<<1), 1)...)))},
		"has no dictionary":             {words, allOfOne},
		"has places of 33 bits":         {words, join(oneText, places(append([]byte{33}, append(varint(bombRows<<1), 0, 0, 0, 0, 0)...)))},
		"is of another kind":            {float, floats(400, zeros[:400], func(h *format.PageHeader) { h.Type = format.IndexPage })},
		"holds fewer rows":              {float, floats(4, zeros[:4], func(h *format.PageHeader) { h.DataPageHeaderV2.V.NumValues = 1 })},
		"holds no page":                 {float, nil},
	} {
		file := withPages(t, tc.table, data[tc.table], tc.pages, nil)
		var err error
		used := allocated(func() { _, err = tc.table.parse(t.Context(), file) })
		if err == nil {
			t.Errorf("a page that %s is taken", name)
		}
		if used > 8<<20 {
			t.Errorf("a page that %s: %d MB taken: %v", name, used>>20, err)
		}
	}
	file := withPages(t, words, data[words], join(oneText, allOfOne), nil)
	if d, err := words.parse(t.Context(), file); err != nil || len(d.columns[0].([]string)) != bombRows || d.columns[0].([]string)[99] != "x" {
		t.Errorf("pages as they should be: %v", err)
	}
}

// TestBombsElsewhere: wherever a footer says that pages lie, those that the library
// would read are those that are looked at.
func TestBombsElsewhere(t *testing.T) {
	float := &table{name: "bombs", columns: []column{{name: "f", kind: kindFloat32}}}
	good := bomb(t, format.ByteStreamSplit, 400, make([]byte, 400), nil, nil)
	bad := bomb(t, format.ByteStreamSplit, 400, make([]byte, 64<<20), nil, nil)
	decoys := bytes.Repeat(good, len(bad)/len(good)+1) // as long as what is to be read in their place
	for name, tc := range map[string]struct {
		pages  []byte
		change func(*format.ColumnMetaData)
	}{
		"beyond all numbers": {bad, func(c *format.ColumnMetaData) { c.TotalCompressedSize = math.MaxInt64 }},
		"at no byte":         {bad, func(c *format.ColumnMetaData) { c.DataPageOffset = math.MaxInt64 }},
		"behind decoys": {slices.Concat(decoys, bad), func(c *format.ColumnMetaData) {
			c.DictionaryPageOffset, c.TotalCompressedSize = 4+int64(len(decoys)), int64(len(decoys))
		}},
	} {
		file := withPages(t, float, make([]float32, bombRows), tc.pages, tc.change)
		var err error
		used := allocated(func() { _, err = float.parse(t.Context(), file) })
		if err == nil || used > 8<<20 {
			t.Errorf("pages %s: %d MB taken: %v", name, used>>20, err)
		}
	}
}

// TestFooterBombs: footers that state more than they hold are refused in little
// memory.
func TestFooterBombs(t *testing.T) {
	nested := func(depth int) []byte { return bytes.Repeat([]byte{0x8c}, depth) } // struct in struct in struct
	for name, raw := range map[string][]byte{
		"row groups without end":  append([]byte{0x49, 0xfc}, 0xff, 0xff, 0xff, 0xff, 0x07),
		"row groups of no rows":   append([]byte{0x49, 0xfc}, append(binary.AppendUvarint(nil, 1<<20), make([]byte, 1<<20)...)...),
		"columns without a name":  append([]byte{0x29, 0xfc}, append(binary.AppendUvarint(nil, 1<<20), make([]byte, 1<<20)...)...),
		"a text without end":      {0x68, 0xff, 0xff, 0xff, 0xff, 0x0f},
		"a number without end":    bytes.Repeat([]byte{0x36, 0xff}, 40),
		"structs without end":     nested(1 << 20),
		"lists in lists":          append([]byte{0x89}, bytes.Repeat([]byte{0x19}, 1<<20)...),
		"a map":                   {0x8b, 0x01, 0x55, 0x00},
		"nothing":                 {},
		"rows without row groups": {0x36, 0x80, 0x80, 0x80, 0x80, 0x10, 0},
	} {
		file := withFooter(nil, raw)
		var err error
		used := allocated(func() { _, err = openParquet(bytes.NewReader(file), int64(len(file))) })
		if err == nil {
			t.Errorf("a footer with %s was taken", name)
		}
		if used > 8<<20 {
			t.Errorf("a footer with %s: %d MB taken: %v", name, used>>20, err)
		}
	}
	// A file of a few bytes that states a footer as large as can be.
	if _, err := openParquet(strings.NewReader("PAR1PAR1\xff\xff\xff\xffPAR1"), 16); err == nil {
		t.Error("a footer larger than the file was taken")
	}
}
