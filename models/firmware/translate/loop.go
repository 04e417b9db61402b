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
			w.watchCopy(a.Lhs[0], s.Body)
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

// watchCopy refuses the address of a three-clause loop's variable: Go has one
// a round, C one a loop.
func (w *writer) watchCopy(e ast.Expr, body *ast.BlockStmt) {
	id, ok := e.(*ast.Ident)
	if !ok {
		return
	}
	v := w.t.source.info.Defs[id]
	ast.Inspect(body, func(n ast.Node) bool {
		if u, ok := n.(*ast.UnaryExpr); ok && u.Op == token.AND {
			if x := w.t.variableOf(u.X); x != nil && x == v {
				w.refuse(u.Pos(), "copy it to a variable", "the address of a loop's variable %s", id.Name)
			}
		}
		return true
	})
}
