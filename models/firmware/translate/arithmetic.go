package translate

import (
	"go/ast"
	"go/token"
	"go/types"
	"slices"
)

// Arithmetic is done in 32 or 64 bits and in float32, where C computes in the type
// itself, as Go does (an int of 16 or 32 bits widens none of them). What is stored in
// 8 or 16 bits C computes in int: of the unsigned ones bits and sums are taken, cast
// back where they are used, and nothing that could leave int's range on the way.
//
// Unsigned numbers wrap in both languages. Signed ones wrap in Go, and C leaves it
// undefined: the author excludes it, or computes in unsigned and converts.

// operation writes an arithmetic operation as C computes it, without the cast that
// a narrow result needs. Sums and products keep the grouping of Go, since it shows in
// floats and in what overflows; bits in other bits get brackets, as C's order of | ^
// & and comparisons misleads.
func (w *writer) operation(op token.Token, x, y ast.Expr) (string, int) {
	sign := " " + op.String() + " "
	switch op {
	case token.ADD, token.SUB:
		right := precMul
		if op == token.ADD && !isSum(operatorIn(y)) {
			right = precAdd
		}
		return w.in(x, precAdd) + sign + w.in(y, right), precAdd
	case token.MUL, token.QUO, token.REM:
		return w.in(x, precMul) + sign + w.in(y, precUnary), precMul
	case token.SHL, token.SHR:
		w.noteSigns(op, x)
		return w.typed(x) + sign + w.shiftCount(y, precUnary), precShift
	case token.AND_NOT:
		return w.in(x, precUnary) + " & ~" + w.typed(y), precBit
	}
	left := precUnary
	if operatorIn(x) == op {
		left = precBit
	}
	return w.in(x, left) + sign + w.in(y, precUnary), precBit
}

// typed writes an operand whose own width counts: C would shift a bare number, or
// take its complement, as an int.
func (w *writer) typed(e ast.Expr) string {
	text := w.in(e, precUnary)
	if w.fold(e) != nil {
		return "(" + w.typeName(w.typeOf(e)) + ")" + text
	}
	return text
}

// noteSigns notes that a signed value is shifted right. Go shifts by the sign; C
// leaves it to the compiler, and the code asks it.
func (w *writer) noteSigns(op token.Token, x ast.Expr) {
	if op == token.SHR && !isUnsigned(w.typeOf(x)) {
		w.use.signs = true
	}
}

// checkOperation refuses arithmetic that C does otherwise than Go.
func (w *writer) checkOperation(op token.Token, x, y ast.Expr, at token.Pos) {
	typ := w.typeOf(x)
	if w.t.constantOf(x) != nil && !isShift(op) {
		typ = w.typeOf(y)
	}
	w.checkArithmetic(at, op, typ)
	switch op {
	case token.SHL:
		if !isUnsigned(typ) {
			w.refuse(at, "convert to unsigned and back, or multiply", "a signed value is shifted left")
		}
		w.checkCount(y, width(typ))
	case token.SHR:
		w.checkCount(y, width(typ))
	case token.QUO, token.REM:
		if !isFloat(typ) {
			w.checkDivisor(y, at)
		}
	case token.ADD, token.SUB:
		if isFloat(typ) {
			w.checkFused(x, token.MUL, token.QUO)
			w.checkFused(y, token.MUL, token.QUO)
		}
	}
}

// checkArithmetic refuses operators on types in which C would compute otherwise.
func (w *writer) checkArithmetic(at token.Pos, op token.Token, typ types.Type) {
	switch {
	case isIndex(typ):
		w.refuse(at, "convert to int32 first", "arithmetic on plain int, which only counts elements")
	case isNarrow(typ):
		if !isUnsigned(typ) || !isBitwise(op) && !isSum(op) {
			w.refuse(at, "convert to int32 or uint32 first", "%s on %s", op, typ)
		}
	case !isInteger(typ) && !isFloat(typ):
		w.refuse(at, "use numbers", "%s on %s", op, typ)
	}
}

// What is said of a product that may be fused.
const (
	fusedWhat = "a float product may be fused with a sum"
	fusedMend = "wrap it: float32(a*b)"
)

// checkFused refuses one of the operators as all of an expression, but for signs,
// that goes into a sum, or may: Go lets a compiler round a product only with the sum
// that takes it, also where a variable or a call lies between, and the last bit would
// depend on it. A conversion rounds in both languages.
func (w *writer) checkFused(e ast.Expr, operators ...token.Token) {
	e = ast.Unparen(e)
	if u, ok := e.(*ast.UnaryExpr); ok && (u.Op == token.SUB || u.Op == token.ADD) {
		w.checkFused(u.X, operators...)
		return
	}
	if slices.Contains(operators, operatorIn(e)) && w.fold(e) == nil {
		w.refuse(e.Pos(), fusedMend, fusedWhat)
	}
}
