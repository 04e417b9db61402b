package translate

import (
	"go/ast"
	"go/token"
	"go/types"
	"slices"
	"strings"
)

// declare writes var x = e, var x T, one line each. Constants of a function are
// written where they are used, as numbers.
func (w *writer) declare(s *ast.DeclStmt) {
	d, ok := s.Decl.(*ast.GenDecl)
	if !ok || d.Tok == token.TYPE {
		w.refuse(s.Pos(), "declare it at package level", "a type inside a function")
		return
	}
	if d.Tok == token.CONST {
		return
	}
	for _, spec := range d.Specs {
		vs := spec.(*ast.ValueSpec)
		if len(vs.Names) > 1 && len(vs.Values) > 0 { // C has the first in scope at once
			w.refuse(vs.Pos(), "declare one at a time", "several at once")
			continue
		}
		for i, id := range vs.Names {
			if len(vs.Values) > 0 {
				w.line(w.define(id, vs.Values[i]) + ";")
			} else {
				w.zeroed(id, vs.Type)
			}
			w.notePlace(id)
		}
	}
}

// define writes x := e as T x = e, T being what Go inferred, and const where x is a
// pointer that nothing writes through.
func (w *writer) define(id *ast.Ident, right ast.Expr) string {
	v := w.t.source.info.Defs[id]
	if v == nil || id.Name == "_" {
		w.refuse(id.Pos(), "leave it out", "nothing is declared")
		return ""
	}
	typ := v.Type()
	if _, slice := typ.Underlying().(*types.Slice); slice {
		w.refuse(id.Pos(), "use the slice where it is", "%s is a slice", id.Name)
	}
	w.checkLocal(id, typ)
	text := w.whole(right)
	w.checkShadow(id, right)
	return w.declaration(w.local(id), typ, nil, isAddress(typ) && !w.t.flow.written[v], false) + " = " + text
}

// zeroed writes var x T as T x = 0, or {0}: C leaves what has no value undefined.
func (w *writer) zeroed(id *ast.Ident, syntax ast.Expr) {
	if id.Name == "_" {
		w.refuse(id.Pos(), "leave it out", "nothing is declared")
		return
	}
	typ := w.t.source.info.Defs[id].Type()
	w.checkLocal(id, typ)
	if isAddress(typ) {
		w.refuse(id.Pos(), "give it a value", "%s is declared without one", id.Name)
	}
	w.checkFixedZero(id.Pos(), typ)
	zero := "0"
	switch typ.Underlying().(type) {
	case *types.Array, *types.Struct:
		zero = "{0}"
	}
	if isFloat(typ) {
		zero = "0.0f"
	}
	w.line(w.declaration(w.local(id), typ, syntax, false, false) + " = " + zero + ";")
}

// checkLocal refuses a variable of a type that C has not, or copies otherwise.
func (w *writer) checkLocal(id *ast.Ident, typ types.Type) {
	if isIndex(typ) {
		w.refuse(id.Pos(), "give it a width: int32(...)", "%s is a plain int, which only counts elements", id.Name)
	} else {
		w.t.checkType(id.Pos(), typ)
	}
	if isGrid(typ) {
		w.refuse(id.Pos(), "pass it to a function, or index the whole", "%s is a pointer to an array of arrays", id.Name)
	}
	if !isAddress(typ) && holdsSlice(typ) {
		w.refuse(id.Pos(), "use it where it is, by a pointer", "%s would copy a struct that holds slices", id.Name)
	}
}

// checkShadow refuses x := f(x), x being another: in C the new x is in scope at
// once.
func (w *writer) checkShadow(id *ast.Ident, right ast.Expr) {
	ast.Inspect(right, func(n ast.Node) bool {
		if other, ok := n.(*ast.Ident); ok && other != id {
			if v := w.t.variableOf(other); v != nil && !v.IsField() && snake(v.Name()) == snake(id.Name) {
				w.refuse(id.Pos(), "rename the new one", "%s hides the variable of that name that its value uses", id.Name)
			}
		}
		return true
	})
}

// local is the name of a variable in C. Its scope is the same block as in Go, so
// that one name may serve several; two names of Go never meet in one of C.
func (w *writer) local(e *ast.Ident) string { return w.nameLocal(e.Name, e.Pos()) }

func (w *writer) nameLocal(goName string, at token.Pos) string {
	name := spared(snake(goName))
	if other, ok := w.names[name]; ok && other != goName {
		w.refuse(at, "rename one", "%s and %s are both %s in C", goName, other, name)
	}
	w.names[name] = goName
	return name
}

// ownName is a name that the translator makes up; the source may have no variable
// that is called so in C.
func (w *writer) ownName(name string, at token.Pos) string {
	own := name + " of the translator"
	if other, ok := w.names[name]; ok && other != own {
		w.refuse(at, "rename the variable", "%s is %s in C, which the loop needs", other, name)
	}
	w.names[name] = own
	return name
}

// checkLocalsAgainstCalls refuses a variable that hides a function called, a table
// or a helper.
func (w *writer) checkLocalsAgainstCalls() {
	for name, m := range w.called {
		if goName, ok := w.names[name]; ok {
			w.refuse(m.at, "rename the variable", "variable %s hides %s %s in C", goName, m.kind, name)
		}
	}
}

// notePlace remembers behind which line a variable was declared.
func (w *writer) notePlace(e ast.Expr) {
	id, ok := e.(*ast.Ident)
	if !ok {
		return
	}
	if v := w.t.source.info.Defs[id]; v != nil {
		w.places[v] = place{line: len(w.lines), depth: w.depth}
	}
}

// silence marks variables that nothing reads, as folding leaves some: a
// compiler would warn.
func (w *writer) silence() {
	type mark struct {
		place
		name string
	}
	var marks []mark
	for v, p := range w.places {
		if !w.read[v] && v.Name() != "_" {
			marks = append(marks, mark{p, spared(snake(v.Name()))})
		}
	}
	slices.SortFunc(marks, func(a, b mark) int { return b.line - a.line })
	for _, m := range marks {
		w.lines = slices.Insert(w.lines, m.line, strings.Repeat("\t", m.depth)+"(void)"+m.name+";")
	}
}
