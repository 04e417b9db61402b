package translate

import (
	"go/ast"
	"go/token"
)

// Go makes the calls of an expression from left to right; C leaves open which of
// two operands, arguments or sides of an assignment comes first. It does not show
// as long as no call changes what another part reads. So a call that writes through
// a pointer stands alone: as the whole statement, the whole right side, the whole
// value of a return, the whole condition of an if or for, the whole tag of a switch,
// each with a conversion or a ! around it at most. Calls that write nothing stand
// anywhere, also as its arguments: these are evaluated before it in both languages.

// whole writes an expression that is stored or returned and may be a writing
// call.
func (w *writer) whole(e ast.Expr) string {
	w.lone = w.aloneIn(e)
	text := w.value(e)
	w.lone = nil
	return text
}

// wholeCondition writes one that is only looked at: a condition, a tag, a call
// whose result nobody wants.
func (w *writer) wholeCondition(e ast.Expr) string {
	w.lone = w.aloneIn(e)
	text, _ := w.expr(e)
	w.lone = nil
	return text
}

// aloneIn finds the call that is all of an expression, but for conversions and
// !.
func (w *writer) aloneIn(e ast.Expr) *ast.CallExpr {
	switch x := ast.Unparen(e).(type) {
	case *ast.UnaryExpr:
		if x.Op == token.NOT {
			return w.aloneIn(x.X)
		}
	case *ast.CallExpr:
		if inner := w.converted(x); inner != nil {
			return w.aloneIn(inner)
		}
		return x
	}
	return nil
}

// isWriting reports an expression that is a call which writes, and nothing else.
func (w *writer) isWriting(e ast.Expr) bool {
	c := w.aloneIn(e)
	return c != nil && w.t.writes(c)
}

// writes reports a call that writes through a pointer to memory of its caller.
func (t *translator) writes(c *ast.CallExpr) bool {
	fn, _ := t.callee(c)
	return fn != nil && t.flow.writes(fn)
}

// isSteady reports a left side that no call can move: a variable, fields of it,
// elements at constant places. C may find the place before the call on the right
// or after it.
func (w *writer) isSteady(e ast.Expr) bool {
	switch e := ast.Unparen(e).(type) {
	case *ast.Ident:
		return true
	case *ast.SelectorExpr:
		return w.isSteady(e.X)
	case *ast.StarExpr:
		return w.isSteady(e.X)
	case *ast.IndexExpr:
		return w.t.constantOf(e.Index) != nil && w.isSteady(e.X)
	}
	return false
}
