package translate

import (
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"slices"
)

// A divisor is a constant, or a variable that the source itself guards: C
// leaves a division by zero undefined, and of the least number by -1.

// checkDivisor refuses a divisor that nothing keeps from 0, or from -1.
func (w *writer) checkDivisor(e ast.Expr, at token.Pos) {
	e = ast.Unparen(e)
	if v := w.t.source.info.Types[e].Value; v != nil {
		if n, ok := constant.Int64Val(constant.ToInt(v)); ok && (n == 0 || n == -1) {
			w.refuse(at, "divide by something else; negate with -", "a division by %d", n)
		}
		return
	}
	signed := !isUnsigned(w.typeOf(e))
	if c, ok := e.(*ast.CallExpr); ok {
		if tv := w.t.source.info.Types[c.Fun]; tv.IsType() && len(c.Args) == 1 && width(w.typeOf(c.Args[0])) <= width(tv.Type) &&
			isUnsigned(w.typeOf(c.Args[0])) == !signed {
			w.checkDivisor(c.Args[0], at) // a conversion that keeps the value
			return
		}
		if id, ok := c.Fun.(*ast.Ident); ok && id.Name == "max" && slices.ContainsFunc(c.Args, w.isPositive) {
			return
		}
	}
	if b, ok := e.(*ast.BinaryExpr); ok && b.Op == token.OR && !signed && (w.isPositive(b.X) || w.isPositive(b.Y)) {
		return
	}
	if b, ok := e.(*ast.BinaryExpr); ok && b.Op == token.MUL { // overflow is the author's to exclude
		if w.isPositive(b.X) {
			w.checkDivisor(b.Y, at)
			return
		}
		if w.isPositive(b.Y) {
			w.checkDivisor(b.X, at)
			return
		}
	}
	if id, ok := e.(*ast.Ident); ok && w.fn != nil && w.guarded(id, at, signed) {
		return
	}
	mend := "keep it in a variable and guard it above: if d == 0 { return 0 }"
	if signed {
		mend = "keep it in a variable and guard it above: if d <= 0 { return 0 }"
	}
	w.refuse(at, mend, "a division by what may be 0")
}

func (w *writer) isPositive(e ast.Expr) bool {
	v := w.t.source.info.Types[e].Value
	return v != nil && v.Kind() == constant.Int && constant.Sign(v) > 0
}

// guarded looks for an if that keeps a variable above 0 (signed) or from 0
// (unsigned) where it divides.
func (w *writer) guarded(id *ast.Ident, at token.Pos, signed bool) bool {
	v := w.t.source.info.Uses[id]
	if v == nil {
		return false
	}
	found := false
	var block []ast.Node // around the node visited
	ast.Inspect(w.fn.decl.Body, func(n ast.Node) bool {
		if n == nil {
			block = block[:len(block)-1]
			return false
		}
		block = append(block, n)
		s, ok := n.(*ast.IfStmt)
		if !ok || found {
			return true
		}
		inside := s.Body.Pos() < at && at < s.Body.End()
		switch {
		case inside && w.holds(s.Cond, v, signed, token.LAND):
			found = !w.changes(v, s.Cond.Pos(), s.Body.End(), nil)
		case s.End() < at && len(block) > 1 && block[len(block)-2].End() > at && w.holds(s.Cond, v, signed, token.LOR) && w.settles(s.Body, v):
			found = !w.changes(v, s.Pos(), w.fn.decl.Body.End(), s)
		}
		return true
	})
	return found
}

// holds reports whether a condition says that v is positive (joined by &&) or
// catches all that is not (joined by ||).
func (w *writer) holds(cond ast.Expr, v types.Object, signed bool, join token.Token) bool {
	b, ok := ast.Unparen(cond).(*ast.BinaryExpr)
	if !ok {
		return false
	}
	if b.Op == join {
		return w.holds(b.X, v, signed, join) || w.holds(b.Y, v, signed, join)
	}
	id, ok := ast.Unparen(b.X).(*ast.Ident)
	if !ok || w.t.source.info.Uses[id] != v {
		return false
	}
	c := w.t.source.info.Types[b.Y].Value
	if c == nil || c.Kind() != constant.Int {
		return false
	}
	zero, positive := constant.Sign(c) == 0, constant.Sign(c) > 0
	if join == token.LAND {
		return b.Op == token.GTR && (zero || positive) || b.Op == token.GEQ && positive || b.Op == token.NEQ && zero && !signed
	}
	return b.Op == token.LEQ && (zero || positive) || b.Op == token.LSS && positive || b.Op == token.EQL && zero && !signed
}

// settles reports whether a guard's body leaves, or gives v a positive value.
func (w *writer) settles(body *ast.BlockStmt, v types.Object) bool {
	if len(body.List) == 0 {
		return false
	}
	switch last := body.List[len(body.List)-1].(type) {
	case *ast.ReturnStmt, *ast.BranchStmt:
		return true
	case *ast.AssignStmt:
		id, ok := last.Lhs[0].(*ast.Ident)
		return ok && last.Tok == token.ASSIGN && w.t.source.info.Uses[id] == v && w.isPositive(last.Rhs[0])
	}
	return false
}

// changes reports whether v is assigned between two places, or its address taken
// anywhere, except inside a guard.
func (w *writer) changes(v types.Object, from, to token.Pos, except *ast.IfStmt) bool {
	is := func(e ast.Expr) bool {
		id, ok := ast.Unparen(e).(*ast.Ident)
		return ok && w.t.source.info.Uses[id] == v
	}
	changed := false
	ast.Inspect(w.fn.decl.Body, func(n ast.Node) bool {
		if n == nil || n == except {
			return false
		}
		within := from <= n.Pos() && n.Pos() <= to
		switch n := n.(type) {
		case *ast.AssignStmt:
			changed = changed || within && slices.ContainsFunc(n.Lhs, is)
		case *ast.IncDecStmt:
			changed = changed || within && is(n.X)
		case *ast.UnaryExpr:
			changed = changed || n.Op == token.AND && is(n.X)
		}
		return true
	})
	return changed
}
