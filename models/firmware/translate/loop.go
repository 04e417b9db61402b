package translate

import (
	"go/ast"
	"go/token"
)

// fors writes for {} as for (;;), for cond {} as while (cond), and three clauses as
// they are. The condition may be a call that writes: it is evaluated before each
// round in both languages, and alone.
func (w *writer) fors(s *ast.ForStmt) {
	if s.Init == nil && s.Post == nil {
		head := "for (;;)"
		if s.Cond != nil {
			head = "while (" + w.wholeCondition(s.Cond) + ")"
		}
		w.braces(head, s.Body)
		return
	}
	init, cond, post := "", "", ""
	if s.Init != nil {
		init = w.simple(s.Init)
		if a, ok := s.Init.(*ast.AssignStmt); ok && a.Tok == token.DEFINE {
			w.perRound(a.Lhs[0])
		}
	}
	if s.Cond != nil {
		cond = " " + w.wholeCondition(s.Cond)
	}
	if s.Post != nil {
		post = " " + w.simple(s.Post)
	}
	w.braces("for ("+init+";"+cond+";"+post+")", s.Body)
}

// perRound marks the variable of a loop with three clauses: Go has one a round, C one
// a loop, which shows only by its address, or that of a part of it.
func (w *writer) perRound(e ast.Expr) {
	id, ok := e.(*ast.Ident)
	if !ok || w.t.source.info.Defs[id] == nil {
		return
	}
	v := w.t.source.info.Defs[id]
	w.copied[v] = true
	if !isScalar(v.Type()) {
		w.refuse(id.Pos(), "count in a number", "%s, which counts the loop, is none", id.Name)
	}
}
