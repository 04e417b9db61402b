package translate

import (
	"fmt"
	"go/ast"
	"go/token"
	"go/types"
	"slices"
	"strings"
)

// checkAll writes every function, table and constant without folding and
// throws the text away: what is refused is refused, reached or not.
func (t *translator) checkAll() {
	t.checkCalls()
	for _, f := range t.order {
		t.checkSignature(f)
		if !f.extern {
			t.newWriter(f, false).function()
		}
	}
	for _, d := range t.tables {
		t.newWriter(nil, false).table(d)
	}
	for _, c := range t.constants {
		if b, ok := c.object.Type().Underlying().(*types.Basic); ok && b.Info()&(types.IsNumeric|types.IsBoolean) == 0 {
			t.refuse(c.object.Pos(), "use numbers", "constant %s is no number", c.object.Name())
		}
	}
}

func (t *translator) checkSignature(f *function) {
	s := f.object.Signature()
	if s.TypeParams() != nil || s.RecvTypeParams() != nil {
		t.refuse(f.decl.Pos(), "write it for one type", "%s is generic", f.object.Name())
		return
	}
	if s.Variadic() {
		t.refuse(f.decl.Pos(), "pass a slice and a count", "%s is variadic", f.object.Name())
	}
	if f.decl.Body == nil && !f.extern {
		t.refuse(f.decl.Pos(), "write its body, or //c:extern NAME above it", "%s has no body", f.object.Name())
	}
	check := func(v *types.Var) {
		t.checkType(v.Pos(), v.Type())
		if _, array := v.Type().Underlying().(*types.Array); array {
			t.refuse(v.Pos(), "pass a pointer to it", "an array is passed whole")
		}
		if !isAddress(v.Type()) && holdsSlice(v.Type()) {
			t.refuse(v.Pos(), "pass a pointer to it", "a struct that holds slices is passed whole")
		}
	}
	if r := s.Recv(); r != nil {
		check(r)
	}
	for v := range s.Params().Variables() {
		check(v)
	}
	switch s.Results().Len() {
	case 0:
	case 1:
		r := s.Results().At(0)
		if r.Name() != "" {
			t.refuse(r.Pos(), "return the value by return", "a named result")
		}
		check(r)
		if _, slice := r.Type().Underlying().(*types.Slice); slice {
			t.refuse(r.Pos(), "return an index", "a slice as a result")
		}
		if p, ok := r.Type().Underlying().(*types.Pointer); ok {
			if _, array := p.Elem().Underlying().(*types.Array); array {
				t.refuse(r.Pos(), "return an index, or put the array into a struct", "a pointer to an array as a result")
			}
		}
	default:
		t.refuse(f.decl.Type.Results.Pos(), "return a struct, or write through a pointer", "several results")
	}
}

// function writes the definition of the writer's function.
func (w *writer) function() {
	f := w.fn
	if f.decl.Body == nil {
		return
	}
	for _, g := range f.file.Comments {
		if g.Pos() > f.decl.Body.Lbrace && g.End() <= f.decl.Body.Rbrace {
			w.comments = append(w.comments, g)
		}
	}
	head := w.head()
	w.lines = nil
	w.depth = 1
	w.block(f.decl.Body.List, f.decl.Body.Rbrace)
	w.checkLocalsAgainstCalls()
	w.silence()
	body := w.lines
	w.lines, w.depth = nil, 0
	if !f.public {
		w.comment(f.decl.Doc)
		head = "static " + head
	}
	w.line(head)
	w.line("{")
	for _, v := range w.parameters() {
		if !w.read[v] {
			w.line("\t(void)" + w.parameterName(v) + ";")
		}
	}
	w.lines = append(w.lines, body...)
	w.line("}")
}

// head is the function's declaration, without static or semicolon.
func (w *writer) head() string {
	f := w.fn
	s := f.object.Signature()
	var list []string
	syntaxes := parameterSyntax(f.decl)
	for i, v := range w.parameters() {
		list = append(list, w.declaration(w.parameterName(v), v.Type(), syntaxes[i], isAddress(v.Type()) && !w.t.flow.written[v], true))
	}
	if len(list) == 0 {
		list = []string{"void"}
	}
	name := f.name + "(" + strings.Join(list, ", ") + ")"
	if s.Results().Len() == 0 {
		return "void " + name
	}
	typ := s.Results().At(0).Type()
	return w.declaration(name, typ, nil, isAddress(typ) && !w.t.flow.written[f.object], false)
}

// parameters are the receiver, if any, and the parameters.
func (w *writer) parameters() []*types.Var {
	s := w.fn.object.Signature()
	var out []*types.Var
	if r := s.Recv(); r != nil {
		out = append(out, r)
	}
	for v := range s.Params().Variables() {
		out = append(out, v)
	}
	return out
}

// parameterSyntax are the types of the parameters as written.
func parameterSyntax(d *ast.FuncDecl) []ast.Expr {
	var out []ast.Expr
	lists := []*ast.FieldList{d.Recv, d.Type.Params}
	for _, l := range lists {
		if l == nil {
			continue
		}
		for _, f := range l.List {
			for range max(1, len(f.Names)) {
				out = append(out, f.Type)
			}
		}
	}
	return out
}

func (w *writer) parameterName(v *types.Var) string {
	if v.Name() == "" || v.Name() == "_" {
		return fmt.Sprintf("unused%d", slices.Index(w.parameters(), v))
	}
	return w.nameLocal(v.Name(), v.Pos())
}

// checkLocalsAgainstCalls refuses a variable that hides a function called.
func (w *writer) checkLocalsAgainstCalls() {
	for name, at := range w.called {
		if goName, ok := w.names[name]; ok {
			w.refuse(at, "rename the variable", "variable %s hides function %s in C", goName, name)
		}
	}
}

// silence marks variables that nothing reads, as folding leaves some: a
// compiler would warn.
func (w *writer) silence() {
	type mark struct {
		place
		name string
	}
	var marks []mark
	for v, p := range w.places {
		if !w.read[v] && v.Name() != "_" {
			marks = append(marks, mark{p, spared(snake(v.Name()))})
		}
	}
	slices.SortFunc(marks, func(a, b mark) int { return b.line - a.line })
	for _, m := range marks {
		w.lines = slices.Insert(w.lines, m.line, strings.Repeat("\t", m.depth)+"(void)"+m.name+";")
	}
}

// table writes a package-level table.
func (w *writer) table(d *table) {
	var syntax ast.Expr
	value := d.value
	if lit, ok := ast.Unparen(value).(*ast.CompositeLit); ok {
		syntax = lit.Type
	}
	if !w.constantTable(value, d.object.Type()) {
		return
	}
	w.comment(d.doc)
	w.line("static " + w.declaration(d.name, d.object.Type(), syntax, true, false) + " = {")
	w.depth++
	w.elements(value.(*ast.CompositeLit))
	w.depth--
	w.line("};")
}

// constantTable checks that a table's value is written out in constants.
func (w *writer) constantTable(e ast.Expr, typ types.Type) bool {
	lit, ok := ast.Unparen(e).(*ast.CompositeLit)
	if !ok {
		if w.t.source.info.Types[e].Value == nil {
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
		text := w.literal(lit)
		return text[strings.Index(text, "{"):]
	}
	var list []string
	for _, el := range lit.Elts {
		list = append(list, w.cell(el))
	}
	return "{" + strings.Join(list, ", ") + "}"
}

// constantText writes the definition of a constant.
func (w *writer) constantText(c *constDecl) {
	hex := ""
	if l, ok := c.value.(*ast.BasicLit); ok && l.Kind == token.INT && strings.HasPrefix(l.Value, "0x") {
		hex = strings.ReplaceAll(l.Value, "_", "")
	}
	typ := c.object.Type()
	if b, ok := typ.(*types.Basic); ok && b.Kind() == types.UntypedInt {
		typ = types.Typ[types.Int32] // C's own rule for a bare number, but for the widest
		if n, exact := int64Of(c.object); !exact {
			typ = types.Typ[types.Uint64]
		} else if n > 1<<31-1 || n < -1<<31 {
			typ = types.Typ[types.Int64]
		}
	}
	text, prec := numeral(c.object.Val(), typ, hex)
	if prec < precPostfix {
		text = "(" + text + ")"
	}
	w.comment(c.doc)
	w.line("#define " + c.name + " " + text)
	if c.spec.Comment != nil && len(c.spec.Comment.List) == 1 && strings.HasPrefix(c.spec.Comment.List[0].Text, "//") {
		w.lines[len(w.lines)-1] += " " + mended(c.spec.Comment.List[0].Text)
	}
}
