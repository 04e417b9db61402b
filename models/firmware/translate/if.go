package translate

import (
	"go/ast"
	"go/token"
	"slices"
	"strings"
)

// ifs writes an if; head is "} else" behind another. What the if declares gets a
// block around it, as its scope in Go is: if x := f(); x > 3 {} becomes
// { T x = f(); if (x > 3) {} }.
func (w *writer) ifs(s *ast.IfStmt, head string) {
	if s.Init == nil {
		w.branch(s, head)
		return
	}
	w.nested(head, func() {
		w.simpleLine(s.Init)
		w.branch(s, "")
	})
}

// branch writes an if without what it declares. The condition may be a call that
// writes: nothing else is evaluated beside it, and a later one only if it was
// false.
func (w *writer) branch(s *ast.IfStmt, head string) {
	if value, known := w.condition(s.Cond); known {
		w.settled(s, value, head)
		return
	}
	w.braces(strings.TrimSpace(head+" if ("+w.wholeCondition(s.Cond)+")"), s.Body)
	w.otherwise(s.Else)
}

// otherwise writes an else behind the brace that was just written.
func (w *writer) otherwise(e ast.Stmt) {
	if e == nil {
		return
	}
	if value, known := w.elseCondition(e); known && !value && e.(*ast.IfStmt).Else == nil {
		w.skipComments(e.End())
		return
	}
	last := len(w.lines) - 1
	w.lines = w.lines[:last] // the brace: C has it before else on one line
	switch e := e.(type) {
	case *ast.BlockStmt:
		w.braces("} else", e)
	case *ast.IfStmt:
		w.ifs(e, "} else")
	}
}

func (w *writer) elseCondition(e ast.Stmt) (value, known bool) {
	if s, ok := e.(*ast.IfStmt); ok && s.Init == nil {
		return w.condition(s.Cond)
	}
	return false, false
}

// settled writes the branch of an if that a fixed field chooses.
func (w *writer) settled(s *ast.IfStmt, value bool, head string) {
	if value {
		w.chosen(s.Body, head)
		w.skipComments(s.End())
		return
	}
	w.skipComments(s.Body.End())
	switch e := s.Else.(type) {
	case *ast.BlockStmt:
		w.chosen(e, head)
	case *ast.IfStmt:
		w.ifs(e, head)
	default:
		if head != "" {
			w.line("}")
		}
	}
}

// chosen writes a block without its condition, in braces where it declares
// something.
func (w *writer) chosen(b *ast.BlockStmt, head string) {
	switch {
	case head != "":
		w.braces("} else", b)
	case declares(b.List):
		w.nested("", func() { w.block(b.List, b.Rbrace) })
	default:
		w.block(b.List, b.Rbrace)
	}
}

// declares reports whether statements declare something of their block.
func declares(list []ast.Stmt) bool {
	return slices.ContainsFunc(list, func(s ast.Stmt) bool { return len(declared(s)) > 0 })
}

// declared are the variables and constants that a statement declares.
func declared(s ast.Stmt) []*ast.Ident {
	var out []*ast.Ident
	switch s := s.(type) {
	case *ast.DeclStmt:
		for _, spec := range s.Decl.(*ast.GenDecl).Specs {
			if spec, ok := spec.(*ast.ValueSpec); ok {
				out = append(out, spec.Names...)
			}
		}
	case *ast.AssignStmt:
		for _, left := range s.Lhs {
			if id, ok := left.(*ast.Ident); ok && s.Tok == token.DEFINE {
				out = append(out, id)
			}
		}
	}
	return out
}
