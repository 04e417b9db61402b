package translate

import (
	"go/ast"
	"go/types"
)

// typeName is the C name of a type that is neither array nor address.
func (w *writer) typeName(typ types.Type) string {
	if n, ok := typ.(*types.Named); ok {
		if d, ok := w.t.structs[n.Obj()]; ok {
			w.use.types[d] = true
			return d.name
		}
	}
	if isIndex(typ) {
		return "int_fast16_t"
	}
	if b, ok := typ.Underlying().(*types.Basic); ok {
		return basic(b)
	}
	return "void"
}

// declaration writes a variable's declaration. Syntax, where given, is the Go
// type as written: it has the names of arrays' lengths. In a parameter a
// pointer to an array keeps its length for the reader.
func (w *writer) declaration(name string, typ types.Type, syntax ast.Expr, readOnly, parameter bool) string {
	head := ""
	if readOnly {
		head = "const "
	}
	switch typ := typ.(type) {
	case *types.Array:
		elem, dims := w.dimensions(typ, syntax)
		return head + w.typeName(elem) + " " + name + dims
	case *types.Slice:
		return head + w.typeName(typ.Elem()) + " *" + name
	case *types.Pointer:
		if s, ok := syntax.(*ast.StarExpr); ok {
			syntax = s.X
		} else {
			syntax = nil
		}
		if a, ok := typ.Elem().(*types.Array); ok {
			elem, dims := w.dimensions(a, syntax)
			if parameter {
				return head + w.typeName(elem) + " " + name + dims
			}
			return head + w.typeName(elem) + " *" + name
		}
		return head + w.typeName(typ.Elem()) + " *" + name
	}
	return head + w.typeName(typ) + " " + name
}

// dimensions returns the innermost element of an array and its lengths in
// brackets.
func (w *writer) dimensions(typ *types.Array, syntax ast.Expr) (types.Type, string) {
	length := lengthOf(typ)
	var inner ast.Expr
	if a, ok := syntax.(*ast.ArrayType); ok {
		inner = a.Elt
		if c := w.namedConstant(a.Len); c != nil {
			length = w.useConstant(c)
			w.use.sizes[c] = true
		}
	}
	if next, ok := typ.Elem().(*types.Array); ok {
		elem, dims := w.dimensions(next, inner)
		return elem, "[" + length + "]" + dims
	}
	return typ.Elem(), "[" + length + "]"
}

// namedConstant is the package-level constant that an expression is the plain
// name of, nil otherwise.
func (w *writer) namedConstant(e ast.Expr) *constDecl {
	var id *ast.Ident
	switch e := e.(type) {
	case *ast.Ident:
		id = e
	case *ast.SelectorExpr:
		id = e.Sel
	case *ast.ParenExpr:
		return w.namedConstant(e.X)
	default:
		return nil
	}
	c, ok := w.t.source.info.Uses[id].(*types.Const)
	if !ok {
		return nil
	}
	return w.t.constants[c]
}

func (w *writer) useConstant(c *constDecl) string {
	w.use.constants[c] = true
	return c.name
}

// elementSyntax is the element of a slice's type as written.
func elementSyntax(e ast.Expr) ast.Expr {
	if a, ok := e.(*ast.ArrayType); ok {
		return a.Elt
	}
	return nil
}
