package translate

import (
	"go/token"
	"go/types"
	"strconv"
)

// longestArray is the most elements of an array: an int_fast16_t counts them.
const longestArray = 32767

// basic is the C type of a Go number, "" where there is none. A bool is a byte:
// neither C before stdbool.h nor C++ with it would take the other's.
func basic(b *types.Basic) string {
	switch b.Kind() {
	case types.Bool, types.UntypedBool:
		return "uint8_t"
	case types.Int8:
		return "int8_t"
	case types.Int16:
		return "int16_t"
	case types.Int32:
		return "int32_t"
	case types.Int64:
		return "int64_t"
	case types.Uint8:
		return "uint8_t"
	case types.Uint16:
		return "uint16_t"
	case types.Uint32:
		return "uint32_t"
	case types.Uint64:
		return "uint64_t"
	case types.Float32:
		return "float"
	}
	return ""
}

// width is the size of an integer type in bits, 0 of other types.
func width(typ types.Type) int {
	b, ok := typ.Underlying().(*types.Basic)
	if !ok {
		return 0
	}
	switch b.Kind() {
	case types.Int8, types.Uint8:
		return 8
	case types.Int16, types.Uint16:
		return 16
	case types.Int32, types.Uint32, types.UntypedRune:
		return 32
	case types.Int64, types.Uint64, types.Int, types.UntypedInt:
		return 64
	}
	return 0
}

func has(typ types.Type, info types.BasicInfo) bool {
	b, ok := typ.Underlying().(*types.Basic)
	return ok && b.Info()&info != 0
}

func isInteger(typ types.Type) bool  { return has(typ, types.IsInteger) }
func isUnsigned(typ types.Type) bool { return has(typ, types.IsUnsigned) }
func isFloat(typ types.Type) bool    { return has(typ, types.IsFloat) }
func isBool(typ types.Type) bool     { return has(typ, types.IsBoolean) }
func isNarrow(typ types.Type) bool   { w := width(typ); return w == 8 || w == 16 }

// isIndex reports Go's plain int, which only counts elements.
func isIndex(typ types.Type) bool {
	b, ok := typ.(*types.Basic)
	return ok && b.Kind() == types.Int
}

// isAddress reports what is an address in C.
func isAddress(typ types.Type) bool {
	switch typ.Underlying().(type) {
	case *types.Pointer, *types.Slice:
		return true
	}
	return false
}

// isScalar reports what has no parts: a number, bool or address.
func isScalar(typ types.Type) bool {
	return has(typ, types.IsNumeric|types.IsBoolean) || isAddress(typ)
}

func isPointer(typ types.Type) bool {
	_, ok := typ.Underlying().(*types.Pointer)
	return ok
}

func isArray(typ types.Type) bool {
	_, ok := typ.Underlying().(*types.Array)
	return ok
}

// arrayOf is the array that a type is or points to, nil where it does neither.
func arrayOf(typ types.Type) *types.Array {
	typ = typ.Underlying()
	if p, ok := typ.(*types.Pointer); ok {
		typ = p.Elem().Underlying()
	}
	a, _ := typ.(*types.Array)
	return a
}

// elementOf is what an index gives of an array, a pointer to one or a slice; nil of
// other types.
func elementOf(typ types.Type) types.Type {
	if a := arrayOf(typ); a != nil {
		return a.Elem()
	}
	if s, ok := typ.Underlying().(*types.Slice); ok {
		return s.Elem()
	}
	return nil
}

func lengthOf(a *types.Array) string { return strconv.FormatInt(a.Len(), 10) }

// basicOf is the C type of a type of numbers, "" of others.
func basicOf(typ types.Type) string {
	if b, ok := typ.Underlying().(*types.Basic); ok {
		return basic(b)
	}
	return ""
}

// checkType refuses a type of a variable, field or parameter that has no C.
func (t *translator) checkType(at token.Pos, typ types.Type) {
	switch typ := typ.(type) {
	case *types.Basic:
		t.checkBasic(at, typ)
	case *types.Named:
		switch under := typ.Underlying().(type) {
		case *types.Basic:
			t.checkBasic(at, under)
		case *types.Struct: // its fields were, where it is declared
		default:
			t.refuse(at, "name structs and numbers only", "type %s", typ)
		}
	case *types.Array:
		if typ.Len() == 0 || typ.Len() > longestArray {
			t.refuse(at, "1 to "+strconv.Itoa(longestArray)+" are counted", "an array of %d elements", typ.Len())
		}
		t.checkType(at, typ.Elem())
	case *types.Pointer:
		if isAddress(typ.Elem()) {
			t.refuse(at, "point to the thing itself", "a pointer to a pointer or slice")
		}
		t.checkType(at, typ.Elem())
	case *types.Slice:
		if _, nested := typ.Elem().Underlying().(*types.Array); nested {
			t.refuse(at, "put the rows into a struct", "a slice of arrays as a parameter")
		}
		t.checkType(at, typ.Elem())
		t.checkCell(at, typ.Elem())
	case *types.Tuple:
		t.refuse(at, "return a struct, or write through a pointer", "several results")
	default:
		t.refuse(at, "use integers of stated width, arrays and structs", "%s has no C here", typ)
	}
}

// checkCell refuses what cannot be an element or a plain field.
func (t *translator) checkCell(at token.Pos, typ types.Type) {
	switch typ := typ.(type) {
	case *types.Array:
		t.checkCell(at, typ.Elem())
	case *types.Pointer, *types.Slice:
		t.refuse(at, "hold the thing itself", "pointers or slices in an array")
	}
}

func (t *translator) checkBasic(at token.Pos, b *types.Basic) {
	if basic(b) != "" {
		return
	}
	mend := "use integers of stated width"
	switch {
	case b.Kind() == types.Int:
		mend = "plain int only counts elements (range over an array, len); write int32"
	case b.Info()&types.IsFloat != 0:
		mend = "use float32 or fixed point"
	case b.Kind() == types.Invalid:
		return // said already
	}
	t.refuse(at, mend, "%s has no C here", b)
}

// isGrid reports a pointer to an array of arrays: C before C23 takes no const
// there, so that it counts as written through.
func isGrid(typ types.Type) bool {
	a := arrayOf(typ)
	return isPointer(typ) && a != nil && isArray(a.Elem())
}

// holdsSlice reports whether copying a value of the type in Go would share
// what C copies.
func holdsSlice(typ types.Type) bool {
	switch under := typ.Underlying().(type) {
	case *types.Slice:
		return true
	case *types.Array:
		return holdsSlice(under.Elem())
	case *types.Struct:
		for f := range under.Fields() {
			if holdsSlice(f.Type()) {
				return true
			}
		}
	}
	return false
}
