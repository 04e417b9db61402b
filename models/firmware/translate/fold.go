package translate

import (
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
)

// fold gives an expression's value where it is constant to Go or becomes so by
// fixed fields, nil otherwise.
func (w *writer) fold(e ast.Expr) constant.Value {
	if v := w.t.constantOf(e); v != nil {
		return v
	}
	if !w.folding {
		return nil
	}
	switch e := e.(type) {
	case *ast.ParenExpr:
		return w.fold(e.X)
	case *ast.SelectorExpr:
		if f := w.t.fieldOf(e); f != nil {
			return w.fixedValue(f)
		}
	case *ast.UnaryExpr:
		if x := w.fold(e.X); x != nil && e.Op == token.NOT {
			return constant.UnaryOp(token.NOT, x, 0)
		}
	case *ast.CallExpr:
		return w.foldConversion(e)
	case *ast.BinaryExpr:
		return w.foldBinary(e)
	}
	return nil
}

// foldConversion folds a conversion between integers that keeps the value.
func (w *writer) foldConversion(e *ast.CallExpr) constant.Value {
	inner, typ := w.converted(e), w.typeOf(e)
	if inner == nil || !isInteger(typ) {
		return nil
	}
	x := w.fold(inner)
	if x == nil || !fits(x, typ) {
		return nil
	}
	return x
}

// foldBinary folds comparisons and logic; arithmetic stays as written, so that
// no width is lost.
func (w *writer) foldBinary(e *ast.BinaryExpr) constant.Value {
	x, y := w.fold(e.X), w.fold(e.Y)
	switch e.Op {
	case token.LAND, token.LOR:
		decides := e.Op == token.LOR // the value that settles it
		if x != nil {
			if constant.BoolVal(x) == decides {
				return x
			}
			return y
		}
		if y != nil && constant.BoolVal(y) == decides {
			return y // what stands before writes nothing
		}
	case token.EQL, token.NEQ, token.LSS, token.LEQ, token.GTR, token.GEQ:
		if x != nil && y != nil {
			return constant.MakeBool(constant.Compare(x, e.Op, y))
		}
	case token.AND:
		if x != nil && y != nil && x.Kind() == constant.Int && y.Kind() == constant.Int {
			return constant.BinaryOp(x, token.AND, y)
		}
	}
	return nil
}

// condition folds a condition to true or false; known is false where it is
// open.
func (w *writer) condition(e ast.Expr) (value, known bool) {
	v := w.fold(e)
	if v == nil || v.Kind() != constant.Bool {
		return false, false
	}
	return constant.BoolVal(v), true
}

// fits reports an integer that a type of integers holds; of uint64 only what an
// int64 holds too.
func fits(v constant.Value, typ types.Type) bool {
	if v.Kind() != constant.Int {
		return false
	}
	n, exact := constant.Int64Val(v)
	bits := width(typ)
	low, high := int64(-1)<<(bits-1), int64(1)<<(bits-1)-1
	if isUnsigned(typ) {
		low, high = 0, high*2+1
		if bits == 64 {
			high = 1<<63 - 1
		}
	}
	return exact && low <= n && n <= high
}
