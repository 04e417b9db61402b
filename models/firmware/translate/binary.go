package translate

import (
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
)

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
	if isNarrow(typ) && (e.Op == token.ADD || e.Op == token.SUB) {
		return "(" + w.typeName(typ) + ")(" + text + ")", precUnary
	}
	return text, prec
}

func (w *writer) logic(e *ast.BinaryExpr) (string, int) {
	// What a fixed field settles was folded; a side that is true for && or false
	// for || drops out.
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
		if b, ok := ast.Unparen(x).(*ast.BinaryExpr); ok && b.Op == e.Op {
			return w.in(x, prec)
		}
		return w.in(x, precBit)
	}
	return side(e.X) + op + side(e.Y), prec
}

func (w *writer) compare(e *ast.BinaryExpr) (string, int) {
	typ := w.typeOf(e.X)
	if tv := w.t.source.info.Types[e.X]; tv.Value != nil {
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
	v := w.t.source.info.Types[e].Value
	return v != nil && (v.Kind() == constant.Int || v.Kind() == constant.Float) && constant.Sign(v) == 0
}

// operation writes an arithmetic operation as C computes it.
func (w *writer) operation(op token.Token, x, y ast.Expr) (string, int) {
	sign, prec := op.String(), precBit
	switch op {
	case token.ADD, token.SUB:
		prec = precAdd
		right := precMul
		if op == token.ADD {
			right = precAdd
			if b, ok := ast.Unparen(y).(*ast.BinaryExpr); ok && (b.Op == token.ADD || b.Op == token.SUB) {
				right = precMul // as grouped in Go
			}
		}
		return w.in(x, precAdd) + " " + sign + " " + w.in(y, right), prec
	case token.MUL, token.QUO, token.REM:
		return w.in(x, precMul) + " " + sign + " " + w.in(y, precUnary), precMul
	case token.SHL, token.SHR:
		left := w.in(x, precUnary)
		if w.fold(x) != nil {
			left = "(" + w.typeName(w.typeOf(x)) + ")" + left // C shifts a bare number as int
		}
		if op == token.SHR && !isUnsigned(w.typeOf(x)) {
			w.use.signs = true
		}
		return left + " " + sign + " " + w.in(y, precUnary), precShift
	case token.AND_NOT:
		right := w.in(y, precUnary)
		if w.fold(y) != nil {
			right = "(" + w.typeName(w.typeOf(y)) + ")" + right // C would take the complement of an int
		}
		return w.in(x, precUnary) + " & ~" + right, prec
	}
	side := func(e ast.Expr) string {
		if b, ok := ast.Unparen(e).(*ast.BinaryExpr); ok && b.Op == op {
			return w.in(e, precBit)
		}
		return w.in(e, precUnary)
	}
	return side(x) + " " + sign + " " + w.in(y, precUnary), prec
}

// checkOperation refuses arithmetic that C does otherwise than Go.
func (w *writer) checkOperation(op token.Token, x, y ast.Expr, at token.Pos) {
	typ := w.typeOf(x)
	if w.t.source.info.Types[x].Value != nil && op != token.SHL && op != token.SHR {
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
			w.checkFused(x)
			w.checkFused(y)
		}
	}
}

func (w *writer) checkArithmetic(at token.Pos, op token.Token, typ types.Type) {
	switch {
	case isIndex(typ):
		w.refuse(at, "convert to int32 first", "arithmetic on plain int, which only counts elements")
	case isNarrow(typ):
		if isUnsigned(typ) && (isBitwise(op) || op == token.ADD || op == token.SUB) {
			return
		}
		w.refuse(at, "convert to int32 or uint32 first", "%s on %s", op, typ)
	case !isInteger(typ) && !isFloat(typ):
		w.refuse(at, "use numbers", "%s on %s", op, typ)
	}
}

// checkFused refuses a product as an operand of a sum: a compiler may fuse
// them, and the last bit would depend on it.
func (w *writer) checkFused(e ast.Expr) {
	b, ok := ast.Unparen(e).(*ast.BinaryExpr)
	if u, minus := ast.Unparen(e).(*ast.UnaryExpr); minus {
		b, ok = ast.Unparen(u.X).(*ast.BinaryExpr)
	}
	if ok && (b.Op == token.MUL || b.Op == token.QUO) && w.fold(b) == nil {
		w.refuse(b.Pos(), "wrap it: float32(a*b)", "a float product inside a sum may be fused")
	}
}

// checkCount refuses a shift that may be by the width or more.
func (w *writer) checkCount(e ast.Expr, bits int) {
	if v := w.t.source.info.Types[e].Value; v != nil {
		if n, ok := constant.Int64Val(constant.ToInt(v)); !ok || n < 0 || n >= int64(bits) {
			w.refuse(e.Pos(), "shift by less", "a shift by %s of %d bits", v, bits)
		}
		return
	}
	if !w.below(e, int64(bits)) {
		w.refuse(e.Pos(), "mask it in place: n & "+numeralOf(int64(bits-1)), "a shift by what may be %d or more", bits)
	}
}

func numeralOf(n int64) string { return constant.MakeInt64(n).ExactString() }

// below proves 0 <= e < limit by the form of e alone: a mask, min of an
// unsigned number and a constant, or what counts a loop of constant length.
func (w *writer) below(e ast.Expr, limit int64) bool {
	e = ast.Unparen(e)
	small := func(x ast.Expr) bool {
		v := w.t.source.info.Types[x].Value
		if v == nil {
			return false
		}
		n, ok := constant.Int64Val(constant.ToInt(v))
		return ok && n >= 0 && n < limit
	}
	switch e := e.(type) {
	case *ast.Ident:
		rounds, ok := w.rounds[w.t.source.info.Uses[e]]
		return ok && rounds <= limit
	case *ast.BinaryExpr:
		return e.Op == token.AND && (small(e.X) || small(e.Y))
	case *ast.CallExpr:
		if tv := w.t.source.info.Types[e.Fun]; tv.IsType() && len(e.Args) == 1 {
			return w.below(e.Args[0], limit)
		}
		if id, ok := e.Fun.(*ast.Ident); ok && id.Name == "min" && isUnsigned(w.typeOf(e)) {
			for _, a := range e.Args {
				if small(a) {
					return true
				}
			}
		}
	}
	return false
}
