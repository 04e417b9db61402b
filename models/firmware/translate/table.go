package translate

import (
	"go/ast"
	"go/types"
	"strings"
)

// table writes a package-level table.
func (w *writer) table(d *table) {
	lit, ok := ast.Unparen(d.value).(*ast.CompositeLit)
	if !w.constantTable(d.value, d.object.Type()) || !ok {
		return
	}
	w.comment(d.doc)
	w.line("static " + w.declaration(d.name, d.object.Type(), lit.Type, true, false) + " = {")
	w.depth++
	w.elements(lit)
	w.depth--
	w.line("};")
}

// constantTable checks that a table's value is written out in constants.
func (w *writer) constantTable(e ast.Expr, typ types.Type) bool {
	lit, ok := ast.Unparen(e).(*ast.CompositeLit)
	if !ok {
		if w.t.constantOf(e) == nil {
			w.refuse(e.Pos(), "write the number", "a table's value that is not constant")
			return false
		}
		return true
	}
	switch under := typ.Underlying().(type) {
	case *types.Array:
		if int64(len(lit.Elts)) != under.Len() {
			w.refuse(lit.Pos(), "write all elements", "%d of %d elements of a table", len(lit.Elts), under.Len())
			return false
		}
		for _, el := range lit.Elts {
			if kv, ok := el.(*ast.KeyValueExpr); ok {
				w.refuse(kv.Pos(), "write the elements in order", "an index in a table")
				return false
			}
			if !w.constantTable(el, under.Elem()) {
				return false
			}
		}
	case *types.Struct:
		for _, el := range lit.Elts {
			kv, ok := el.(*ast.KeyValueExpr)
			if !ok {
				w.refuse(el.Pos(), "name the fields", "a literal without field names")
				return false
			}
			if !w.constantTable(kv.Value, w.typeOf(kv.Value)) {
				return false
			}
		}
	}
	return true
}

const tableColumns = 96

// elements writes the elements of a literal in lines.
func (w *writer) elements(lit *ast.CompositeLit) {
	row := ""
	flush := func() {
		if row != "" {
			w.line(strings.TrimRight(row, " "))
		}
		row = ""
	}
	for _, el := range lit.Elts {
		text := w.cell(el) + ", "
		if len(row)+len(text) > tableColumns {
			flush()
		}
		row += text
	}
	flush()
}

// cell is one element of a table.
func (w *writer) cell(e ast.Expr) string {
	lit, ok := ast.Unparen(e).(*ast.CompositeLit)
	if !ok {
		text, _ := w.expr(e)
		return text
	}
	if _, ok := w.typeOf(lit).Underlying().(*types.Struct); ok {
		return w.fieldValues(lit)
	}
	var list []string
	for _, el := range lit.Elts {
		list = append(list, w.cell(el))
	}
	return "{" + strings.Join(list, ", ") + "}"
}
