package translate

import (
	"go/ast"
	"go/token"
	"go/types"
)

// Precedences of C, as far as they are told apart; what binds tighter is
// higher. Go's order differs: brackets are set by C's, and where a reader would
// have to know it.
const (
	precLor = iota + 1
	precLand
	precBit // | ^ &: always in brackets inside others
	precCompare
	precShift
	precAdd
	precMul
	precUnary
	precPostfix
)

// expr writes an expression and tells how tightly it binds. What is constant, to Go
// or by fixed fields, is written as a number or a name. All operators but && and ||
// may be evaluated in any order in C: what they join writes nothing (see whole).
func (w *writer) expr(e ast.Expr) (string, int) {
	if v := w.fold(e); v != nil {
		return w.constant(e, v)
	}
	switch e := e.(type) {
	case *ast.ParenExpr:
		return w.expr(e.X)
	case *ast.Ident:
		return w.ident(e), precPostfix
	case *ast.SelectorExpr:
		if g := w.globalOf(e); g != "" {
			w.typeUseOf(w.typeOf(e))
			return "&" + g, precUnary
		}
		return w.selector(e), precPostfix
	case *ast.IndexExpr:
		return w.index(e), precPostfix
	case *ast.StarExpr:
		if isArray(w.typeOf(e)) {
			w.refuse(e.Pos(), "index the pointer", "an array as a value")
		}
		return "*" + w.in(e.X, precUnary), precUnary
	case *ast.UnaryExpr:
		return w.unary(e)
	case *ast.BinaryExpr:
		return w.binary(e)
	case *ast.CallExpr:
		return w.call(e)
	case *ast.CompositeLit:
		return w.literal(e), precPostfix
	case *ast.SliceExpr:
		w.refuse(e.Pos(), "pass it straight to a slice parameter", "a slice expression")
	case *ast.FuncLit:
		w.refuse(e.Pos(), "write a function at package level", "a closure")
	default:
		w.refuse(e.Pos(), "use the subset", "an expression that has no C here (%T)", e)
	}
	return "0", precPostfix
}

// in writes an expression as part of one of the given precedence.
func (w *writer) in(e ast.Expr, outer int) string {
	text, prec := w.expr(e)
	if prec < outer {
		return "(" + text + ")"
	}
	return text
}

// value writes an expression that is stored, passed or returned as its own
// type. C computes in int what is narrower: bits of 8 or 16 are cast back. Sums
// were by binary.
func (w *writer) value(e ast.Expr) string {
	w.checkValue(e)
	text, prec := w.expr(e)
	typ := w.typeOf(e)
	if isBitwise(operatorIn(e)) && isNarrow(typ) && prec < precUnary {
		return "(" + w.typeName(typ) + ")(" + text + ")"
	}
	return text
}

// checkValue refuses what C cannot copy as Go does, and a product that goes where a
// sum may take it.
func (w *writer) checkValue(e ast.Expr) {
	typ := w.typeOf(e)
	if typ == nil {
		return
	}
	if isFloat(typ) {
		w.checkFused(e, token.MUL)
	}
	if isArray(typ) {
		w.refuse(e.Pos(), "loop over the elements, or put the array into a struct", "an array is copied whole")
	} else if _, isStruct := typ.Underlying().(*types.Struct); isStruct && holdsSlice(typ) {
		w.refuse(e.Pos(), "pass a pointer", "a struct that holds slices is copied")
	}
}

// ident writes a variable or table by its name.
func (w *writer) ident(e *ast.Ident) string {
	v := w.t.variableOf(e)
	if v == nil {
		w.refuse(e.Pos(), "use a value", "%s is no variable", e.Name)
		return "0"
	}
	w.read[v] = true
	if d, ok := w.t.tables[v]; ok {
		w.use.tables[d] = true
		w.called[d.name] = mention{e.Pos(), "table"}
		return d.name
	}
	return w.local(e)
}

// unary writes &x, !x, -x and ^x. Of an unsigned number Go's -x wraps: it becomes
// 0u - x, which does in C, in the width of x. Of a signed one it must not overflow.
// ^x becomes ~x; both are of 32 or 64 bits, since of fewer C computes in int.
func (w *writer) unary(e *ast.UnaryExpr) (string, int) {
	typ := w.typeOf(e.X)
	switch e.Op {
	case token.AND:
		return w.address(e), precUnary
	case token.NOT:
		return "!" + w.in(e.X, precUnary), precUnary
	case token.ADD:
		return w.expr(e.X)
	case token.SUB:
		w.checkArithmetic(e.Pos(), e.Op, typ)
		if isNarrow(typ) && isUnsigned(typ) {
			w.refuse(e.Pos(), "convert to int32 or uint32 first", "- of %s", typ)
		}
		if isUnsigned(typ) {
			return "0u - " + w.in(e.X, precMul), precAdd
		}
		return "-" + w.in(e.X, precPostfix), precUnary
	case token.XOR:
		if isNarrow(typ) || isIndex(typ) {
			w.refuse(e.Pos(), "convert to uint32 first", "^ of %s", typ)
		}
		return "~" + w.in(e.X, precUnary), precUnary
	}
	w.refuse(e.Pos(), "use the subset", "operator %s", e.Op)
	return "0", precPostfix
}
