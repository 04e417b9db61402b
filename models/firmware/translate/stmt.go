package translate

import (
	"go/ast"
	"go/token"
	"strings"
)

// block writes statements, with the comments before and behind them.
func (w *writer) block(list []ast.Stmt, end token.Pos) {
	for _, s := range list {
		w.commentsBefore(s.Pos())
		w.stmt(s)
		w.commentBehind(s.End())
	}
	w.commentsBefore(end)
}

// nested writes a head with an opening brace, what fill writes, one deeper, and
// the closing brace.
func (w *writer) nested(head string, fill func()) {
	w.line(strings.TrimSpace(head + " {"))
	w.depth++
	fill()
	w.depth--
	w.line("}")
}

// braces writes a block with its braces behind a head.
func (w *writer) braces(head string, b *ast.BlockStmt) {
	w.nested(head, func() {
		w.commentBehind(b.Lbrace)
		w.block(b.List, b.Rbrace)
	})
}

// stmt writes one statement. Each of Go's that is taken has one in C that does the
// same in the same order; what C writes alike and means otherwise is told where it
// is written.
func (w *writer) stmt(s ast.Stmt) {
	switch s := s.(type) {
	case *ast.AssignStmt, *ast.IncDecStmt, *ast.ExprStmt:
		w.simpleLine(s)
	case *ast.DeclStmt:
		w.declare(s)
	case *ast.ReturnStmt:
		w.returns(s)
	case *ast.IfStmt:
		w.ifs(s, "")
	case *ast.ForStmt:
		w.fors(s)
	case *ast.RangeStmt:
		w.ranges(s)
	case *ast.SwitchStmt:
		w.switches(s)
	case *ast.BlockStmt:
		w.nested("", func() { w.block(s.List, s.Rbrace) })
	case *ast.BranchStmt:
		if s.Label != nil || s.Tok != token.BREAK && s.Tok != token.CONTINUE {
			w.refuse(s.Pos(), "write it as a function with return", "%s", s.Tok)
			return
		}
		w.line(s.Tok.String() + ";")
	case *ast.EmptyStmt:
	default:
		w.refuse(s.Pos(), "use if, for and switch", "a statement that has no C here (%T)", s)
	}
}

// simpleLine writes a simple statement as a line.
func (w *writer) simpleLine(s ast.Stmt) {
	if text := w.simple(s); text != "" {
		w.line(text + ";")
	}
	if a, ok := s.(*ast.AssignStmt); ok && a.Tok == token.DEFINE {
		w.notePlace(a.Lhs[0])
	}
}

// simple writes an assignment, ++, -- or a call, without semicolon: also what
// stands in the head of a for.
func (w *writer) simple(s ast.Stmt) string {
	switch s := s.(type) {
	case *ast.AssignStmt:
		return w.assignment(s)
	case *ast.IncDecStmt:
		return w.count(s)
	case *ast.ExprStmt:
		c, ok := ast.Unparen(s.X).(*ast.CallExpr)
		if !ok {
			w.refuse(s.Pos(), "leave it out", "an expression that does nothing")
			return ""
		}
		return w.wholeCondition(c)
	}
	w.refuse(s.Pos(), "assign, count or call", "a statement that has no C here (%T)", s)
	return ""
}

// returns writes return x; as it is. The value may be a call that writes: nothing
// else is evaluated beside it.
func (w *writer) returns(s *ast.ReturnStmt) {
	switch len(s.Results) {
	case 0:
		w.line("return;")
	case 1:
		w.line("return " + w.whole(s.Results[0]) + ";")
	default:
		w.refuse(s.Pos(), "return a struct, or write through a pointer", "several results")
	}
}
