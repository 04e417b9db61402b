package translate

import (
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
)

// A fixed field is a constant: what would give it another value is refused.

func (w *writer) isFixed(f *field) bool {
	_, fixed := w.t.fixed[f.object]
	return fixed
}

// fixedValue is the value of a fixed field, nil of others.
func (w *writer) fixedValue(f *field) constant.Value {
	n, fixed := w.t.fixed[f.object]
	switch {
	case !fixed:
		return nil
	case isBool(f.object.Type()):
		return constant.MakeBool(n != 0)
	}
	return constant.MakeInt64(n)
}

// checkFixedLiteral refuses a literal that does not give its fixed fields their
// values.
func (w *writer) checkFixedLiteral(e *ast.CompositeLit) {
	given := map[*field]ast.Expr{}
	for _, el := range e.Elts {
		if kv, ok := el.(*ast.KeyValueExpr); ok {
			given[w.t.fieldOf(kv.Key)] = kv.Value
		}
	}
	st, ok := w.typeOf(e).Underlying().(*types.Struct)
	if !ok {
		return
	}
	for v := range st.Fields() {
		f := w.t.fields[v]
		if f == nil {
			continue
		}
		want, value := w.fixedValue(f), given[f]
		switch {
		case value == nil:
			w.checkFixedField(e.Pos(), f)
		case want != nil && (w.t.constantOf(value) == nil || !constant.Compare(w.t.constantOf(value), token.EQL, want)):
			w.refuse(value.Pos(), "only what never changes can be fixed", "fixed field %s gets another value", v.Name())
		}
	}
}

// checkFixedZero refuses to set what holds fixed fields to zero, unless that is
// their value.
func (w *writer) checkFixedZero(at token.Pos, typ types.Type) {
	switch under := typ.Underlying().(type) {
	case *types.Array:
		w.checkFixedZero(at, under.Elem())
	case *types.Struct:
		for v := range under.Fields() {
			if f := w.t.fields[v]; f != nil {
				w.checkFixedField(at, f)
			}
		}
	}
}

// checkFixedField is checkFixedZero of one field.
func (w *writer) checkFixedField(at token.Pos, f *field) {
	if w.t.fixed[f.object] != 0 {
		w.refuse(at, "only what never changes can be fixed", "fixed field %s gets another value, 0", f.object.Name())
	}
	w.checkFixedZero(at, f.object.Type())
}
