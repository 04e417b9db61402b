package rig

import (
	"bytes"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// Rewrite changes the text of a rig file so that it says what a rig says, and
// leaves everything else in it, comments and order too, as it stands. Values
// that differ are set where they stand, added to their table, or, where the
// table is missing, added in a new one at the end; optional ones that the rig
// does not have are taken out with their line. It can change numbers and lists
// of numbers in [bag], [hang], [sensor], [motion] and [calibration]; other
// differences are refused.
//
// The result is read back and compared: an error is returned rather than a
// text that says something else.
func Rewrite(data []byte, name string, to *Rig) ([]byte, error) {
	from, err := Parse(data, name)
	if err != nil {
		return nil, err
	}
	mark := []byte("\xef\xbb\xbf")
	text, marked := bytes.CutPrefix(data, mark)
	for _, c := range changes(from, to) {
		if text, err = c.apply(text); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
	}
	if marked {
		text = slices.Concat(mark, text)
	}
	back, err := Parse(text, name)
	if err != nil {
		return nil, err
	}
	if left := Diff(back, to); len(left) > 0 {
		return nil, fmt.Errorf("%s: cannot be changed in place: %s: change it by hand", name, left[0])
	}
	return text, nil
}

// change is one value of a table to set, or to take out.
type change struct {
	table, key string
	value      string // in TOML; "": take it out
}

// changes lists the values to change, in the order of the file's description.
func changes(from, to *Rig) []change {
	var out []change
	was, will := reflect.ValueOf(*from), reflect.ValueOf(*to)
	for i := range was.NumField() {
		a, b := parts(was.Field(i)), parts(will.Field(i))
		if b.Kind() != reflect.Struct {
			continue // not a table; Rewrite compares the result
		}
		table := tag(will.Type().Field(i))
		for k := range b.NumField() {
			if reflect.DeepEqual(a.Field(k).Interface(), b.Field(k).Interface()) {
				continue
			}
			field := b.Type().Field(k)
			c := change{table: table, key: tag(field)}
			optional := strings.Contains(field.Tag.Get("toml"), "omitempty")
			if !optional || !b.Field(k).IsZero() {
				text, ok := literal(b.Field(k))
				if !ok {
					continue
				}
				c.value = text
			}
			out = append(out, c)
		}
	}
	return out
}

// parts is a table's struct; of one that is missing, an empty one.
func parts(v reflect.Value) reflect.Value {
	if v.Kind() != reflect.Pointer {
		return v
	}
	if v.IsNil() {
		return reflect.Zero(v.Type().Elem())
	}
	return v.Elem()
}

func tag(f reflect.StructField) string {
	name, _, _ := strings.Cut(f.Tag.Get("toml"), ",")
	return name
}

// literal writes a number or a list of numbers in TOML. ok is false for
// anything else.
func literal(v reflect.Value) (text string, ok bool) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			return literal(v.Elem())
		}
	case reflect.Float64:
		if x := v.Float(); !math.IsNaN(x) && !math.IsInf(x, 0) {
			text = strconv.FormatFloat(x, 'g', -1, 64)
			if !strings.ContainsAny(text, ".e") {
				text += ".0"
			}
			return text, true
		}
	case reflect.Slice:
		items := make([]string, v.Len())
		for i := range items {
			if items[i], ok = literal(v.Index(i)); !ok {
				return "", false
			}
		}
		return "[ " + strings.Join(items, ", ") + " ]", true
	}
	return "", false
}

// outline is where a table of one rig file stands. Places are offsets into the
// text, -1 for none.
type outline struct {
	found    bool
	dotted   string // before a key: "sensor." where the table is written so
	after    int    // end of the line after which a key can be added
	inline   int    // place of the closing brace of { ... }
	empty    bool   // nothing stands in the braces
	key      span   // the key and its value, of the value looked for
	value    span   // of the value looked for
	hasValue bool
}

type span struct{ from, to int }

// apply changes one value.
func (c change) apply(text []byte) ([]byte, error) {
	o, err := outlineOf(text, c.table, c.key)
	if err != nil {
		return nil, err
	}
	line := "\n"
	if i := bytes.IndexByte(text, '\n'); i > 0 && text[i-1] == '\r' {
		line = "\r\n"
	}
	switch {
	case o.hasValue && c.value != "":
		return splice(text, o.value, c.value), nil
	case o.hasValue && o.inline >= 0:
		return nil, fmt.Errorf("%s.%s stands in braces: take it out by hand", c.table, c.key)
	case o.hasValue:
		return splice(text, span{lineStart(text, o.key.from), lineEnd(text, o.key.to)}, ""), nil
	case c.value == "":
		return text, nil
	case o.inline >= 0:
		comma := ", "
		if o.empty {
			comma = ""
		}
		at := len(bytes.TrimRight(text[:o.inline], " \t"))
		return splice(text, span{at, o.inline}, fmt.Sprintf("%s%s = %s ", comma, c.key, c.value)), nil
	case o.found:
		added := fmt.Sprintf("%s%s = %s%s", o.dotted, c.key, c.value, line)
		if o.after > 0 && text[o.after-1] != '\n' {
			added = line + added
		}
		return splice(text, span{o.after, o.after}, added), nil
	}
	added := fmt.Sprintf("%s[%s]%s%s = %s%s", line, c.table, line, c.key, c.value, line)
	if len(text) > 0 && text[len(text)-1] != '\n' {
		added = line + added
	}
	return append(slices.Clone(text), added...), nil
}

func splice(text []byte, at span, put string) []byte {
	return slices.Concat(text[:at.from], []byte(put), text[at.to:])
}

func lineStart(text []byte, at int) int { return bytes.LastIndexByte(text[:at], '\n') + 1 }

// lineEnd is the place after the line that holds a place.
func lineEnd(text []byte, at int) int {
	if i := bytes.IndexByte(text[at:], '\n'); i >= 0 {
		return at + i + 1
	}
	return len(text)
}

// outlineOf looks for a table and a key in it.
func outlineOf(text []byte, table, key string) (outline, error) {
	o := outline{inline: -1}
	var p unstable.Parser
	p.Reset(text)
	within := "" // the table that an expression stands in; "?" for a nested one
	for p.NextExpression() {
		e := p.Expression()
		keys := keysOf(e)
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			within = "?"
			if len(keys) == 1 && e.Kind == unstable.Table {
				within = string(keys[0].Data)
			}
			if within == table {
				o.found, o.dotted = true, ""
				o.after = lineEnd(text, int(keys[0].Raw.Offset))
			}
		case unstable.KeyValue:
			at := span{int(e.Raw.Offset), int(e.Raw.Offset + e.Raw.Length)}
			switch {
			case within == table:
				o.found, o.after = true, lineEnd(text, at.to)
			case within == "" && len(keys) > 1 && string(keys[0].Data) == table:
				o.found, o.after, o.dotted = true, lineEnd(text, at.to), table+"."
				keys = keys[1:]
			case within == "" && len(keys) == 1 && string(keys[0].Data) == table && e.Value().Kind == unstable.InlineTable:
				o.found = true
				o.braces(text, at, e.Value(), key)
				continue
			default:
				continue
			}
			if len(keys) == 1 && string(keys[0].Data) == key {
				o.key, o.value, o.hasValue = at, valueOf(text, keys[0], at), true
			}
		}
	}
	return o, p.Error()
}

// braces looks into a table written as { ... }.
func (o *outline) braces(text []byte, at span, v *unstable.Node, key string) {
	o.inline, o.empty = at.to-1, true
	for it := v.Children(); it.Next(); {
		if it.Node().Kind != unstable.KeyValue {
			continue
		}
		o.empty = false
		keys := keysOf(it.Node())
		if len(keys) == 1 && string(keys[0].Data) == key {
			r := it.Node().Raw
			o.key = span{int(r.Offset), int(r.Offset + r.Length)}
			o.value, o.hasValue = valueOf(text, keys[0], o.key), true
		}
	}
}

func keysOf(e *unstable.Node) []*unstable.Node {
	var keys []*unstable.Node
	if e.Kind == unstable.Table || e.Kind == unstable.ArrayTable || e.Kind == unstable.KeyValue {
		for it := e.Key(); it.Next(); {
			keys = append(keys, it.Node())
		}
	}
	return keys
}

// valueOf is where the value after a key stands.
func valueOf(text []byte, key *unstable.Node, all span) span {
	from := int(key.Raw.Offset + key.Raw.Length)
	from += bytes.IndexByte(text[from:all.to], '=') + 1
	for from < all.to && (text[from] == ' ' || text[from] == '\t') {
		from++
	}
	to := all.to
	for to > from && bytes.IndexByte([]byte(" \t\r\n"), text[to-1]) >= 0 {
		to--
	}
	return span{from, to}
}
