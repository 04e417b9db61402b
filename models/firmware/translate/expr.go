package translate

import (
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"strconv"
	"strings"
)

// Precedences of C, as far as they are told apart; what binds tighter is
// higher.
const (
	precLor = iota + 1
	precLand
	precBit // | ^ &: always in brackets inside others
	precCompare
	precShift
	precAdd
	precMul
	precUnary
	precPostfix
)

// expr writes an expression and tells how tightly it binds.
func (w *writer) expr(e ast.Expr) (string, int) {
	if v := w.fold(e); v != nil {
		return w.constant(e, v)
	}
	switch e := e.(type) {
	case *ast.ParenExpr:
		return w.expr(e.X)
	case *ast.Ident:
		return w.ident(e), precPostfix
	case *ast.SelectorExpr:
		if g := w.globalOf(e); g != "" {
			w.typeUseOf(w.typeOf(e))
			return "&" + g, precUnary
		}
		return w.selector(e), precPostfix
	case *ast.IndexExpr:
		return w.index(e), precPostfix
	case *ast.StarExpr:
		if _, array := w.typeOf(e).Underlying().(*types.Array); array {
			w.refuse(e.Pos(), "index the pointer", "an array as a value")
		}
		return "*" + w.in(e.X, precUnary), precUnary
	case *ast.UnaryExpr:
		return w.unary(e)
	case *ast.BinaryExpr:
		return w.binary(e)
	case *ast.CallExpr:
		return w.call(e)
	case *ast.CompositeLit:
		return w.literal(e), precPostfix
	case *ast.SliceExpr:
		w.refuse(e.Pos(), "pass it straight to a slice parameter", "a slice expression")
	case *ast.FuncLit:
		w.refuse(e.Pos(), "write a function at package level", "a closure")
	default:
		w.refuse(e.Pos(), "use the subset", "an expression that has no C here (%T)", e)
	}
	return "0", precPostfix
}

// in writes an expression as part of one of the given precedence.
func (w *writer) in(e ast.Expr, outer int) string {
	text, prec := w.expr(e)
	if prec < outer {
		return "(" + text + ")"
	}
	return text
}

// value writes an expression that is stored, passed or returned as its own
// type: of a narrow one C has computed in int.
func (w *writer) value(e ast.Expr) string {
	w.checkValue(e)
	text, prec := w.expr(e)
	typ := w.typeOf(e)
	if b, ok := ast.Unparen(e).(*ast.BinaryExpr); ok && isNarrow(typ) && prec < precUnary && isBitwise(b.Op) {
		return "(" + w.typeName(typ) + ")(" + text + ")"
	}
	return text
}

// checkValue refuses what C cannot copy as Go does.
func (w *writer) checkValue(e ast.Expr) {
	typ := w.typeOf(e)
	if typ == nil {
		return
	}
	if _, array := typ.Underlying().(*types.Array); array {
		w.refuse(e.Pos(), "loop over the elements, or put the array into a struct", "an array is copied whole")
	} else if _, isStruct := typ.Underlying().(*types.Struct); isStruct && holdsSlice(typ) {
		w.refuse(e.Pos(), "pass a pointer", "a struct that holds slices is copied")
	}
}

func isBitwise(op token.Token) bool {
	return op == token.AND || op == token.OR || op == token.XOR || op == token.AND_NOT || op == token.SHR
}

func (w *writer) ident(e *ast.Ident) string {
	object := w.t.source.info.Uses[e]
	if object == nil {
		object = w.t.source.info.Defs[e]
	}
	v, ok := object.(*types.Var)
	if !ok {
		w.refuse(e.Pos(), "use a value", "%s is no variable", e.Name)
		return "0"
	}
	w.read[v] = true
	if d, ok := w.t.tables[v]; ok {
		w.use.tables[d] = true
		return d.name
	}
	return w.local(e)
}

// tableOf is the table that an expression names, nil where it names none.
func (w *writer) tableOf(e ast.Expr) *table {
	id, ok := ast.Unparen(e).(*ast.Ident)
	if !ok {
		return nil
	}
	v, _ := w.t.source.info.Uses[id].(*types.Var)
	return w.t.tables[v]
}

// local is the name of a variable in C.
func (w *writer) local(e *ast.Ident) string { return w.nameLocal(e.Name, e.Pos()) }

func (w *writer) nameLocal(goName string, at token.Pos) string {
	name := spared(snake(goName))
	if other, ok := w.names[name]; ok && other != goName {
		w.refuse(at, "rename one", "%s and %s are both %s in C", goName, other, name)
	}
	w.names[name] = goName
	return name
}

// ownName is a name that the translator makes up; the source may have no variable
// that is called so in C.
func (w *writer) ownName(name string, at token.Pos) string {
	own := name + " of the translator"
	if other, ok := w.names[name]; ok && other != own {
		w.refuse(at, "rename the variable", "%s is %s in C, which the loop needs", other, name)
	}
	w.names[name] = own
	return name
}

func (w *writer) selector(e *ast.SelectorExpr) string {
	v, ok := w.t.source.info.Uses[e.Sel].(*types.Var)
	f := w.t.fields[v]
	if !ok || f == nil {
		w.refuse(e.Pos(), "use fields of the translated structs", "%s is no field", e.Sel.Name)
		return "0"
	}
	w.typeUse(f.owner)
	w.use.fields[f] = true
	if g := w.globalOf(e.X); g != "" {
		w.typeUseOf(w.typeOf(e.X))
		return g + "." + f.name
	}
	base := w.in(e.X, precPostfix)
	if star, ok := ast.Unparen(e.X).(*ast.StarExpr); ok {
		return w.in(star.X, precPostfix) + "->" + f.name
	}
	if _, pointer := w.typeOf(e.X).Underlying().(*types.Pointer); pointer {
		return base + "->" + f.name
	}
	return base + "." + f.name
}

func (w *writer) typeUse(d *typeDecl) { w.use.types[d] = true }

// typeUseOf notes the type that a pointer points to.
func (w *writer) typeUseOf(typ types.Type) {
	if p, ok := typ.Underlying().(*types.Pointer); ok {
		w.typeName(p.Elem())
	}
}

// globalOf is the global memory that an expression points to, "" where it is
// not known.
func (w *writer) globalOf(e ast.Expr) string {
	s, ok := ast.Unparen(e).(*ast.SelectorExpr)
	if !ok {
		return ""
	}
	v, _ := w.t.source.info.Uses[s.Sel].(*types.Var)
	if f := w.t.fields[v]; f != nil {
		return f.global
	}
	return ""
}

func (w *writer) index(e *ast.IndexExpr) string {
	base := ast.Unparen(e.X)
	if star, ok := base.(*ast.StarExpr); ok {
		base = star.X
	}
	if _, ok := base.(*ast.CallExpr); ok {
		w.refuse(e.Pos(), "keep it in a variable first", "the result of a call is indexed")
	}
	switch under := w.typeOf(base).Underlying().(type) {
	case *types.Array, *types.Slice:
	case *types.Pointer:
		if _, ok := under.Elem().Underlying().(*types.Array); !ok {
			w.refuse(e.Pos(), "index an array", "an index on %s", under)
		}
	default:
		w.refuse(e.Pos(), "index an array", "an index on %s", under)
	}
	i, _ := w.expr(e.Index)
	return w.in(base, precPostfix) + "[" + i + "]"
}

func (w *writer) unary(e *ast.UnaryExpr) (string, int) {
	typ := w.typeOf(e.X)
	switch e.Op {
	case token.AND:
		return w.address(e), precUnary
	case token.NOT:
		return "!" + w.in(e.X, precUnary), precUnary
	case token.ADD:
		return w.expr(e.X)
	case token.SUB:
		w.checkArithmetic(e.Pos(), e.Op, typ)
		if isNarrow(typ) && isUnsigned(typ) {
			w.refuse(e.Pos(), "convert to int32 or uint32 first", "- of %s", typ)
		}
		if isUnsigned(typ) {
			return "0u - " + w.in(e.X, precMul), precAdd
		}
		return "-" + w.in(e.X, precPostfix), precUnary
	case token.XOR:
		if isNarrow(typ) || isIndex(typ) {
			w.refuse(e.Pos(), "convert to uint32 first", "^ of %s", typ)
		}
		return "~" + w.in(e.X, precUnary), precUnary
	}
	w.refuse(e.Pos(), "use the subset", "operator %s", e.Op)
	return "0", precPostfix
}

func (w *writer) address(e *ast.UnaryExpr) string {
	switch x := ast.Unparen(e.X).(type) {
	case *ast.Ident:
		if w.looping[w.t.source.info.Uses[x]] {
			w.refuse(e.Pos(), "copy it to a variable", "the address of a loop's variable %s", x.Name)
		}
		if w.tableOf(x) != nil {
			w.refuse(e.Pos(), "index the table, or pass it as a slice", "the address of table %s", x.Name)
		}
	case *ast.SelectorExpr, *ast.IndexExpr:
	default:
		w.refuse(e.Pos(), "take the address of a variable, field or element", "the address of an expression")
	}
	text := w.in(e.X, precUnary)
	if _, array := w.typeOf(e.X).Underlying().(*types.Array); array {
		return text // an array is its address
	}
	if holder := w.typeOf(e.X).Underlying(); isAddress(holder) {
		w.refuse(e.Pos(), "point to the thing itself", "the address of a pointer or slice")
	}
	return "&" + text
}

// call writes conversions, builtins and calls.
func (w *writer) call(e *ast.CallExpr) (string, int) {
	if tv := w.t.source.info.Types[e.Fun]; tv.IsType() {
		return w.conversion(e, tv.Type)
	} else if tv.IsBuiltin() {
		return w.builtin(e), precPostfix
	}
	fn, receiver := w.t.callee(e)
	f, ok := w.t.functions[fn]
	if !ok {
		w.refuse(e.Pos(), "call a function of the translated packages by name", "a call of what is no function of them")
		return "0", precPostfix
	}
	if e.Ellipsis.IsValid() || fn.Signature().Variadic() {
		w.refuse(e.Pos(), "give each argument", "a variadic call")
	}
	if w.t.flow.writes(fn) && e != w.lone {
		w.refuse(e.Pos(), "C leaves the order open: let the call be the whole statement, right side or condition", "%s writes through a pointer inside a larger expression", fn.Name())
	}
	w.useFunction(f, e.Pos())
	var args []string
	if receiver != nil {
		args = append(args, w.receiver(receiver, fn))
	}
	for i, a := range e.Args {
		args = append(args, w.argument(a, fn.Signature().Params().At(i).Type()))
	}
	return f.name + "(" + strings.Join(args, ", ") + ")", precPostfix
}

func (w *writer) useFunction(f *function, at token.Pos) {
	w.called[f.name] = at
	if f.extern {
		w.use.math = true
		return
	}
	for _, g := range w.use.functions {
		if g == f {
			return
		}
	}
	w.use.functions = append(w.use.functions, f)
}

// receiver writes a method's first argument.
func (w *writer) receiver(e ast.Expr, fn *types.Func) string {
	_, want := fn.Signature().Recv().Type().Underlying().(*types.Pointer)
	_, have := w.typeOf(e).Underlying().(*types.Pointer)
	switch {
	case want && !have:
		return w.address(&ast.UnaryExpr{OpPos: e.Pos(), Op: token.AND, X: e})
	case !want && have:
		return "*" + w.in(e, precUnary)
	case want:
		text, _ := w.expr(e)
		return text
	}
	return w.value(e)
}

func (w *writer) argument(e ast.Expr, want types.Type) string {
	if _, slice := want.Underlying().(*types.Slice); slice {
		return w.sliceArgument(e)
	}
	return w.value(e)
}

func (w *writer) sliceArgument(e ast.Expr) string {
	s, ok := ast.Unparen(e).(*ast.SliceExpr)
	if !ok {
		text, _ := w.expr(e)
		return text
	}
	if s.High != nil || s.Max != nil {
		w.refuse(s.Pos(), "C has no lengths here: leave the end out and pass the count", "a slice with an end")
	}
	base := w.in(s.X, precPostfix)
	if s.Low == nil {
		return base
	}
	low, _ := w.expr(s.Low)
	return "&" + base + "[" + low + "]"
}

func (w *writer) builtin(e *ast.CallExpr) string {
	name := ""
	if id, ok := ast.Unparen(e.Fun).(*ast.Ident); ok {
		name = id.Name
	}
	switch name {
	case "len":
		return w.length(e.Args[0])
	case "min", "max":
		return w.extreme(name, e)
	}
	w.refuse(e.Pos(), "min, max and len are the only ones", "builtin %s", name)
	return "0"
}

// length writes len of an array or a sized field.
func (w *writer) length(e ast.Expr) string {
	typ := w.typeOf(e).Underlying()
	if p, ok := typ.(*types.Pointer); ok {
		typ = p.Elem().Underlying()
	}
	if a, ok := typ.(*types.Array); ok {
		return strconv.FormatInt(a.Len(), 10)
	}
	if s, ok := ast.Unparen(e).(*ast.SelectorExpr); ok {
		if v, ok := w.t.source.info.Uses[s.Sel].(*types.Var); ok {
			if f := w.t.fields[v]; f != nil && f.macro != "" {
				w.use.macros[f.macro] = true
				w.use.fields[f] = true
				w.typeUse(f.owner)
				return f.macro
			}
		}
	}
	w.refuse(e.Pos(), "pass the count", "the length of a slice parameter")
	return "0"
}

// extreme writes min and max by helpers.
func (w *writer) extreme(name string, e *ast.CallExpr) string {
	typ := w.typeOf(e)
	c := w.typeName(typ)
	if !isInteger(typ) || isIndex(typ) {
		w.refuse(e.Pos(), "compare with if", "%s of %s", name, typ)
	}
	helper := name + "_" + strings.TrimSuffix(basicOf(typ), "_t")
	w.use.extremes[helper] = basicOf(typ)
	text := w.value(e.Args[0])
	for _, a := range e.Args[1:] {
		text = helper + "(" + text + ", " + w.value(a) + ")"
	}
	if c != basicOf(typ) {
		return "(" + c + ")" + text
	}
	return text
}

func basicOf(typ types.Type) string {
	if b, ok := typ.Underlying().(*types.Basic); ok {
		return basic(b)
	}
	return ""
}

func (w *writer) conversion(e *ast.CallExpr, to types.Type) (string, int) {
	x := e.Args[0]
	from := w.typeOf(x)
	w.t.checkType(e.Pos(), to)
	switch {
	case isInteger(from) && (isInteger(to) || isFloat(to)), isFloat(from) && isFloat(to), isBool(from) && isBool(to):
	case isFloat(from) && isInteger(to):
		if w.fn == nil || !w.fn.inRange {
			w.refuse(e.Pos(), "use a function marked //c:inrange that holds it to the range first", "float32 to %s: what lies outside is undefined in C", to)
		}
	default:
		w.refuse(e.Pos(), "convert numbers only", "a conversion from %s to %s", from, to)
	}
	if !isFloat(to) && types.Identical(from.Underlying(), to.Underlying()) {
		return w.expr(x)
	}
	if isInteger(to) && !isUnsigned(to) {
		w.use.signs = true
	}
	return "(" + w.typeName(to) + ")" + w.in(x, precUnary), precUnary
}

// literal writes a struct by its fields.
func (w *writer) literal(e *ast.CompositeLit) string {
	typ := w.typeOf(e)
	if _, ok := typ.Underlying().(*types.Struct); !ok {
		w.refuse(e.Pos(), "declare it with var and fill it", "a literal of %s", typ)
		return "0"
	}
	if holdsSlice(typ) {
		w.refuse(e.Pos(), "set its fields one by one", "a literal of a struct that holds slices")
	}
	var parts []string
	for _, el := range e.Elts {
		kv, ok := el.(*ast.KeyValueExpr)
		if !ok {
			w.refuse(el.Pos(), "name the fields", "a literal without field names")
			continue
		}
		id, _ := kv.Key.(*ast.Ident)
		v, _ := w.t.source.info.Uses[id].(*types.Var)
		f := w.t.fields[v]
		if f == nil {
			continue
		}
		if _, fixed := w.t.fixed[v]; fixed && w.folding {
			continue
		}
		w.use.fields[f] = true
		parts = append(parts, "."+f.name+" = "+w.value(kv.Value))
	}
	name := w.typeName(typ)
	if len(parts) == 0 {
		return "(" + name + "){0}"
	}
	return "(" + name + "){" + strings.Join(parts, ", ") + "}"
}

// constant writes a constant expression: a name where it is one, else its
// value.
func (w *writer) constant(e ast.Expr, v constant.Value) (string, int) {
	typ := w.typeOf(e)
	if c := w.namedConstant(e); c != nil {
		name := w.useConstant(c)
		if isUntyped(c.object.Type()) && castsName(v, typ) {
			return "(" + w.typeName(typ) + ")" + name, precUnary
		}
		return name, precPostfix
	}
	hex := ""
	if l, ok := ast.Unparen(e).(*ast.BasicLit); ok && (strings.HasPrefix(l.Value, "0x") || strings.HasPrefix(l.Value, "0X")) {
		hex = strings.ReplaceAll(l.Value, "_", "")
	}
	return numeral(v, typ, hex)
}

func isUntyped(typ types.Type) bool { return has(typ, types.IsUntyped) }

// castsName reports an untyped constant whose type in C would not be the one
// wanted.
func castsName(v constant.Value, typ types.Type) bool {
	if isFloat(typ) {
		return v.Kind() == constant.Int
	}
	n, exact := constant.Int64Val(constant.ToInt(v))
	return isUnsigned(typ) && (!exact || n > 32767)
}

// numeral writes a number of a type. Hex is the number as written where that
// was hexadecimal.
func numeral(v constant.Value, typ types.Type, hex string) (string, int) {
	switch {
	case v.Kind() == constant.Bool:
		if constant.BoolVal(v) {
			return "1", precPostfix
		}
		return "0", precPostfix
	case isFloat(typ) || v.Kind() == constant.Float && !isInteger(typ):
		return floatNumeral(v)
	}
	v = constant.ToInt(v)
	if constant.Sign(v) < 0 {
		return negative(v, typ)
	}
	digits := v.ExactString()
	if hex != "" {
		digits = hex
	}
	n, exact := constant.Int64Val(v)
	switch {
	case width(typ) == 64 && isUnsigned(typ) && (!exact || n > 32767):
		return "UINT64_C(" + digits + ")", precPostfix
	case isUnsigned(typ) && width(typ) >= 32:
		return digits + "u", precPostfix
	case (width(typ) == 64 && !isIndex(typ)) && n > 32767:
		return "INT64_C(" + digits + ")", precPostfix
	}
	return digits, precPostfix
}

func negative(v constant.Value, typ types.Type) (string, int) {
	n, _ := constant.Int64Val(v)
	switch {
	case width(typ) == 64 && n == -1<<63:
		return "(-INT64_C(9223372036854775807) - 1)", precPostfix
	case n == -1<<31 && width(typ) == 32:
		return "(-2147483647 - 1)", precPostfix
	case width(typ) == 64 && !isIndex(typ) && n < -32767:
		return "-INT64_C(" + strconv.FormatInt(-n, 10) + ")", precUnary
	}
	return strconv.FormatInt(n, 10), precUnary
}

func floatNumeral(v constant.Value) (string, int) {
	f, _ := constant.Float32Val(v)
	text := strconv.FormatFloat(float64(f), 'g', -1, 32)
	if !strings.ContainsAny(text, ".e") {
		text += ".0"
	}
	if f < 0 {
		return text + "f", precUnary
	}
	return text + "f", precPostfix
}
