package translate

import (
	"maps"
	"slices"
	"strings"
)

// piece is one function in C.
type piece struct {
	f    *function
	text string
	head string
	use  *uses
}

// write writes what the public functions reach.
func (t *translator) write() *Result {
	pieces := t.reach()
	all := newUses()
	for _, p := range pieces {
		all.add(p.use)
	}
	tables := t.tablesOf(all)
	outer := t.publicTypes(pieces)
	t.closeTypes(all)
	out := &Result{Fields: map[string][]string{}, Math: all.math}
	out.Header = t.header(all, outer, pieces, out)
	out.Code = t.code(all, outer, pieces, tables)
	out.Macros = slices.Sorted(maps.Keys(all.macros))
	return out
}

func (u *uses) add(o *uses) {
	maps.Copy(u.constants, o.constants)
	maps.Copy(u.sizes, o.sizes)
	maps.Copy(u.tables, o.tables)
	maps.Copy(u.types, o.types)
	maps.Copy(u.fields, o.fields)
	maps.Copy(u.macros, o.macros)
	maps.Copy(u.extremes, o.extremes)
	u.signs = u.signs || o.signs
	u.math = u.math || o.math
}

// reach writes the public functions and all that they call, callees first, else
// in the order of the source.
func (t *translator) reach() []*piece {
	written := map[*function]*piece{}
	var need func(f *function)
	need = func(f *function) {
		if written[f] != nil {
			return
		}
		w := t.newWriter(f, true)
		w.function()
		h := t.newWriter(f, true)
		written[f] = &piece{f: f, text: w.text(), head: h.head(), use: w.use}
		for _, g := range w.use.functions {
			need(g)
		}
	}
	for _, f := range t.order {
		if f.public {
			need(f)
		}
	}
	var out []*piece
	placed := map[*function]bool{}
	var place func(f *function)
	place = func(f *function) {
		if written[f] == nil || placed[f] {
			return
		}
		placed[f] = true
		for _, g := range t.order {
			if slices.Contains(written[f].use.functions, g) {
				place(g)
			}
		}
		out = append(out, written[f])
	}
	for _, f := range t.order {
		place(f)
	}
	return out
}

// tablesOf writes the tables used, in the order of the source.
func (t *translator) tablesOf(all *uses) string {
	var b strings.Builder
	list := slices.SortedFunc(maps.Keys(all.tables), func(a, b *table) int { return int(a.object.Pos() - b.object.Pos()) })
	for _, d := range list {
		w := t.newWriter(nil, true)
		w.table(d)
		all.add(w.use)
		b.WriteString(w.text() + "\n")
	}
	return b.String()
}

// header writes constants, types and prototypes for the callers.
func (t *translator) header(all *uses, outer map[*typeDecl]bool, pieces []*piece, out *Result) string {
	var b strings.Builder
	for _, m := range slices.Sorted(maps.Keys(all.macros)) {
		b.WriteString("#if !defined(" + m + ") || " + m + " < 1 || " + m + " > 32767\n#error \"" + m + " must be a number of elements, 1 to 32767\"\n#endif\n")
	}
	if len(all.macros) > 0 {
		b.WriteString("\n")
	}
	b.WriteString(t.constantsText(all, true))
	b.WriteString(t.typesText(all, outer, true, out))
	for _, p := range pieces {
		if !p.f.public {
			continue
		}
		w := t.newWriter(p.f, true)
		w.comment(p.f.decl.Doc)
		w.line(p.head + ";")
		b.WriteString(w.text() + "\n")
	}
	return b.String()
}

// code writes what the header leaves out.
func (t *translator) code(all *uses, outer map[*typeDecl]bool, pieces []*piece, tables string) string {
	var b strings.Builder
	if all.signs {
		name := join(t.program.Prefix, "signed_numbers")
		b.WriteString("// Signed numbers are of two's complement, and shift to the right by their sign.\n")
		b.WriteString("typedef char " + name + "[(-1 >> 1) == -1 && (int32_t)0xffffffffu == -1 ? 1 : -1];\n\n")
	}
	b.WriteString(t.constantsText(all, false))
	b.WriteString(t.typesText(all, outer, false, nil))
	b.WriteString(tables)
	for _, name := range slices.Sorted(maps.Keys(all.extremes)) {
		typ := all.extremes[name]
		op := "<"
		if strings.HasPrefix(name, "max") {
			op = ">"
		}
		b.WriteString("static " + typ + " " + name + "(" + typ + " a, " + typ + " b)\n{\n\treturn a " + op + " b ? a : b;\n}\n\n")
	}
	for _, p := range pieces {
		b.WriteString(p.text + "\n")
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// constantsText writes the constants for the header or the code, group by
// group.
func (t *translator) constantsText(all *uses, header bool) string {
	var list []*constDecl
	for _, c := range t.constants {
		inHeader := c.whole || all.sizes[c]
		if (c.whole || all.constants[c]) && inHeader == header {
			list = append(list, c)
		}
	}
	slices.SortFunc(list, func(a, b *constDecl) int { return int(a.object.Pos() - b.object.Pos()) })
	var b strings.Builder
	for i, c := range list {
		w := t.newWriter(nil, true)
		if c.group != nil && (i == 0 || list[i-1].group != c.group) {
			if i > 0 {
				w.line("")
			}
			w.comment(c.group)
		}
		w.constantText(c)
		b.WriteString(w.text())
	}
	if len(list) > 0 {
		b.WriteString("\n")
	}
	return b.String()
}
