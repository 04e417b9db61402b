package translate

import (
	"go/ast"
	"go/token"
	"go/types"
	"slices"
	"strings"
)

// call writes conversions, builtins and calls. A method takes its receiver first:
// r.Push(x) becomes ring_push(r, x). C may evaluate arguments in any order, so that
// none of them writes.
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
	if receiver != nil && w.t.source.info.Types[receiver].IsType() {
		w.refuse(e.Pos(), "call it of a value", "method %s is called by its type", fn.Name())
		return "0", precPostfix
	}
	if e.Ellipsis.IsValid() || fn.Signature().Variadic() {
		w.refuse(e.Pos(), "give each argument", "a variadic call")
	}
	if w.t.flow.writes(fn) && e != w.lone {
		w.refuse(e.Pos(), "C leaves the order open: let the call be the whole statement, right side or condition", "%s writes through a pointer inside a larger expression", fn.Name())
	}
	w.functionUse(f, e.Pos())
	var args []string
	if receiver != nil {
		args = append(args, w.receiver(receiver, fn))
	}
	for i, a := range e.Args {
		args = append(args, w.argument(a, fn.Signature().Params().At(i).Type()))
	}
	return f.name + "(" + strings.Join(args, ", ") + ")", precPostfix
}

// functionUse notes that C needs a function, or its library of mathematics.
func (w *writer) functionUse(f *function, at token.Pos) {
	w.called[f.name] = mention{at, "function"}
	if f.extern {
		w.use.math = true
	} else if !slices.Contains(w.use.functions, f) {
		w.use.functions = append(w.use.functions, f)
	}
}

// receiver writes a method's first argument: Go takes its address, or what it
// points to, by itself.
func (w *writer) receiver(e ast.Expr, fn *types.Func) string {
	want, have := isPointer(fn.Signature().Recv().Type()), isPointer(w.typeOf(e))
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

// sliceArgument writes what is passed for a slice parameter, a bare pointer in C:
// a[:] becomes a, a[from:] becomes &a[from].
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

// builtin writes min, max and len.
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

// isBuiltin reports a call of the builtin of a name.
func (w *writer) isBuiltin(e *ast.CallExpr, name string) bool {
	id, ok := ast.Unparen(e.Fun).(*ast.Ident)
	return ok && id.Name == name && w.t.source.info.Types[e.Fun].IsBuiltin()
}

// length writes len of an array as a number and of a sized field as its macro, each
// 32767 at most: C does not evaluate what it is the length of.
func (w *writer) length(e ast.Expr) string {
	w.checkUnmade(e)
	if a := arrayOf(w.typeOf(e)); a != nil {
		return lengthOf(a)
	}
	if f := w.t.fieldOf(e); f != nil && f.macro != "" {
		w.use.macros[f.macro] = true
		w.fieldUse(f)
		return f.macro
	}
	w.refuse(e.Pos(), "pass the count", "the length of a slice parameter")
	return "0"
}

// isLength reports an expression that is len of something.
func (w *writer) isLength(e ast.Expr) bool {
	c, ok := ast.Unparen(e).(*ast.CallExpr)
	return ok && w.isBuiltin(c, "len")
}

// extreme writes min and max by helpers in the integer type itself: a macro would
// evaluate an argument twice. Of floats Go's differ from C's in NaN and -0.
func (w *writer) extreme(name string, e *ast.CallExpr) string {
	typ := w.typeOf(e)
	c := w.typeName(typ)
	if !isInteger(typ) || isIndex(typ) {
		w.refuse(e.Pos(), "compare with if", "%s of %s", name, typ)
	}
	plain := basicOf(typ)
	if len(e.Args) == 1 {
		return w.in(e.Args[0], precPostfix)
	}
	text := w.value(e.Args[0])
	helper := name + "_" + strings.TrimSuffix(plain, "_t")
	w.use.extremes[helper] = plain
	w.called[helper] = mention{e.Pos(), "helper"}
	for _, a := range e.Args[1:] {
		text = helper + "(" + text + ", " + w.value(a) + ")"
	}
	if c != plain {
		return "(" + c + ")" + text
	}
	return text
}

// conversion writes T(x) as (t)x. Between integers both languages keep the bits
// that fit; for a signed T C leaves this to the compiler, and the code asks it. From
// an integer to float32 both round to the nearest. From a float C has only what lies
// in T's range. A conversion to float32 is written though it changes nothing: it
// says that the product inside is rounded.
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

// converted is what a conversion converts, nil of other calls.
func (w *writer) converted(e *ast.CallExpr) ast.Expr {
	if tv := w.t.source.info.Types[e.Fun]; tv.IsType() && len(e.Args) == 1 {
		return e.Args[0]
	}
	return nil
}
