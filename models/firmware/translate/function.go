package translate

import (
	"fmt"
	"go/ast"
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

// checkSignature refuses a function whose call C would make otherwise.
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
	if r := s.Recv(); r != nil {
		t.checkParameter(f, r)
	}
	for v := range s.Params().Variables() {
		t.checkParameter(f, v)
	}
	switch s.Results().Len() {
	case 0:
	case 1:
		t.checkParameter(f, s.Results().At(0))
		t.checkResult(s.Results().At(0))
	default:
		t.refuse(f.decl.Type.Results.Pos(), "return a struct, or write through a pointer", "several results")
	}
}

// checkParameter refuses a receiver, parameter or result that C cannot pass as Go
// does. Structs are copied by both; an array would become a pointer.
func (t *translator) checkParameter(f *function, v *types.Var) {
	t.checkType(v.Pos(), v.Type())
	switch {
	case f.extern && basicOf(v.Type()) == "":
		t.refuse(v.Pos(), "write it in Go", "%s, a function of C, passes numbers only", f.object.Name())
	case isArray(v.Type()):
		t.refuse(v.Pos(), "pass a pointer to it", "an array is passed whole")
	case !isAddress(v.Type()) && holdsSlice(v.Type()):
		t.refuse(v.Pos(), "pass a pointer to it", "a struct that holds slices is passed whole")
	}
}

// checkResult refuses what may be a parameter and no result.
func (t *translator) checkResult(r *types.Var) {
	if r.Name() != "" {
		t.refuse(r.Pos(), "return the value by return", "a named result")
	}
	if _, slice := r.Type().Underlying().(*types.Slice); slice {
		t.refuse(r.Pos(), "return an index", "a slice as a result")
	}
	if isPointer(r.Type()) && arrayOf(r.Type()) != nil {
		t.refuse(r.Pos(), "return an index, or put the array into a struct", "a pointer to an array as a result")
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
