package translate

import (
	"go/ast"
	"go/constant"
	"go/types"
)

// variableOf is the variable or table that an expression is the plain name of, nil
// where it is none.
func (t *translator) variableOf(e ast.Expr) *types.Var {
	id, ok := ast.Unparen(e).(*ast.Ident)
	if !ok {
		return nil
	}
	v, _ := t.source.info.Uses[id].(*types.Var)
	return v
}

// fieldOf is the field that an expression selects, or names in a literal; nil where
// it does neither.
func (t *translator) fieldOf(e ast.Expr) *field {
	if s, ok := ast.Unparen(e).(*ast.SelectorExpr); ok {
		e = s.Sel
	}
	return t.fields[t.variableOf(e)]
}

// constantOf is an expression's value where Go has it constant, nil elsewhere.
func (t *translator) constantOf(e ast.Expr) constant.Value { return t.source.info.Types[e].Value }

// callee is the function that a call names, with the receiver of a method; nil
// for conversions and builtins.
func (t *translator) callee(n *ast.CallExpr) (fn *types.Func, receiver ast.Expr) {
	switch e := ast.Unparen(n.Fun).(type) {
	case *ast.Ident:
		fn, _ = t.source.info.Uses[e].(*types.Func)
	case *ast.SelectorExpr:
		fn, _ = t.source.info.Uses[e.Sel].(*types.Func)
		if fn != nil && fn.Signature().Recv() != nil {
			receiver = e.X
		}
	}
	return fn, receiver
}
