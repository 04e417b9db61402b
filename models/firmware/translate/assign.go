package translate

import (
	"go/ast"
	"go/token"
	"go/types"
)

// assignment writes x := e, x = e and x += e. There is one left side: with two, Go
// takes all values before it stores the first.
func (w *writer) assignment(s *ast.AssignStmt) string {
	if len(s.Lhs) != 1 || len(s.Rhs) != 1 {
		w.refuse(s.Pos(), "assign one at a time", "several assignments at once")
		return ""
	}
	left, right := s.Lhs[0], s.Rhs[0]
	switch s.Tok {
	case token.DEFINE:
		return w.define(left.(*ast.Ident), right)
	case token.ASSIGN:
		if id, ok := left.(*ast.Ident); ok && id.Name == "_" {
			return "(void)" + w.in(right, precUnary)
		}
		if w.isWriting(right) && !w.isSteady(left) {
			w.refuse(s.Pos(), "keep the result in a variable first", "C leaves open whether the left side is found before the call writes")
		}
		text := w.whole(right)
		return w.left(left) + " = " + text
	}
	return w.update(s, left, right)
}

// update writes assignments with an operator: x += e, x &= e, x >>= e and so on,
// under the rules of the operator. C has the same but for &^=, which becomes
// x = x & ~e, and but for what is stored in 8 or 16 bits: C computes that in int, so
// that x += e becomes x = (uint8_t)(x + e), which wraps as Go does. The place is then
// written twice, but holds no call that writes.
func (w *writer) update(s *ast.AssignStmt, left, right ast.Expr) string {
	op := operatorOf(s.Tok)
	typ := w.typeOf(left)
	w.checkOperation(op, left, right, s.TokPos)
	if w.isWriting(right) {
		w.refuse(s.Pos(), "keep the result in a variable first", "C leaves open whether the left side is read before the call writes")
	}
	target := w.left(left)
	if op == token.MUL && isFloat(typ) {
		w.refuse(s.TokPos, fusedMend, fusedWhat)
	}
	if op != token.AND_NOT && !isNarrow(typ) {
		w.noteSigns(op, left)
		target += " " + op.String() + "= "
		if isShift(op) {
			return target + w.shiftCount(right, precLor)
		}
		text, _ := w.expr(right)
		return target + text
	}
	text, _ := w.operation(op, left, right)
	if isNarrow(typ) {
		text = "(" + w.typeName(typ) + ")(" + text + ")"
	}
	return target + " = " + text
}

// operatorOf is the operator of an assignment like +=.
func operatorOf(tok token.Token) token.Token { return tok - token.ADD_ASSIGN + token.ADD }

// count writes x++ and x--, under the rules of + and -. On 8 and 16 bits C counts in
// int and stores what fits, which wraps as Go does.
func (w *writer) count(s *ast.IncDecStmt) string {
	op := token.ADD
	if s.Tok == token.DEC {
		op = token.SUB
	}
	w.checkArithmetic(s.TokPos, op, w.typeOf(s.X))
	text := w.left(s.X)
	if _, star := ast.Unparen(s.X).(*ast.StarExpr); star {
		text = "(" + text + ")" // C would move the pointer
	}
	return text + s.Tok.String()
}

// left writes the left side of an assignment: a variable, field or element of the
// state, or what a pointer points to. It is a place and no value, so that fixed
// fields are not folded in it.
func (w *writer) left(e ast.Expr) string {
	switch e := ast.Unparen(e).(type) {
	case *ast.Ident:
		return w.leftVariable(e)
	case *ast.SelectorExpr:
		w.checkLeftField(e)
		return w.selector(e)
	case *ast.IndexExpr:
		return w.index(e)
	case *ast.StarExpr:
		text, _ := w.expr(e)
		return text
	}
	w.refuse(e.Pos(), "assign to a variable, field or element", "an assignment to an expression")
	return "0"
}

// leftVariable writes a variable that is assigned to.
func (w *writer) leftVariable(id *ast.Ident) string {
	v := w.t.variableOf(id)
	if v == nil {
		w.refuse(id.Pos(), "assign to a variable", "%s is no variable", id.Name)
		return "0"
	}
	if w.t.tables[v] != nil {
		w.refuse(id.Pos(), "keep what changes in the state", "table %s is written", id.Name)
	}
	if w.looping[v] { // Go's range counts on undisturbed, C's loop would not
		w.refuse(id.Pos(), "count in a variable of your own", "%s, which counts the loop, is changed", id.Name)
	}
	return w.local(id)
}

// checkLeftField refuses to assign a field that C does not have or cannot change.
func (w *writer) checkLeftField(e *ast.SelectorExpr) {
	f := w.t.fieldOf(e)
	if f == nil {
		return // said by selector
	}
	if w.isFixed(f) {
		w.refuse(e.Pos(), "only what never changes can be fixed", "fixed field %s is written", e.Sel.Name)
	}
	if f.global != "" {
		w.refuse(e.Pos(), "set it in a file that is not translated", "%s, which is global in C, is written", e.Sel.Name)
	}
	if _, slice := w.typeOf(e).Underlying().(*types.Slice); slice {
		w.refuse(e.Pos(), "make it in a file that is not translated", "slice %s is replaced", e.Sel.Name)
	}
}
