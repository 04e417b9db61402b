package translate

import (
	"go/constant"
	"go/types"
	"maps"
	"slices"
	"strings"
)

func int64Of(c *types.Const) (int64, bool) { return constant.Int64Val(constant.ToInt(c.Val())) }

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

// publicTypes are the types that a caller of the public functions must see.
func (t *translator) publicTypes(pieces []*piece) map[*typeDecl]bool {
	out := map[*typeDecl]bool{}
	var see func(typ types.Type)
	see = func(typ types.Type) {
		switch typ := typ.(type) {
		case *types.Pointer:
			see(typ.Elem())
		case *types.Slice:
			see(typ.Elem())
		case *types.Array:
			see(typ.Elem())
		case *types.Named:
			d, ok := t.structs[typ.Obj()]
			if !ok || out[d] {
				return
			}
			out[d] = true
			if st, ok := typ.Underlying().(*types.Struct); ok {
				for f := range st.Fields() {
					see(f.Type())
				}
			}
		}
	}
	for _, p := range pieces {
		if !p.f.public {
			continue
		}
		s := p.f.object.Signature()
		if r := s.Recv(); r != nil {
			see(r.Type())
		}
		for v := range s.Params().Variables() {
			see(v.Type())
		}
		for v := range s.Results().Variables() {
			see(v.Type())
		}
	}
	return out
}

// kept are the fields of a struct that are written, in order.
func (t *translator) kept(d *typeDecl, all *uses) []*field {
	st, ok := d.object.Type().Underlying().(*types.Struct)
	if !ok {
		return nil
	}
	var out []*field
	for v := range st.Fields() {
		f := t.fields[v]
		if f == nil {
			continue
		}
		if _, fixed := t.fixed[v]; fixed && !d.whole {
			continue
		}
		if d.whole || all.fields[f] {
			out = append(out, f)
		}
	}
	return out
}

// closeTypes adds the types, constants and macros that the kept fields need.
func (t *translator) closeTypes(all *uses) {
	for size := -1; size != len(all.types); {
		size = len(all.types)
		for _, d := range slices.Collect(maps.Keys(all.types)) {
			w := t.newWriter(nil, true)
			w.typeText(d, t.kept(d, all))
			all.add(w.use)
		}
	}
}

// typeText writes a type's definition.
func (w *writer) typeText(d *typeDecl, fields []*field) {
	w.comment(d.doc)
	if b, ok := d.object.Type().Underlying().(*types.Basic); ok {
		w.line("typedef " + basic(b) + " " + d.name + ";")
		return
	}
	w.line("typedef struct {")
	w.depth++
	for _, f := range fields {
		if f.syntax.Doc != nil {
			w.comment(f.syntax.Doc)
		}
		w.line(w.fieldText(f) + ";")
		if c := f.syntax.Comment; c != nil && len(c.List) == 1 && strings.HasPrefix(c.List[0].Text, "//") {
			w.lines[len(w.lines)-1] += " " + mended(c.List[0].Text)
		}
	}
	if len(fields) == 0 {
		w.line("uint8_t unused; // C has no empty struct")
	}
	w.depth--
	w.line("} " + d.name + ";")
}

func (w *writer) fieldText(f *field) string {
	typ := f.object.Type()
	if s, ok := typ.(*types.Slice); ok {
		w.use.macros[f.macro] = true
		name := f.name + "[" + f.macro + "]"
		return w.declaration(name, s.Elem(), elementSyntax(f.syntax.Type), false, false)
	}
	return w.declaration(f.name, typ, f.syntax.Type, f.readOnly, false)
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

// typesText writes the types for the header or the code, what they need first.
func (t *translator) typesText(all *uses, outer map[*typeDecl]bool, header bool, out *Result) string {
	list := slices.SortedFunc(maps.Keys(all.types), func(a, b *typeDecl) int { return int(a.object.Pos() - b.object.Pos()) })
	var b strings.Builder
	done := map[*typeDecl]bool{}
	var place func(d *typeDecl)
	place = func(d *typeDecl) {
		if done[d] {
			return
		}
		done[d] = true
		fields := t.kept(d, all)
		w := t.newWriter(nil, true)
		w.typeText(d, fields)
		for _, o := range list {
			if w.use.types[o] && o != d {
				place(o)
			}
		}
		if outer[d] == header {
			b.WriteString(w.text() + "\n")
		}
		if out != nil {
			names := []string{}
			for _, f := range fields {
				names = append(names, f.object.Name())
			}
			out.Fields[d.key] = names
		}
	}
	for _, d := range list {
		place(d)
	}
	return b.String()
}
