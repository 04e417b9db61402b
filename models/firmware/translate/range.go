package translate

import (
	"fmt"
	"go/ast"
	"go/token"
	"go/types"
)

// ranges writes a loop over a count, for i := range n, or over an array or a sized
// field, for i, v := range a. Go evaluates what is ranged over once, and copies an
// array whose values are asked for; C evaluates in each round. So a count that is no
// constant is kept in a variable of its own, and where values are asked for, the
// body may not write to memory.
func (w *writer) ranges(s *ast.RangeStmt) {
	if s.Tok == token.ASSIGN {
		w.refuse(s.Pos(), "declare it in the loop with :=", "a loop over a variable from outside")
		return
	}
	key, _ := s.Key.(*ast.Ident)
	name := w.counter(s, key)
	w.noteRounds(key, s.X)
	for _, e := range []ast.Expr{s.Key, s.Value} {
		if id, ok := e.(*ast.Ident); ok && id.Name != "_" {
			w.checkShadow(id, s.X)
		}
	}
	typ := w.typeOf(s.X)
	if isInteger(typ) {
		w.rangeCount(s, name, typ)
		return
	}
	if elementOf(typ) == nil {
		w.refuse(s.X.Pos(), "range over a count or an array", "a loop over %s", typ)
		return
	}
	w.nested(counting("int_fast16_t", name, "", w.length(s.X)), func() {
		w.commentBehind(s.Body.Lbrace)
		w.element(s, name)
		w.block(s.Body.List, s.Body.Rbrace)
	})
}

// rangeCount writes a loop over a count: for i := range n, i being of n's type,
// becomes for (T i = 0, i_end = n; i < i_end; i++). A plain int counts elements of
// something, 32767 at most.
func (w *writer) rangeCount(s *ast.RangeStmt, name string, typ types.Type) {
	if isIndex(typ) && !w.isLength(s.X) {
		w.refuse(s.X.Pos(), "give it a width: range int32(8)", "a count that is a plain int")
	}
	end, _ := w.expr(s.X)
	before := ""
	if w.fold(s.X) == nil && !isIndex(typ) {
		last := w.ownName(name+"_end", s.Pos())
		before, end = ", "+last+" = "+end, last
	}
	w.braces(counting(w.typeName(typ), name, before, end), s.Body)
}

// counting is the head of a loop from 0 to below end. Before is what is declared
// beside the counter.
func counting(typ, name, before, end string) string {
	return fmt.Sprintf("for (%s %s = 0%s; %s < %s; %s++)", typ, name, before, name, end, name)
}

// counter is the name of what counts a loop.
func (w *writer) counter(s *ast.RangeStmt, key *ast.Ident) string {
	if key == nil || key.Name == "_" {
		w.counters++
		return w.ownName(fmt.Sprintf("round%d", w.counters), s.Pos())
	}
	w.looping[w.t.source.info.Defs[key]] = true
	return w.local(key)
}

// noteRounds remembers how often a loop of constant length runs.
func (w *writer) noteRounds(key *ast.Ident, e ast.Expr) {
	if key == nil {
		return
	}
	v := w.t.source.info.Defs[key]
	if c := w.t.constantOf(e); c != nil {
		if n, exact := int64Of(c); exact {
			w.rounds[v] = n
		}
	}
	if a, ok := w.typeOf(e).Underlying().(*types.Array); ok {
		w.rounds[v] = a.Len()
	}
}

// element declares the value of a range loop, a constant of the round.
func (w *writer) element(s *ast.RangeStmt, index string) {
	id, ok := s.Value.(*ast.Ident)
	if !ok || id.Name == "_" {
		return
	}
	v := w.t.source.info.Defs[id]
	if isArray(v.Type()) || isAddress(v.Type()) {
		w.refuse(id.Pos(), "range over the indexes", "an array is copied each round")
	}
	w.checkLocal(id, v.Type())
	w.looping[v] = true
	w.checkStill(id, s)
	w.checkRedeclared(id, s.Body)
	w.line(w.declaration(w.local(id), v.Type(), nil, true, false) + " = " + w.in(s.X, precPostfix) + "[" + index + "];")
	w.notePlace(id)
}

// checkStill refuses a loop over values whose body changes them, or which array
// they are of.
func (w *writer) checkStill(id *ast.Ident, s *ast.RangeStmt) {
	if w.tableOf(s.X) == nil && w.storesIn(s.Body) {
		w.refuse(id.Pos(), "range over the indexes: Go copies the array first, C does not", "a loop over values whose body writes to memory")
	}
	ast.Inspect(s.X, func(n ast.Node) bool {
		if x, ok := n.(*ast.Ident); ok && w.t.variableOf(x) != nil && w.assigns(s.Body, w.t.variableOf(x)) {
			w.refuse(id.Pos(), "range over the indexes: Go finds the array once, C in each round", "a loop over values whose body changes %s", x.Name)
		}
		return true
	})
}

// checkRedeclared refuses a variable of the body that is called as the value: in C
// both are of one block.
func (w *writer) checkRedeclared(id *ast.Ident, body *ast.BlockStmt) {
	for _, s := range body.List {
		for _, x := range declared(s) {
			if snake(x.Name) == snake(id.Name) {
				w.refuse(x.Pos(), "rename it", "%s stands for the loop's value in this block of C", x.Name)
			}
		}
	}
}

// assigns reports whether statements assign a variable.
func (w *writer) assigns(body *ast.BlockStmt, v *types.Var) bool {
	found := false
	ast.Inspect(body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.AssignStmt:
			found = found || w.t.variableOf(n.Lhs[0]) == v
		case *ast.IncDecStmt:
			found = found || w.t.variableOf(n.X) == v
		}
		return true
	})
	return found
}

// storesIn reports whether a loop's body stores to more than scalar variables.
func (w *writer) storesIn(body *ast.BlockStmt) bool {
	found := false
	ast.Inspect(body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.AssignStmt:
			v := w.t.variableOf(n.Lhs[0])
			found = found || n.Tok != token.DEFINE && (v == nil || !isScalar(v.Type()))
		case *ast.IncDecStmt:
			found = found || w.t.variableOf(n.X) == nil
		case *ast.CallExpr:
			found = found || w.t.writes(n)
		}
		return true
	})
	return found
}
