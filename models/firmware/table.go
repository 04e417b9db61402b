package firmware

import (
	"encoding/binary"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"math"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"strikerose/features/chain/board"
	"strikerose/models/firmware/answer"
)

// Number is one entry of the table: a number or an array of them.
type Number struct {
	Name     string    `json:"name"` // in C, below strikerose_table
	Doc      string    `json:"doc"`
	Type     string    `json:"type"`
	Fraction int       `json:"fraction_bits"` // the value is the integer over 2 to this power, in the unit that doc tells
	Length   int       `json:"length"`
	Values   []int64   `json:"values,omitempty"`
	Floats   []float32 `json:"floats,omitempty"` // in place of values where the type is float32
}

// entry is a kept field of the table, in the order of the C.
type entry struct {
	Number
	text string // initialiser in C
	data []byte // as it lies in memory, lowest byte first
}

// entries walks the table as the C keeps it.
func (v *Device) entries(fields map[string][]string) ([]entry, error) {
	docs, err := fieldDocs()
	if err != nil {
		return nil, err
	}
	var out []entry
	var walk func(x reflect.Value, name string)
	walk = func(x reflect.Value, name string) {
		key := x.Type().String()
		for _, f := range fields[key] {
			at := name + snake(f)
			y := x.FieldByName(f)
			if y.Kind() == reflect.Struct && (f == "Chain" || f == "Reals") {
				walk(y, at+".")
				continue
			}
			doc := docs[key+"."+f]
			e := entry{Number: Number{Name: at, Doc: doc, Fraction: fraction(doc), Type: elementType(y.Type())}}
			e.text = initialiser(y, fields, &e)
			e.Length = len(e.Values) + len(e.Floats)
			out = append(out, e)
		}
	}
	walk(reflect.ValueOf(&v.Table).Elem(), "")
	return out, nil
}

// initialiser writes a value in C and adds it to the entry.
func initialiser(x reflect.Value, fields map[string][]string, e *entry) string {
	switch x.Kind() {
	case reflect.Struct:
		var parts []string
		for _, f := range fields[x.Type().String()] {
			parts = append(parts, initialiser(x.FieldByName(f), fields, e))
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case reflect.Array, reflect.Slice:
		var parts []string
		for i := range x.Len() {
			parts = append(parts, initialiser(x.Index(i), fields, e))
		}
		return "{" + strings.Join(parts, ", ") + "}"
	}
	if x.Kind() == reflect.Float32 {
		v := float32(x.Float())
		e.Floats = append(e.Floats, v)
		e.data = binary.LittleEndian.AppendUint32(e.data, math.Float32bits(v))
		return floatLiteral(v)
	}
	n := x.Int()
	e.Values = append(e.Values, n)
	if x.Type().Size() == 2 {
		e.data = binary.LittleEndian.AppendUint16(e.data, uint16(n))
	} else {
		e.data = binary.LittleEndian.AppendUint32(e.data, uint32(n))
	}
	return strconv.FormatInt(n, 10)
}

// floatLiteral writes a float32 as a C literal that reads back as the same.
func floatLiteral(v float32) string {
	s := strconv.FormatFloat(float64(v), 'g', -1, 32)
	if !strings.ContainsAny(s, ".e") {
		s += ".0"
	}
	return s + "f"
}

// elementType names the type of an entry's numbers.
func elementType(t reflect.Type) string {
	for t.Kind() == reflect.Array || t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	if t.Kind() == reflect.Struct {
		var parts []string
		for i := range t.NumField() {
			parts = append(parts, snake(t.Field(i).Name)+" "+elementType(t.Field(i).Type))
		}
		return strings.Join(parts, ", ")
	}
	return t.String()
}

var fractionText = regexp.MustCompile(`\bQ(\d+)\b`)

// fraction reads the fraction bits out of a field's comment.
func fraction(doc string) int {
	if m := fractionText.FindStringSubmatch(doc); m != nil {
		n, _ := strconv.Atoi(m[1])
		return n
	}
	return 0
}

// fieldDocs reads the comments of the tables' fields out of the source.
func fieldDocs() (map[string]string, error) {
	out := map[string]string{}
	for _, p := range []struct {
		name   string
		source fs.FS
		file   string
	}{{"board", board.Source(), "table.go"}, {"answer", answer.Source(), "table.go"}, {"answer", answer.Source(), "float.go"}} {
		text, err := fs.ReadFile(p.source, p.file)
		if err != nil {
			return nil, err
		}
		f, err := parser.ParseFile(token.NewFileSet(), p.file, text, parser.ParseComments)
		if err != nil {
			return nil, err
		}
		ast.Inspect(f, func(n ast.Node) bool {
			s, ok := n.(*ast.TypeSpec)
			if !ok {
				return true
			}
			st, ok := s.Type.(*ast.StructType)
			if !ok {
				return true
			}
			for _, field := range st.Fields.List {
				for _, name := range field.Names {
					out[fmt.Sprintf("%s.%s.%s", p.name, s.Name.Name, name.Name)] = strings.TrimSpace(field.Comment.Text())
				}
			}
			return true
		})
	}
	return out, nil
}

// snake writes a Go name as the translator does.
func snake(name string) string {
	var b strings.Builder
	runes := []rune(name)
	for i, r := range runes {
		if i > 0 && unicode.IsUpper(r) && (!unicode.IsUpper(runes[i-1]) || i+1 < len(runes) && unicode.IsLower(runes[i+1])) {
			b.WriteByte('_')
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

// checksum is the CRC-16/CCITT-FALSE (polynomial 0x1021, start 0xFFFF) over the
// table as it lies in memory.
func checksum(entries []entry) uint16 {
	crc := uint16(0xFFFF)
	for _, e := range entries {
		for _, b := range e.data {
			crc ^= uint16(b) << 8
			for range 8 {
				if crc&0x8000 != 0 {
					crc = crc<<1 ^ 0x1021
				} else {
					crc <<= 1
				}
			}
		}
	}
	return crc
}
