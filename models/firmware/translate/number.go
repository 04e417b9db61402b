package translate

import (
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"strconv"
	"strings"
)

// Go computes constants without limit and then gives them a type; a bare number is
// an int or long in C. So every constant expression is written as its value, with
// the suffix that gives it the width and sign of its Go type wherever that matters:
// where it is unsigned, or may exceed the 16 bits that an int is sure to have.

// largestInt is the largest number that is an int in C on every board.
const largestInt = 32767

// constant writes a constant expression: a name where it is one, else its
// value.
func (w *writer) constant(e ast.Expr, v constant.Value) (string, int) {
	typ := w.typeOf(e)
	c := w.namedConstant(e)
	if c != nil && isInteger(typ) && isFloat(c.object.Type()) {
		c = nil // 3.0 used as 3: by its name C would compute in float
	}
	if c != nil {
		name := w.useConstant(c)
		if isUntyped(c.object.Type()) && castsName(c, v, typ) {
			return "(" + w.typeName(typ) + ")" + name, precUnary
		}
		return name, precPostfix
	}
	return numeral(v, typ, hexOf(e))
}

func isUntyped(typ types.Type) bool { return has(typ, types.IsUntyped) }

// castsName reports an untyped constant whose type in C would not be the one
// wanted.
func castsName(c *constDecl, v constant.Value, typ types.Type) bool {
	if isFloat(typ) {
		return !isFloat(c.object.Type())
	}
	n, exact := int64Of(v)
	return isUnsigned(typ) && (!exact || n > largestInt)
}

// int64Of is a constant's value, if it is an integer of 64 bits.
func int64Of(v constant.Value) (n int64, exact bool) { return constant.Int64Val(constant.ToInt(v)) }

// hexOf is a number as written where it is a hexadecimal integer, "" elsewhere.
func hexOf(e ast.Expr) string {
	l, ok := ast.Unparen(e).(*ast.BasicLit)
	if !ok || l.Kind != token.INT || !strings.HasPrefix(strings.ToLower(l.Value), "0x") {
		return ""
	}
	return strings.ReplaceAll(l.Value, "_", "")
}

// numeral writes a number of a type, and tells how tightly it binds. Hex is the
// number as written where that was hexadecimal.
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
	case width(typ) == 64 && isUnsigned(typ) && (!exact || n > largestInt):
		return "UINT64_C(" + digits + ")", precPostfix
	case isUnsigned(typ) && width(typ) >= 32:
		return digits + "u", precPostfix
	case width(typ) == 64 && !isIndex(typ) && n > largestInt:
		return "INT64_C(" + digits + ")", precPostfix
	}
	return digits, precPostfix
}

// negative writes a number below 0. C has no negative numerals: the least of a type
// is a difference, as its opposite does not fit.
func negative(v constant.Value, typ types.Type) (string, int) {
	n, _ := constant.Int64Val(v)
	switch {
	case width(typ) == 64 && n == -1<<63:
		return "(-INT64_C(9223372036854775807) - 1)", precPostfix
	case n == -1<<31 && width(typ) == 32:
		return "(-2147483647 - 1)", precPostfix
	case width(typ) == 64 && !isIndex(typ) && n < -largestInt:
		return "-INT64_C(" + strconv.FormatInt(-n, 10) + ")", precUnary
	}
	return strconv.FormatInt(n, 10), precUnary
}

// floatNumeral writes a float32 in the fewest digits that read as the same.
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

// constantText writes the definition of a constant, const Late = 2 as
// #define PREFIX_LATE 2.
func (w *writer) constantText(c *constDecl) {
	typ := c.object.Type()
	if b, ok := typ.(*types.Basic); ok && b.Kind() == types.UntypedInt {
		typ = types.Typ[types.Int32] // C's own rule for a bare number, but for the widest
		if n, exact := int64Of(c.object.Val()); !exact {
			typ = types.Typ[types.Uint64]
		} else if n > 1<<31-1 || n < -1<<31 {
			typ = types.Typ[types.Int64]
		}
	}
	hex := ""
	if c.value != nil {
		hex = hexOf(c.value)
	}
	text, prec := numeral(c.object.Val(), typ, hex)
	if prec < precPostfix {
		text = "(" + text + ")"
	}
	w.comment(c.doc)
	w.line("#define " + c.name + " " + text)
	w.lineComment(c.spec.Comment)
}
