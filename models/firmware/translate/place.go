package translate

import (
	"go/ast"
	"go/types"
	"strings"
)

// selector writes a field: x.f of a struct, p->f through a pointer, and table.f of
// what a global in C holds.
func (w *writer) selector(e *ast.SelectorExpr) string {
	f := w.t.fieldOf(e)
	if f == nil {
		w.refuse(e.Pos(), "use fields of the translated structs", "%s is no field", e.Sel.Name)
		return "0"
	}
	w.fieldUse(f)
	if g := w.globalOf(e.X); g != "" {
		w.typeUseOf(w.typeOf(e.X))
		return g + "." + f.name
	}
	if star, ok := ast.Unparen(e.X).(*ast.StarExpr); ok {
		return w.in(star.X, precPostfix) + "->" + f.name
	}
	base := w.in(e.X, precPostfix)
	if isPointer(w.typeOf(e.X)) {
		return base + "->" + f.name
	}
	return base + "." + f.name
}

// globalOf is the global memory that an expression points to, "" where it is
// not known. C does without what the expression goes through.
func (w *writer) globalOf(e ast.Expr) string {
	f := w.t.fieldOf(e)
	if f == nil || f.global == "" {
		return ""
	}
	w.checkUnmade(e)
	name, _, _ := strings.Cut(f.global, ".")
	w.called[name] = mention{e.Pos(), "global"}
	return f.global
}

// checkUnmade refuses a call that writes in an expression that C does not evaluate.
func (w *writer) checkUnmade(e ast.Expr) {
	ast.Inspect(e, func(n ast.Node) bool {
		if c, ok := n.(*ast.CallExpr); ok && w.t.writes(c) {
			w.refuse(e.Pos(), "make it before, and keep the result in a variable", "a call is not made in C")
		}
		return true
	})
}

// fieldUse notes that C needs a field, and so its struct.
func (w *writer) fieldUse(f *field) {
	w.use.types[f.owner] = true
	w.use.fields[f] = true
}

// typeUseOf notes the type that a pointer points to.
func (w *writer) typeUseOf(typ types.Type) {
	if p, ok := typ.Underlying().(*types.Pointer); ok {
		w.typeName(p.Elem())
	}
}

// index writes a[i], also for Go's (*p)[i]: a pointer to an array is one to its
// first element in C. Any integer may index, and keeps its width. Go stops at an
// index outside; C goes on, so that the author excludes it as he does overflow.
func (w *writer) index(e *ast.IndexExpr) string {
	base := ast.Unparen(e.X)
	if star, ok := base.(*ast.StarExpr); ok {
		base = star.X
	}
	if _, ok := base.(*ast.CallExpr); ok {
		w.refuse(e.Pos(), "keep it in a variable first", "the result of a call is indexed")
	}
	if under := w.typeOf(base).Underlying(); elementOf(under) == nil {
		w.refuse(e.Pos(), "index an array", "an index on %s", under)
	}
	i, _ := w.expr(e.Index)
	return w.in(base, precPostfix) + "[" + i + "]"
}

// address writes &x; of an array its name, which is its address in C. How long x
// lives is checked by the flow of pointers.
func (w *writer) address(e *ast.UnaryExpr) string {
	switch x := ast.Unparen(e.X).(type) {
	case *ast.Ident:
		if v := w.t.variableOf(x); w.looping[v] || w.copied[v] {
			w.refuse(e.Pos(), "copy it to a variable", "the address of a loop's variable %s", x.Name)
		}
		if w.tableOf(x) != nil {
			w.refuse(e.Pos(), "index the table, or pass it as a slice", "the address of table %s", x.Name)
		}
	case *ast.SelectorExpr:
		if f := w.t.fieldOf(x); f != nil && w.isFixed(f) {
			w.refuse(e.Pos(), "copy it to a variable", "the address of fixed field %s", x.Sel.Name)
			return "0"
		}
	case *ast.IndexExpr:
	default:
		w.refuse(e.Pos(), "take the address of a variable, field or element", "the address of an expression")
	}
	text := w.in(e.X, precUnary)
	if isArray(w.typeOf(e.X)) {
		return text
	}
	if isAddress(w.typeOf(e.X)) {
		w.refuse(e.Pos(), "point to the thing itself", "the address of a pointer or slice")
	}
	return "&" + text
}

// literal writes a struct by its fields: T{x: 1} becomes (t_t){.x = 1}. What is not
// named is 0 in both languages. C leaves the order of the fields' values open; none
// of them writes.
func (w *writer) literal(e *ast.CompositeLit) string {
	typ := w.typeOf(e)
	if _, ok := typ.Underlying().(*types.Struct); !ok {
		w.refuse(e.Pos(), "declare it with var and fill it", "a literal of %s", typ)
		return "0"
	}
	return "(" + w.typeName(typ) + ")" + w.fieldValues(e)
}

// fieldValues writes a struct literal's fields in braces, without fixed ones.
func (w *writer) fieldValues(e *ast.CompositeLit) string {
	if holdsSlice(w.typeOf(e)) {
		w.refuse(e.Pos(), "set its fields one by one", "a literal of a struct that holds slices")
	}
	w.checkFixedLiteral(e)
	var parts []string
	for _, el := range e.Elts {
		kv, ok := el.(*ast.KeyValueExpr)
		if !ok {
			w.refuse(el.Pos(), "name the fields", "a literal without field names")
			continue
		}
		f := w.t.fieldOf(kv.Key)
		if f == nil {
			continue // of a struct that was refused
		}
		if w.isFixed(f) && w.folding && !f.owner.whole {
			continue
		}
		if f.readOnly {
			w.refuse(kv.Pos(), "set it in a file that is not translated", "pointer %s is set", f.object.Name())
		}
		w.use.fields[f] = true
		parts = append(parts, "."+f.name+" = "+w.value(kv.Value))
	}
	if len(parts) == 0 {
		return "{0}"
	}
	return "{" + strings.Join(parts, ", ") + "}"
}
