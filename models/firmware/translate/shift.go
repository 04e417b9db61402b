package translate

import (
	"go/ast"
	"go/constant"
	"go/token"
	"slices"
	"strconv"
)

// A shift by the width or more is 0 (or the sign) in Go and undefined in C; so is one
// by less than 0, which stops Go. A count is a constant below the width, or proves by
// its form to be below it.

// checkCount refuses a shift that may be by the width or more.
func (w *writer) checkCount(e ast.Expr, bits int) {
	if v := w.t.constantOf(e); v != nil {
		if n, ok := int64Of(v); !ok || n < 0 || n >= int64(bits) {
			w.refuse(e.Pos(), "shift by less", "a shift by %s of %d bits", v, bits)
		}
		return
	}
	if !w.below(e, int64(bits)) {
		w.refuse(e.Pos(), "mask it in place: n & "+strconv.Itoa(bits-1), "a shift by what may be %d or more", bits)
	}
}

// shiftCount writes a count as part of what binds as given. Go takes a whole number
// written as a fraction, x >> 1.0; C takes none.
func (w *writer) shiftCount(e ast.Expr, outer int) string {
	if v := w.t.constantOf(e); v != nil && isFloat(w.typeOf(e)) {
		return constant.ToInt(v).ExactString()
	}
	return w.in(e, outer)
}

// below proves 0 <= e < limit by the form of e alone: a mask, min of an
// unsigned number and a constant, or what counts a loop of constant length.
func (w *writer) below(e ast.Expr, limit int64) bool {
	e = ast.Unparen(e)
	small := func(x ast.Expr) bool {
		v := w.t.constantOf(x)
		if v == nil {
			return false
		}
		n, ok := int64Of(v)
		return ok && n >= 0 && n < limit
	}
	switch e := e.(type) {
	case *ast.Ident:
		rounds, ok := w.rounds[w.t.variableOf(e)]
		return ok && rounds <= limit
	case *ast.BinaryExpr:
		return e.Op == token.AND && (small(e.X) || small(e.Y))
	case *ast.CallExpr:
		if x := w.converted(e); x != nil {
			return w.below(x, limit)
		}
		return w.isBuiltin(e, "min") && isUnsigned(w.typeOf(e)) && slices.ContainsFunc(e.Args, small)
	}
	return false
}
