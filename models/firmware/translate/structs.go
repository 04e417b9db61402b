package translate

import (
	"go/types"
	"maps"
	"slices"
	"strings"
)

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
		w.comment(f.syntax.Doc)
		w.line(w.fieldText(f) + ";")
		w.lineComment(f.syntax.Comment)
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
