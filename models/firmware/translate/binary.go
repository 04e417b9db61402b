package translate

import (
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
)

// binary writes x op y, in the brackets that C's precedences need. A sum of 8 or 16
// bits is cast to them, which wraps as in Go: C computes it in int.
func (w *writer) binary(e *ast.BinaryExpr) (string, int) {
	switch e.Op {
	case token.LAND, token.LOR:
		return w.logic(e)
	case token.EQL, token.NEQ, token.LSS, token.LEQ, token.GTR, token.GEQ:
		return w.compare(e)
	}
	w.checkOperation(e.Op, e.X, e.Y, e.OpPos)
	typ := w.typeOf(e)
	text, prec := w.operation(e.Op, e.X, e.Y)
	if isNarrow(typ) && isSum(e.Op) {
		return "(" + w.typeName(typ) + ")(" + text + ")", precUnary
	}
	return text, prec
}

// logic writes && and ||, which stop early in both languages. What a fixed field
// settles was folded; a side that is true for && or false for || drops out.
func (w *writer) logic(e *ast.BinaryExpr) (string, int) {
	neutral := e.Op == token.LAND
	if v, known := w.condition(e.X); known && v == neutral {
		return w.expr(e.Y)
	}
	if v, known := w.condition(e.Y); known && v == neutral {
		return w.expr(e.X)
	}
	op, prec := " && ", precLand
	if e.Op == token.LOR {
		op, prec = " || ", precLor
	}
	side := func(x ast.Expr) string {
		if operatorIn(x) == e.Op {
			return w.in(x, prec)
		}
		return w.in(x, precBit)
	}
	return side(e.X) + op + side(e.Y), prec
}

// compare writes comparisons of numbers and bools. Both sides are of one type in Go.
// C may widen both to int, which keeps what is narrower; a constant is written in
// their type where int would be compared as signed.
func (w *writer) compare(e *ast.BinaryExpr) (string, int) {
	typ := w.typeOf(e.X)
	if w.t.constantOf(e.X) != nil {
		typ = w.typeOf(e.Y)
	}
	if _, ok := typ.Underlying().(*types.Basic); !ok || isUntypedNil(typ) {
		w.refuse(e.OpPos, "compare numbers", "a comparison of %s", typ)
		return "0", precPostfix
	}
	if isUnsigned(typ) {
		zeroRight, zeroLeft := w.isZero(e.Y), w.isZero(e.X)
		if zeroRight && (e.Op == token.LSS || e.Op == token.GEQ) || zeroLeft && (e.Op == token.GTR || e.Op == token.LEQ) {
			w.refuse(e.OpPos, "leave it out", "an unsigned number is never below 0")
		}
	}
	return w.in(e.X, precShift) + " " + e.Op.String() + " " + w.in(e.Y, precShift), precCompare
}

func isUntypedNil(typ types.Type) bool {
	b, ok := typ.(*types.Basic)
	return ok && b.Kind() == types.UntypedNil
}

func (w *writer) isZero(e ast.Expr) bool {
	v := w.t.constantOf(e)
	return v != nil && (v.Kind() == constant.Int || v.Kind() == constant.Float) && constant.Sign(v) == 0
}

// operatorIn is the operator of an expression that joins two, ILLEGAL of others.
func operatorIn(e ast.Expr) token.Token {
	if b, ok := ast.Unparen(e).(*ast.BinaryExpr); ok {
		return b.Op
	}
	return token.ILLEGAL
}

func isShift(op token.Token) bool { return op == token.SHL || op == token.SHR }

func isSum(op token.Token) bool { return op == token.ADD || op == token.SUB }

// isBitwise reports the operators that see bits, but for <<.
func isBitwise(op token.Token) bool {
	return op == token.AND || op == token.OR || op == token.XOR || op == token.AND_NOT || op == token.SHR
}
