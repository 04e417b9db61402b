package translate

import (
	"go/token"
	"go/types"
	"strings"
	"unicode"
)

// snake writes a Go name in C's manner: bearingDdeg and heightMM become
// bearing_ddeg and height_mm, MulQ15 mul_q15, CRCTable crc_table.
func snake(name string) string {
	runes := []rune(name)
	var b strings.Builder
	for i, r := range runes {
		if i > 0 && unicode.IsUpper(r) {
			before := runes[i-1]
			ends := i+1 < len(runes) && unicode.IsLower(runes[i+1]) // of a row of capitals
			if before != '_' && (!unicode.IsUpper(before) || ends) {
				b.WriteByte('_')
			}
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

// join joins the parts of a name that are not empty.
func join(parts ...string) string {
	var kept []string
	for _, p := range parts {
		if p != "" {
			kept = append(kept, p)
		}
	}
	return strings.Join(kept, "_")
}

// macro is the name of a constant or size.
func (t *translator) macro(parts ...string) string {
	return strings.ToUpper(join(append([]string{t.program.Prefix}, parts...)...))
}

// reservedWords mean something in C: its words, functions that a compiler knows
// without being told, and the helpers that min and max become.
const reservedWords = keywords + ` main
	abs labs llabs div ldiv abort exit free malloc calloc realloc rand srand atoi
	memchr memcmp memcpy memmove memset strcat strchr strcmp strcpy strlen index rindex
	acos asin atan atan2 ceil cos cosh erf exp exp2 fabs floor fma fmax fmin fmod frexp
	gamma hypot j0 j1 jn y0 y1 yn ldexp lgamma log log10 log1p log2 logb lrint lround
	modf nearbyint pow remainder rint round scalb signbit sin sincos sinh sqrt tan tanh
	tgamma trunc isnan isinf isfinite isdigit isspace tolower toupper printf puts putchar
	scanf signal time clock
	min_int8 min_int16 min_int32 min_int64 min_uint8 min_uint16 min_uint32 min_uint64
	max_int8 max_int16 max_int32 max_int64 max_uint8 max_uint16 max_uint32 max_uint64`

// wordSet splits a text into its words.
func wordSet(text string) map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(text) {
		m[w] = true
	}
	return m
}

// keywords are the words that no variable or field can be called by.
const keywords = `
	auto break case char const continue default do double else enum extern float
	for goto if inline int long register restrict return short signed sizeof static
	struct switch typedef union unsigned void volatile while`

// spared is the name of a variable or field: of one that is a word of C with _
// behind.
func spared(name string) string {
	if wordSet(keywords)[name] {
		return name + "_"
	}
	return name
}

// checkNames refuses two things of one name in C.
func (t *translator) checkNames() {
	taken := t.macrosTaken()
	words := wordSet(reservedWords)
	take := func(name string, at token.Pos) {
		if words[name] {
			t.refuse(at, "rename it, or give its package a part of a name", "%s has a meaning in C", name)
		}
		if other, ok := taken[name]; ok {
			t.refuse(at, "rename one", "%s is also the C name of what stands at %s", name, t.source.fset.Position(other))
		}
		taken[name] = at
	}
	for _, f := range t.order {
		if !f.extern {
			take(f.name, f.decl.Name.Pos())
		}
	}
	for _, p := range t.packages {
		scope := p.object.Scope()
		for _, n := range scope.Names() { // sorted
			switch o := scope.Lookup(n).(type) {
			case *types.Const:
				take(t.constants[o].name, o.Pos())
			case *types.Var:
				if d, ok := t.tables[o]; ok {
					take(d.name, o.Pos())
				}
			case *types.TypeName:
				if d, ok := t.structs[o]; ok {
					take(d.name, o.Pos())
				}
			}
		}
	}
	for _, d := range t.structs {
		t.checkFieldNames(d)
	}
	t.checkLetters()
}

// macrosTaken are the macros of sizes, each with the first field that names it.
func (t *translator) macrosTaken() map[string]token.Pos {
	out := map[string]token.Pos{}
	for _, f := range t.fields {
		if at, ok := out[f.macro]; f.macro != "" && (!ok || f.object.Pos() < at) {
			out[f.macro] = f.object.Pos()
		}
	}
	return out
}

// checkLetters refuses names of letters outside ASCII: not every C takes them.
func (t *translator) checkLetters() {
	for id := range t.source.info.Defs {
		if strings.ContainsFunc(id.Name, func(r rune) bool { return r > unicode.MaxASCII }) {
			t.refuse(id.Pos(), "use a to z", "%s has letters that C has not", id.Name)
		}
	}
}

// isName reports a name in C.
func isName(s string) bool {
	for i, r := range s {
		letter := r == '_' || 'a' <= r && r <= 'z' || 'A' <= r && r <= 'Z'
		if !letter && (i == 0 || r < '0' || r > '9') {
			return false
		}
	}
	return s != ""
}

func (t *translator) checkFieldNames(d *typeDecl) {
	st, ok := d.object.Type().Underlying().(*types.Struct)
	if !ok {
		return
	}
	taken := map[string]bool{}
	for v := range st.Fields() {
		f, ok := t.fields[v]
		if !ok {
			continue
		}
		if taken[f.name] {
			t.refuse(v.Pos(), "rename it", "field %s is %s in C, as another is", v.Name(), f.name)
		}
		taken[f.name] = true
	}
}
