package corpus

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"

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
	f, end, err := readFooter(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	pages := []pagePlace{{"magic", 0, 0, 4}}
	for g, group := range f.groups {
		for i, c := range group.chunks {
			for at := int(c.at); at < int(c.at+c.bytes); {
				r := compactReader{b: file[at:]}
				h := r.pageHeader()
				if r.err != nil {
					t.Fatal(r.err)
				}
				p := pagePlace{fmt.Sprintf("row group %d, column %s, kind %d", g, f.fields[i].name, h.kind), at, at + r.at, at + r.at + int(h.compressed)}
				pages = append(pages, p)
				at = p.next
			}
		}
	}
	tail := len(file) - tailBytes
	return append(pages, pagePlace{"footer", int(end), int(end), tail}, pagePlace{"tail", tail, tail, len(file)})
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

// bomb is a page of 100 rows that states or holds far more than its rows allow.
func bomb(t *testing.T, c *column, stated int, content, levels []byte, change func(*pageHeader)) []byte {
	t.Helper()
	z, err := zstd.NewWriter(nil, zstd.WithEncoderCRC(false), zstd.WithZeroFrames(true))
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	_, encoding := c.physical()
	body := z.EncodeAll(content, slices.Clone(levels))
	h := pageHeader{kind: pageData, uncompressed: int64(stated), compressed: int64(len(body)), crc: crc32.ChecksumIEEE(body), rows: 100, levels: int64(len(levels)), encoding: int64(encoding)}
	if change != nil {
		change(&h)
	}
	w := compactWriter{}
	w.begin()
	w.int32(1, h.kind)
	w.int32(2, int32(h.uncompressed))
	w.int32(3, int32(h.compressed))
	w.int32(4, int32(h.crc))
	if h.kind == pageDictionary {
		w.nested(7)
		w.int32(1, int32(h.rows))
		w.int32(2, int32(h.encoding))
		w.end()
	} else {
		w.nested(8)
		for i, v := range []int64{h.rows, h.nulls, h.rows, h.encoding, h.levels, 0} {
			w.int32(int16(i+1), int32(v))
		}
		w.bool(7, true)
		w.end()
	}
	w.end()
	return append(w.b, body...)
}

// TestBombs: pages that state or hold gigabytes for 100 rows are refused in
// little memory.
func TestBombs(t *testing.T) {
	const gigabyte, rows = 1 << 30, 100
	zeros := make([]byte, 64<<20) // what lies behind a few kB
	float := &column{name: "f", kind: kindFloat32}
	optional := &column{name: "o", kind: kindFloat32, optional: true}
	whole := &column{name: "i", kind: kindInt64, delta: true}
	text := &column{name: "s", kind: kindString}
	varint := func(vs ...uint64) (b []byte) {
		for _, v := range vs {
			b = binary.AppendUvarint(b, v)
		}
		return b
	}
	dictionary := func(rows, stated int, content []byte) []byte {
		return bomb(t, text, stated, content, nil, func(h *pageHeader) {
			h.kind, h.rows, h.encoding = pageDictionary, int64(rows), encodingPlain
		})
	}
	oneText := dictionary(1, 5, []byte("\x01\x00\x00\x00x"))
	for name, tc := range map[string]struct {
		column *column
		pages  []byte
	}{
		"states a gigabyte":              {float, bomb(t, float, gigabyte, zeros[:400], nil, nil)},
		"states less than there is":      {float, bomb(t, float, 400, zeros, nil, nil)},
		"states more than there is":      {float, bomb(t, float, 400, zeros[:396], nil, nil)},
		"states less than none":          {float, bomb(t, float, -1, zeros[:400], nil, nil)},
		"states more rows":               {float, bomb(t, float, 4*rows, zeros[:400], nil, func(h *pageHeader) { h.rows = gigabyte })},
		"states more bytes of itself":    {float, bomb(t, float, 4*rows, zeros[:400], nil, func(h *pageHeader) { h.compressed = gigabyte })},
		"states more levels":             {optional, bomb(t, optional, 4*rows, zeros[:400], nil, func(h *pageHeader) { h.levels = gigabyte })},
		"states more nulls":              {optional, bomb(t, optional, 4*rows, zeros[:400], nil, func(h *pageHeader) { h.nulls = gigabyte })},
		"has a run without end":          {optional, bomb(t, optional, 5+4*rows, zeros[:400], append(varint(gigabyte<<1), 0), func(h *pageHeader) { h.nulls = 1 })},
		"has groups without end":         {optional, bomb(t, optional, 6+4*rows, zeros[:400], varint(gigabyte<<1|1, 0), func(h *pageHeader) { h.nulls = 1 })},
		"holds more deltas":              {whole, bomb(t, whole, 11, varint(128, 4, gigabyte, 0, 0, 0, 0), nil, nil)},
		"has blocks without end":         {whole, bomb(t, whole, 12, append(varint(gigabyte, 1, rows, 0), 0, 0, 0), nil, nil)},
		"has no parts in a block":        {whole, bomb(t, whole, 6, varint(128, 0, rows, 0), nil, nil)},
		"is a dictionary of a gigabyte":  {text, append(dictionary(rows, gigabyte, zeros[:400]), bomb(t, text, 3, []byte{1, 200, 0}, nil, nil)...)},
		"is a dictionary for no rows":    {text, append(dictionary(gigabyte, 400, zeros[:400]), bomb(t, text, 3, []byte{1, 200, 0}, nil, nil)...)},
		"has a text of a gigabyte":       {text, append(dictionary(1, 4, []byte{0, 0, 0, 64}), bomb(t, text, 4, append([]byte{1}, append(varint(rows<<1), 0)...), nil, nil)...)},
		"refers outside its dictionary":  {text, append(slices.Clone(oneText), bomb(t, text, 4, append([]byte{1}, append(varint(rows<<1), 1)...), nil, nil)...)},
		"has no dictionary":              {text, bomb(t, text, 4, append([]byte{1}, append(varint(rows<<1), 0)...), nil, nil)},
		"has two dictionaries":           {text, append(slices.Clone(oneText), oneText...)},
		"has places of 33 bits":          {text, append(slices.Clone(oneText), bomb(t, text, 8, append([]byte{33}, append(varint(rows<<1), 0, 0, 0, 0, 0)...), nil, nil)...)},
		"is of another encoding":         {float, bomb(t, float, 4*rows, zeros[:400], nil, func(h *pageHeader) { h.encoding = encodingPlain })},
		"is of another kind":             {float, bomb(t, float, 4*rows, zeros[:400], nil, func(h *pageHeader) { h.kind = 0 })},
		"is not compressed as it states": {float, append(bomb(t, float, 4*rows, nil, nil, func(h *pageHeader) { h.compressed, h.crc = 0, 0 }), []byte{}...)},
		"holds fewer rows":               {float, bomb(t, float, 4, zeros[:4], nil, func(h *pageHeader) { h.rows = 1 })},
		"holds no page":                  {float, nil},
	} {
		var err error
		used := allocated(func() {
			var r *chunkReader
			if r, err = newChunkReader(); err != nil {
				t.Fatal(err)
			}
			func() {
				defer recovered(&err)
				_, err = r.read(tc.column, tc.pages, rows, tc.column.empty(0))
			}()
		})
		if err == nil || strings.Contains(err.Error(), "gave up") {
			t.Errorf("a page that %s: got %v, want an error of its own", name, err)
		}
		if used > 4<<20 {
			t.Errorf("a page that %s: %d MB taken", name, used>>20)
		}
	}
	good, err := newChunkReader()
	if err != nil {
		t.Fatal(err)
	}
	pages := append(slices.Clone(oneText), bomb(t, text, 4, append([]byte{1}, append(varint(rows<<1), 0)...), nil, nil)...)
	if got, err := good.read(text, pages, rows, text.empty(0)); err != nil || len(got.([]string)) != rows || got.([]string)[99] != "x" {
		t.Errorf("a page as it should be: %v", err)
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
		var err error
		used := allocated(func() { _, err = parseFooter(raw, 1<<20) })
		if err == nil {
			t.Errorf("a footer with %s was taken", name)
		}
		if used > 4<<20 {
			t.Errorf("a footer with %s: %d MB taken", name, used>>20)
		}
	}
	// A file of a few bytes that states a footer as large as can be.
	if _, _, err := readFooter(strings.NewReader("PAR1PAR1\xff\xff\xff\xffPAR1"), 16); err == nil {
		t.Error("a footer larger than the file was taken")
	}
}
