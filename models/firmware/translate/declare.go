package translate

import (
	"go/ast"
	"go/types"
	"reflect"
	"strconv"
)

// declare collects what stands at package level and gives it its C name.
func (t *translator) declare() {
	t.functions = map[*types.Func]*function{}
	t.constants = map[*types.Const]*constDecl{}
	t.tables = map[*types.Var]*table{}
	t.structs = map[*types.TypeName]*typeDecl{}
	t.fields = map[*types.Var]*field{}
	t.fixed = map[*types.Var]int64{}
	for _, p := range t.packages {
		for _, f := range p.files {
			for _, d := range f.Decls {
				switch d := d.(type) {
				case *ast.FuncDecl:
					t.declareFunc(p, f, d)
				case *ast.GenDecl:
					t.declareGroup(p, d)
				}
			}
		}
	}
	t.applyNames()
	t.applyFixed()
	t.checkNames()
	t.checkDirectives()
}

func (t *translator) declareGroup(p *pkg, d *ast.GenDecl) {
	_, whole := directive(d.Doc, wholeDirective)
	for _, s := range d.Specs {
		switch s := s.(type) {
		case *ast.TypeSpec:
			t.declareType(p, d, s)
		case *ast.ValueSpec:
			doc, group := s.Doc, d.Doc
			if !d.Lparen.IsValid() {
				doc, group = d.Doc, nil
			}
			for i, id := range s.Names {
				var value ast.Expr
				if i < len(s.Values) {
					value = s.Values[i]
				}
				switch object := t.source.info.Defs[id].(type) {
				case *types.Const:
					t.constants[object] = &constDecl{object: object, spec: s, value: value, doc: doc, group: group, whole: whole, name: t.macro(p.Part, snake(id.Name))}
				case *types.Var:
					t.declareTable(p, doc, s, id, object, value)
				}
			}
		}
	}
}

func (t *translator) declareTable(p *pkg, doc *ast.CommentGroup, s *ast.ValueSpec, id *ast.Ident, object *types.Var, value ast.Expr) {
	_, array := object.Type().Underlying().(*types.Array)
	switch {
	case !array || value == nil:
		t.refuse(id.Pos(), "write a constant, a field of the state, or an array of constants", "variable %s at package level", id.Name)
	case id.IsExported():
		t.refuse(id.Pos(), "a table is its package's own: begin its name with a small letter", "table %s is exported", id.Name)
	case len(s.Names) > 1:
		t.refuse(id.Pos(), "declare each by itself", "several tables in one declaration")
	}
	if array {
		t.checkType(id.Pos(), object.Type())
		t.checkCell(id.Pos(), object.Type())
		if holdsSlice(object.Type()) {
			t.refuse(id.Pos(), "hold the things themselves", "table %s holds slices", id.Name)
		}
	}
	t.tables[object] = &table{object: object, value: value, doc: doc, name: join(p.Part, snake(id.Name))}
}

func (t *translator) declareType(p *pkg, d *ast.GenDecl, s *ast.TypeSpec) {
	object, ok := t.source.info.Defs[s.Name].(*types.TypeName)
	if !ok {
		return
	}
	doc := s.Doc
	if doc == nil && len(d.Specs) == 1 {
		doc = d.Doc
	}
	if s.Assign.IsValid() || s.TypeParams != nil {
		t.refuse(s.Pos(), "declare a type of its own", "%s is an alias or generic", s.Name.Name)
		return
	}
	_, whole := directive(doc, wholeDirective)
	decl := &typeDecl{object: object, doc: doc, whole: whole, key: p.object.Name() + "." + object.Name(),
		name: join(t.program.Prefix, p.Part, snake(object.Name()), "t")}
	t.structs[object] = decl
	switch under := object.Type().Underlying().(type) {
	case *types.Basic:
		t.checkType(s.Type.Pos(), object.Type())
	case *types.Struct:
		t.declareFields(decl, s.Type, under)
	default:
		t.refuse(s.Type.Pos(), "name structs and numbers only", "type %s is neither a struct nor a number", s.Name.Name)
	}
}

func (t *translator) declareFields(decl *typeDecl, syntax ast.Expr, under *types.Struct) {
	st, ok := syntax.(*ast.StructType)
	if !ok {
		t.refuse(syntax.Pos(), "write its fields out", "type %s takes its fields from another", decl.object.Name())
		return
	}
	i := 0
	for _, f := range st.Fields.List {
		if len(f.Names) == 0 {
			t.refuse(f.Pos(), "give the field a name", "an embedded field in %s", decl.object.Name())
			return
		}
		tag := ""
		if f.Tag != nil {
			text, _ := strconv.Unquote(f.Tag.Value)
			tag = reflect.StructTag(text).Get("c")
		}
		for range f.Names {
			t.declareField(decl, f, under.Field(i), tag)
			i++
		}
	}
}

func (t *translator) declareField(decl *typeDecl, syntax *ast.Field, object *types.Var, tag string) {
	out := &field{object: object, syntax: syntax, owner: decl, name: spared(snake(object.Name()))}
	t.fields[object] = out
	if object.Name() == "_" {
		t.refuse(object.Pos(), "name it or leave it out", "a field without a name in %s", decl.object.Name())
	}
	switch under := object.Type().(type) {
	case *types.Slice:
		if tag == "" || tag == "const" {
			t.refuse(object.Pos(), "name the macro of its size: `c:\"RING\"`", "slice %s.%s has no size in C", decl.object.Name(), object.Name())
		}
		out.macro = t.macro(tag)
		if !isName(out.macro) {
			t.refuse(object.Pos(), "use letters, digits and _", "the size of %s.%s, %q, is no name in C", decl.object.Name(), object.Name(), tag)
		}
		t.checkType(object.Pos(), under.Elem())
		t.checkCell(object.Pos(), under.Elem())
	case *types.Pointer:
		if tag != "const" {
			t.refuse(object.Pos(), "hold a pointer only to what is not written: `c:\"const\"`", "pointer %s.%s", decl.object.Name(), object.Name())
		}
		out.readOnly = true
		t.checkType(object.Pos(), object.Type())
	default:
		if tag != "" {
			t.refuse(object.Pos(), "leave it out", "the tag c:%q of %s.%s is for slices and pointers", tag, decl.object.Name(), object.Name())
		}
		t.checkType(object.Pos(), object.Type())
		t.checkCell(object.Pos(), object.Type())
	}
}

func (t *translator) declareFunc(p *pkg, file *ast.File, d *ast.FuncDecl) {
	object, ok := t.source.info.Defs[d.Name].(*types.Func)
	if !ok {
		return
	}
	if d.Name.Name == "init" || d.Name.Name == "main" && p.object.Name() == "main" {
		t.refuse(d.Name.Pos(), "call what it does by name", "func %s runs by itself", d.Name.Name)
		return
	}
	f := &function{decl: d, object: object, pkg: p, file: file}
	name, extern := directive(d.Doc, externDirective)
	_, f.inRange = directive(d.Doc, inRangeDirective)
	f.extern = extern
	f.name = join(p.Part, snake(d.Name.Name))
	if d.Recv != nil {
		f.name = join(p.Part, snake(receiverName(object)), snake(d.Name.Name))
	}
	if extern {
		f.name = name
		if !isName(name) {
			t.refuse(d.Pos(), "write //c:extern NAME", "%q is not the name of a function in C", name)
		}
	}
	t.functions[object] = f
	t.order = append(t.order, f)
}

// receiverName is the name of a method's type.
func receiverName(m *types.Func) string {
	typ := m.Signature().Recv().Type()
	if p, ok := typ.(*types.Pointer); ok {
		typ = p.Elem()
	}
	if n, ok := typ.(*types.Named); ok {
		return n.Obj().Name()
	}
	return ""
}

// key names a function as options do: PACKAGE.Function or PACKAGE.Type.Method.
func (f *function) key() string {
	key := f.pkg.object.Name() + "."
	if f.decl.Recv != nil {
		key += receiverName(f.object) + "."
	}
	return key + f.object.Name()
}
