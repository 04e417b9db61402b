package rig

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/agnivade/levenshtein"
	"github.com/pelletier/go-toml/v2/unstable"
)

// position is a place in the file, from 1.
type position struct{ line, col int }

// scanned is what a rig file's keys say before its values are read: where
// each key stands, and which are unknown or hold a value of the wrong type.
type scanned struct {
	at     map[string]unstable.Range // by key path ("bag.mass_kg", "bands[1].to_m")
	parser *unstable.Parser          // that read it
	wrong  map[string]bool           // paths whose value has the wrong type
	faults []*Fault                  // the first maxFaults
	more   int                       // faults beyond those
}

func (s *scanned) has(path string) bool { _, ok := s.at[path]; return ok }

// spoilt tells whether the value at a path, a part of it, or what it is a part
// of has the wrong type, so that nothing can be said about it.
func (s *scanned) spoilt(path string) bool {
	for w := range s.wrong {
		if w == path || within(w, path) || within(path, w) {
			return true
		}
	}
	return false
}

// within tells whether a path lies inside another one.
func within(path, outer string) bool {
	rest, ok := strings.CutPrefix(path, outer)
	return ok && rest != "" && (rest[0] == '.' || rest[0] == '[')
}

// position returns where a path stands or, if it is missing, the nearest
// table around it; the file's start for want of any.
func (s *scanned) position(path string) position {
	for {
		if at, ok := s.at[path]; ok {
			return s.where(at)
		}
		i := strings.LastIndexAny(path, ".[")
		if i < 0 {
			return position{1, 1}
		}
		path = path[:i]
	}
}

// scan compares the keys of a file with the fields of Rig. It stops at broken
// TOML, which decoding reports.
func scan(data []byte) *scanned {
	p := new(unstable.Parser)
	p.Reset(data)
	s := &scanned{at: map[string]unstable.Range{}, parser: p, wrong: map[string]bool{}}
	w := walker{scanned: s, elements: map[string]int{}}
	root := reflect.TypeFor[Rig]()
	table, tableType := "", root
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table, unstable.ArrayTable:
			table, tableType = w.header(e, root)
		case unstable.KeyValue:
			w.keyValue(e, table, tableType)
		}
	}
	return s
}

// walker goes through one file's expressions.
type walker struct {
	*scanned
	elements map[string]int // of lists written as [[table]], by path
}

// header enters a [table] or [[table]]. For one that is unknown the type is
// nil, which keeps its keys from being complained about one by one.
func (w *walker) header(e *unstable.Node, root reflect.Type) (string, reflect.Type) {
	var keys []*unstable.Node
	for it := e.Key(); it.Next(); {
		keys = append(keys, it.Node())
	}
	path, t := "", root
	for i, key := range keys {
		path, t = w.descend(key, path, t)
		if t == nil {
			return path, nil
		}
		isList := t.Kind() == reflect.Slice
		last := i == len(keys)-1
		switch {
		case last && e.Kind == unstable.ArrayTable && isList:
			n := w.elements[path]
			w.elements[path]++
			path, t = fmt.Sprintf("%s[%d]", path, n), t.Elem()
			w.at[path] = key.Raw
		case isList || last && e.Kind == unstable.ArrayTable || t.Kind() != reflect.Struct:
			got := "a table"
			if last && e.Kind == unstable.ArrayTable {
				got = "a list of tables"
			}
			w.mistyped(key, path, t, got)
			return path, nil
		}
	}
	return path, t
}

// keyValue looks at key = value in a table.
func (w *walker) keyValue(e *unstable.Node, table string, t reflect.Type) {
	path, key := table, (*unstable.Node)(nil)
	for it := e.Key(); it.Next(); {
		if t == nil {
			return
		}
		if key != nil && t.Kind() != reflect.Struct {
			w.mistyped(key, path, t, "a table")
			return
		}
		key = it.Node()
		path, t = w.descend(key, path, t)
	}
	if t != nil {
		w.value(e.Value(), key, path, t)
	}
}

// descend follows one key into a struct type and notes where it stands. The
// type is nil for an unknown key, which is complained about.
func (w *walker) descend(key *unstable.Node, path string, t reflect.Type) (string, reflect.Type) {
	name := string(key.Data)
	full := name
	if path != "" {
		full = path + "." + name
	}
	if t == nil || t.Kind() != reflect.Struct {
		return full, nil
	}
	if _, ok := w.at[full]; !ok {
		w.at[full] = key.Raw
	}
	known := make([]string, 0, t.NumField())
	for i := range t.NumField() {
		tag, _, _ := strings.Cut(t.Field(i).Tag.Get("toml"), ",")
		if tag == name {
			ft := t.Field(i).Type
			if ft.Kind() == reflect.Pointer {
				ft = ft.Elem()
			}
			return full, ft
		}
		known = append(known, tag)
	}
	if len(w.faults) == maxFaults {
		w.more++ // what was meant is not looked for
		return full, nil
	}
	mend := "known here are " + strings.Join(known, ", ")
	if c := closest(name, known); c != "" {
		mend = fmt.Sprintf("did you mean %s?", c)
	}
	w.fault(key, fmt.Sprintf("unknown key %q", full), mend)
	return full, nil
}

// value looks at the type of a value; key is where to complain.
func (w *walker) value(v, key *unstable.Node, path string, t reflect.Type) {
	ok := false
	switch t.Kind() {
	case reflect.String:
		ok = v.Kind == unstable.String
	case reflect.Int:
		ok = v.Kind == unstable.Integer
	case reflect.Float64:
		ok = v.Kind == unstable.Integer || v.Kind == unstable.Float
	case reflect.Slice:
		if ok = v.Kind == unstable.Array; ok {
			n := 0
			for it := v.Children(); it.Next(); n++ {
				sub, at := fmt.Sprintf("%s[%d]", path, n), key
				if it.Node().Raw.Length > 0 { // lists have no place of their own
					at = it.Node()
				}
				w.at[sub] = at.Raw
				w.value(it.Node(), at, sub, t.Elem())
			}
		}
	case reflect.Struct:
		if ok = v.Kind == unstable.InlineTable; ok {
			for it := v.Children(); it.Next(); {
				w.keyValue(it.Node(), path, t)
			}
		}
	}
	if !ok {
		w.mistyped(key, path, t, describe(v.Kind))
	}
}

func (w *walker) mistyped(key *unstable.Node, path string, t reflect.Type, got string) {
	want := map[reflect.Kind]string{
		reflect.String:  "text in double quotes",
		reflect.Int:     "a whole number",
		reflect.Float64: "a number",
		reflect.Slice:   "a list in square brackets",
		reflect.Struct:  "a table",
	}[t.Kind()]
	w.wrong[path] = true
	w.fault(key, fmt.Sprintf("%s is %s", path, got), "write "+want)
}

func (w *walker) fault(at *unstable.Node, what, mend string) {
	if len(w.faults) == maxFaults {
		w.more++
		return
	}
	p := w.where(at.Raw)
	w.faults = append(w.faults, &Fault{Line: p.line, Col: p.col, What: what, Mend: mend})
}

// where turns a place in the file into line and column, which means counting from
// its start: too slow to do for every key.
func (s *scanned) where(at unstable.Range) position {
	p := s.parser.Shape(at).Start
	return position{p.Line, p.Column}
}

func describe(k unstable.Kind) string {
	switch k {
	case unstable.String:
		return "text"
	case unstable.Bool:
		return "true or false"
	case unstable.Integer, unstable.Float:
		return "a number"
	case unstable.Array:
		return "a list"
	case unstable.InlineTable, unstable.Table, unstable.ArrayTable:
		return "a table"
	}
	return "a date or time"
}

// closest returns the known word that a mistyped one most likely means, or ""
// where none is near.
func closest(word string, known []string) string {
	if len(known) == 0 || len(word) > 100 {
		return ""
	}
	best := slices.MinFunc(known, func(a, b string) int {
		return levenshtein.ComputeDistance(word, a) - levenshtein.ComputeDistance(word, b)
	})
	if d := levenshtein.ComputeDistance(word, best); d > max(2, len(best)/3) || d >= len(best) {
		return ""
	}
	return best
}

// remove takes the value at a path out of a decoded tree; with an element of a
// list goes the whole list.
func remove(tree map[string]any, path string) {
	at := tree
	keys := strings.Split(path, ".")
	for _, key := range keys[:len(keys)-1] {
		name, index, isElement := cutIndex(key)
		next := at[name]
		if list, ok := next.([]any); ok && isElement && index < len(list) {
			next = list[index]
		}
		table, ok := next.(map[string]any)
		if !ok {
			return
		}
		at = table
	}
	name, _, _ := cutIndex(keys[len(keys)-1])
	delete(at, name)
}

// cutIndex splits "bands[1]" into its name and index.
func cutIndex(key string) (name string, index int, ok bool) {
	name, rest, ok := strings.Cut(key, "[")
	if !ok {
		return key, 0, false
	}
	index, err := strconv.Atoi(strings.TrimSuffix(rest, "]"))
	return name, index, err == nil
}
