package translate

import (
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"slices"
)

// Both languages round a quotient toward 0. A division by 0 stops Go and is undefined
// in C; that of the least number by -1 wraps in Go and is undefined in C. So a divisor
// is a constant other than these, max(x, 1) or x | 1, or a variable that the source
// itself guards: an if above that leaves or sets it where it is 0 (of a signed one:
// not above 0), or an if around that asks for more.

// checkDivisor refuses a divisor that nothing keeps from 0, or from -1.
func (w *writer) checkDivisor(e ast.Expr, at token.Pos) {
	e = ast.Unparen(e)
	if v := w.t.constantOf(e); v != nil {
		if n, ok := int64Of(v); ok && (n == 0 || n == -1) {
			w.refuse(at, "divide by something else; negate with -", "a division by %d", n)
		}
		return
	}
	signed := !isUnsigned(w.typeOf(e))
	if c, ok := e.(*ast.CallExpr); ok {
		if inner := w.converted(c); inner != nil && width(w.typeOf(inner)) <= width(w.typeOf(c)) && isUnsigned(w.typeOf(inner)) == !signed {
			w.checkDivisor(inner, at) // a conversion that keeps the value
			return
		}
		if w.isBuiltin(c, "max") && slices.ContainsFunc(c.Args, w.isPositive) {
			return
		}
	}
	if b, ok := e.(*ast.BinaryExpr); ok {
		left, right := w.isPositive(b.X), w.isPositive(b.Y)
		if b.Op == token.MUL && !signed { // an even multiple may wrap to 0
			left, right = left && w.isOdd(b.X), right && w.isOdd(b.Y)
		}
		switch {
		case b.Op == token.OR && !signed && (left || right):
			return
		case b.Op == token.MUL && left: // signed overflow is the author's to exclude
			w.checkDivisor(b.Y, at)
			return
		case b.Op == token.MUL && right:
			w.checkDivisor(b.X, at)
			return
		}
	}
	if v := w.t.variableOf(e); v != nil && w.fn != nil && w.guarded(v, at, signed) {
		return
	}
	mend := "keep it in a variable and guard it above: if d == 0 { return 0 }"
	if signed {
		mend = "keep it in a variable and guard it above: if d <= 0 { return 0 }"
	}
	w.refuse(at, mend, "a division by what may be 0")
}

func (w *writer) isPositive(e ast.Expr) bool {
	v := w.t.constantOf(e)
	return v != nil && v.Kind() == constant.Int && constant.Sign(v) > 0
}

func (w *writer) isOdd(e ast.Expr) bool {
	n, exact := int64Of(w.t.constantOf(e))
	return exact && n&1 == 1
}

// guarded looks for an if that keeps a variable above 0 (signed) or from 0
// (unsigned) where it divides.
func (w *writer) guarded(v *types.Var, at token.Pos, signed bool) bool {
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
			found = !w.changes(v, s.Cond.Pos(), w.fn.decl.Body.End(), s.Body)
		}
		return true
	})
	return found
}

// holds reports whether a condition says that v is positive (joined by &&) or
// catches all that is not (joined by ||).
func (w *writer) holds(cond ast.Expr, v *types.Var, signed bool, join token.Token) bool {
	b, ok := ast.Unparen(cond).(*ast.BinaryExpr)
	if !ok {
		return false
	}
	if b.Op == join {
		return w.holds(b.X, v, signed, join) || w.holds(b.Y, v, signed, join)
	}
	c := w.t.constantOf(b.Y)
	if w.t.variableOf(b.X) != v || c == nil || c.Kind() != constant.Int {
		return false
	}
	zero, positive := constant.Sign(c) == 0, constant.Sign(c) > 0
	if join == token.LAND {
		return b.Op == token.GTR && (zero || positive) || b.Op == token.GEQ && positive || b.Op == token.NEQ && zero && !signed
	}
	return b.Op == token.LEQ && (zero || positive) || b.Op == token.LSS && positive || b.Op == token.EQL && zero && !signed
}

// settles reports whether a guard's body leaves, or gives v a positive value.
func (w *writer) settles(body *ast.BlockStmt, v *types.Var) bool {
	if len(body.List) == 0 {
		return false
	}
	switch last := body.List[len(body.List)-1].(type) {
	case *ast.ReturnStmt, *ast.BranchStmt:
		return true
	case *ast.AssignStmt:
		return last.Tok == token.ASSIGN && w.t.variableOf(last.Lhs[0]) == v && w.isPositive(last.Rhs[0])
	}
	return false
}

// changes reports whether v is assigned between two places, or its address taken
// anywhere, except inside the body of a guard.
func (w *writer) changes(v *types.Var, from, to token.Pos, except *ast.BlockStmt) bool {
	is := func(e ast.Expr) bool { return w.t.variableOf(e) == v }
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
		case *ast.CallExpr:
			fn, receiver := w.t.callee(n)
			changed = changed || receiver != nil && is(receiver) && isPointer(fn.Signature().Recv().Type())
		}
		return true
	})
	return changed
}
