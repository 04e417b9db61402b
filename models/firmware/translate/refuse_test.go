package translate_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"strikerose/models/firmware/translate"
)

// refusals are pieces of Go outside the subset. A ¦ stands before the place
// that is blamed; want is part of what is said of it. Body is put into a
// function with the parameters of frame.
var refusals = []struct{ name, top, body, want string }{
	{name: "int variable", body: "¦x := 5; a.n = int32(x)", want: "plain int"},
	{name: "int declared", body: "var ¦x int; a.n = int32(x)", want: "plain int"},
	{name: "int arithmetic", body: "for i := range a.list { a.n = int32(i ¦+ 1) }", want: "plain int"},
	{name: "int parameter", top: "func f(¦x int) {}", want: "int has no C"},
	{name: "float64", body: "var ¦x float64; a.n = int32(x)", want: "float64 has no C"},
	{name: "string", top: "type s struct { ¦name string }", want: "string has no C"},
	{name: "map", top: "type s struct { ¦m map[int32]int32 }", want: "has no C"},
	{name: "channel", top: "func f(¦c chan int32) {}", want: "has no C"},
	{name: "interface", top: "func f(¦c interface{}) {}", want: "has no C"},
	{name: "function value", top: "func f(¦c func()) {}", want: "has no C"},
	{name: "uintptr", top: "type s struct { ¦p uintptr }", want: "uintptr has no C"},
	{name: "named slice", top: "type s ¦[]int32", want: "neither a struct nor a number"},
	{name: "alias", top: "type ¦s = int32", want: "alias"},
	{name: "generic type", top: "type ¦s[T any] struct{ x T }", want: "generic"},
	{name: "generic function", top: "¦func f[T any](x T) {}", want: "generic"},
	{name: "embedded field", top: "type s struct{ ¦inner }\ntype inner struct{ x int32 }", want: "embedded"},
	{name: "slice without size", top: "type s struct{ ¦x []int32 }", want: "no size in C"},
	{name: "pointer field", top: "type s struct{ ¦x *state }", want: "pointer s.x"},
	{name: "array of pointers", top: "type s struct{ ¦x [2]*state }", want: "pointers or slices in an array"},
	{name: "long array", top: "type s struct{ ¦x [40000]int8 }", want: "40000 elements"},
	{name: "anonymous struct", top: "type s struct{ ¦x struct{ y int32 } }", want: "has no C"},
	{name: "package variable", top: "var ¦count int32", want: "at package level"},
	{name: "exported table", top: "var ¦Table = [2]int32{1, 2}", want: "is exported"},
	{name: "table of results", top: "var tab = [2]int32{1, ¦f()}\nfunc f() int32 { return 2 }", want: "not constant"},
	{name: "short table", top: "var tab = ¦[3]int32{1, 2}", want: "2 of 3 elements"},
	{name: "table written", top: "var tab = [2]int32{1, 2}", body: "¦tab[0] = 3", want: "constant memory is written"},
	{name: "table handed to a writer", top: "var tab = [2]int32{1, 2}\nfunc put(x []int32) { x[0] = 1 }", body: "put(¦tab[:])", want: "constant memory goes to x"},
	{name: "constant field written", body: "¦a.fixed.n = 3", want: "constant memory is written"},
	{name: "constant field handed to a writer", top: "func put(x *state) { x.n = 1 }", body: "put(¦a.fixed)", want: "constant memory goes to x"},
	{name: "constant field through a variable", body: "p := ¦a.fixed\np.n = 2", want: "constant memory goes to p"},
	{name: "text constant", top: "const ¦name = \"x\"", want: "no number"},
	{name: "init", top: "func ¦init() {}", want: "runs by itself"},
	{name: "several results", top: "func f() ¦(int32, bool) { return 1, true }", want: "several results"},
	{name: "named result", top: "func f() (¦x int32) { return 1 }", want: "named result"},
	{name: "variadic", top: "¦func f(x ...int32) {}", want: "variadic"},
	{name: "array passed whole", top: "func f(¦x [3]int32) {}", want: "array is passed whole"},
	{name: "sized struct passed whole", top: "func f(¦x sized) {}", want: "holds slices is passed whole"},
	{name: "sized struct copied", body: "var ¦x sized\nx.n = 1", want: "copy a struct that holds slices"},
	{name: "sized struct assigned", body: "*b = ¦*b", want: "holds slices is copied"},
	{name: "slice made anew", top: "func f(b *sized, x []int32) { ¦b.ring = x }", want: "slice ring is replaced"},
	{name: "slice kept", body: "¦x := b.ring\nb.n = x[0]", want: "x is a slice"},
	{name: "slice with an end", top: "func f(x []int32) {}", body: "f(¦a.list[:2])", want: "slice with an end"},
	{name: "length of a slice parameter", top: "func f(x []int32) int32 { return int32(len(¦x)) }", want: "length of a slice parameter"},
	{name: "recursion", top: "func f(x int32) int32 { if x < 1 { return 0 }\nreturn ¦f(x - 1) }", want: "calls itself"},
	{name: "recursion of two", top: "func f(x int32) { if x > 0 { g(x) } }\nfunc g(x int32) { ¦f(x - 1) }", want: "calls itself"},
	{name: "closure", body: "f := ¦func() {}\nf()", want: "closure"},
	{name: "defer", top: "func f() {}", body: "¦defer f()", want: "DeferStmt"},
	{name: "goroutine", top: "func f() {}", body: "¦go f()", want: "GoStmt"},
	{name: "select", body: "¦select {}", want: "SelectStmt"},
	{name: "goto", body: "¦x:\na.n++\nif a.n < 3 { goto x }", want: "LabeledStmt"},
	{name: "fallthrough", body: "switch a.n { case 1: ¦fallthrough\ncase 2: a.n = 3 }", want: "fallthrough"},
	{name: "append", body: "b.ring = ¦append(b.ring, 1)", want: "builtin append"},
	{name: "make", body: "b.ring = ¦make([]int32, 3)", want: "builtin make"},
	{name: "print", body: "¦println(a.n)", want: "builtin println"},
	{name: "clear", body: "¦clear(b.ring)", want: "builtin clear"},
	{name: "two at once", body: "¦a.n, a.m = a.m, a.n", want: "several assignments"},
	{name: "array copied", body: "x := ¦a.list\na.n = x[0]", want: "array is copied whole"},
	{name: "array compared", body: "if a.list ¦== a.list { a.n = 1 }", want: "comparison of [4]int32"},
	{name: "struct compared", body: "x := state{}\ny := state{}\nif x ¦== y { a.n = 1 }", want: "comparison of"},
	{name: "nil", body: "if a ¦== nil { return }", want: "comparison of"},
	{name: "literal without names", top: "type pair struct{ x, y int32 }", body: "p := pair{¦1, 2}\na.n = p.x", want: "without field names"},
	{name: "array literal", body: "x := ¦[2]int32{1, 2}\na.n = x[0]", want: "a literal of [2]int32"},
	{name: "pointer to a literal", body: "p := ¦&state{}\na.n = p.n", want: "the address of an expression"},
	{name: "address of a counter", top: "func f(x *int32) { *x = 1 }", body: "for i := range int32(3) { f(¦&i) }", want: "address of a loop's variable"},
	{name: "address of a clause's counter", top: "func f(x *int32) { *x = 1 }", body: "for i := int32(0); i < 3; i++ { f(¦&i) }", want: "address of a loop's variable"},
	{name: "counter changed", body: "for i := range int32(3) { ¦i = 2\na.n = i }", want: "is changed"},
	{name: "bare count", body: "for i := range ¦5 { a.n += int32(i) }", want: "count that is a plain int"},
	{name: "outside counter", body: "i := int32(0)\n¦for i = range int32(5) { a.n += i }", want: "variable from outside"},
	{name: "values of what is written", body: "for _, ¦x := range a.list { a.list[0] = x }", want: "whose body writes to memory"},
	{name: "range over text", body: "for range ¦\"abc\" { a.n++ }", want: "loop over"},
	{name: "int16 sum", body: "a.s = a.s ¦+ a.s", want: "+ on int16"},
	{name: "int16 counted", body: "a.s¦++", want: "+ on int16"},
	{name: "uint8 product", body: "a.b = a.b ¦* 3", want: "* on uint8"},
	{name: "uint8 shifted up", body: "a.b = a.b ¦<< 1", want: "<< on uint8"},
	{name: "uint16 complement", body: "x := uint16(a.n)\na.n = int32(¦^x)", want: "^ of uint16"},
	{name: "uint8 negated", body: "a.b = ¦-a.b", want: "- of uint8"},
	{name: "name that the loop needs", body: "iEnd := a.m\n¦for i := range a.n { a.m += i + iEnd }", want: "i_end in C, which the loop needs"},
	{name: "signed shifted left", body: "a.n = a.m ¦<< 3", want: "signed value is shifted left"},
	{name: "shift too far", body: "a.n = a.m >> ¦32", want: "a shift by 32 of 32 bits"},
	{name: "open shift", body: "a.n = a.m >> ¦a.b", want: "32 or more"},
	{name: "mask too wide", body: "a.n = a.m >> ¦(a.b & 63)", want: "32 or more"},
	{name: "long loop shift", body: "for i := range int32(40) { a.n = a.m >> ¦i }", want: "32 or more"},
	{name: "division by a field", body: "a.n = 5 ¦/ a.m", want: "may be 0"},
	{name: "division without guard", body: "d := a.m\na.n = 5 ¦/ d", want: "may be 0"},
	{name: "guard of the other kind", body: "d := a.m\nif d == 0 { return }\na.n = 5 ¦/ d", want: "may be 0"},
	{name: "guard undone", body: "d := a.m\nif d <= 0 { return }\nd = a.n\na.n = 5 ¦/ d", want: "may be 0"},
	{name: "guard passed by", top: "func f(x *int32) { *x = 0 }", body: "d := a.m\np := &d\nif d <= 0 { return }\nf(p)\na.n = 5 ¦/ d", want: "may be 0"},
	{name: "guard that goes on", body: "d := a.m\nif d <= 0 { a.n = 1 }\na.n = 5 ¦/ d", want: "may be 0"},
	{name: "guard in another block", body: "d := a.m\nif a.n > 0 { if d <= 0 { return } }\na.n = 5 ¦% d", want: "may be 0"},
	{name: "division by 0 less", body: "a.n = a.m ¦/ -1", want: "division by -1"},
	{name: "unsigned below 0", body: "if a.u ¦>= 0 { a.n = 1 }", want: "never below 0"},
	{name: "fused product", body: "a.f = ¦a.f*a.f + a.f", want: "may be fused"},
	{name: "fused difference", body: "a.f = a.f - (¦a.f / 3)", want: "may be fused"},
	{name: "float to integer", body: "a.n = ¦int32(a.f)", want: "what lies outside is undefined"},
	{name: "writer in a sum", top: "func (s *state) next() int32 { s.n++\nreturn s.n }", body: "x := ¦a.next() + 1\na.m = x", want: "inside a larger expression"},
	{name: "writer as an argument", top: "func (s *state) next() int32 { s.n++\nreturn s.n }\nfunc g(s *state, x int32) { s.m = x }", body: "g(a, ¦a.next())", want: "inside a larger expression"},
	{name: "writer behind &&", top: "func (s *state) ok() bool { s.n++\nreturn s.n > 3 }", body: "if a.m > 0 && ¦a.ok() { a.m = 1 }", want: "inside a larger expression"},
	{name: "writer into an element", top: "func (s *state) next() int32 { s.n++\nreturn s.n }", body: "¦a.list[a.n&3] = a.next()", want: "whether the left side is found"},
	{name: "writer with +=", top: "func (s *state) next() int32 { s.n++\nreturn s.n }", body: "¦a.n += a.next()", want: "whether the left side is read"},
	{name: "value hides its source", body: "x := a.n\n{ ¦x := x + 1\na.m = x }", want: "hides the variable"},
	{name: "names that meet", body: "aB := a.n\n¦a_b := a.m\na.n = aB + a_b", want: "both a_b in C"},
	{name: "variable over a function", top: "func next(x int32) int32 { return x }", body: "n := ¦next(1)\nfor next := range int32(3) { n += next }\na.n = n", want: "hides function"},
	{name: "functions that meet", top: "func aB() {}\nfunc ¦a_b() {}", want: "also the C name"},
	{name: "function of C", top: "func ¦index() {}", want: "has a meaning in C"},
	{name: "function without body", top: "¦func f(x float32) float32", want: "no body"},
	{name: "type inside", body: "¦type x int32\na.n = int32(x(3))", want: "type inside a function"},
	{name: "break out of an if", body: "for { switch { case a.n > 3: ¦break } }", want: "a break out of a switch"},
	{name: "case that varies", body: "switch a.n { case ¦a.m: a.n = 3 }", want: "not constant"},
}

const frame = `package board

type state struct {
	n, m  int32
	u     uint32
	s     int16
	b     uint8
	f     float32
	list  [4]int32
	fixed *state ` + "`c:\"const\"`" + `
}

type sized struct {
	ring []int32 ` + "`c:\"RING\"`" + `
	n    int32
}

func Run(a *state, b *sized) {
	a.n++
	b.n++
`

func TestRefusals(t *testing.T) {
	for _, c := range refusals {
		t.Run(c.name, func(t *testing.T) {
			refused(t, frame+c.body+"\n}\n"+c.top+"\n", c.want)
		})
	}
}

// refused wants a text to be refused at the place marked in it.
func refused(t *testing.T, marked, want string) {
	t.Helper()
	before, after, found := strings.Cut(marked, "¦")
	if !found {
		t.Fatal("no place is marked")
	}
	line := 1 + strings.Count(before, "\n")
	column := len(before) - strings.LastIndex(before, "\n")
	_, err := translateText(before + after)
	var f translate.Fault
	if !errors.As(err, &f) {
		t.Fatalf("translated, or refused for another reason: %v", err)
	}
	place := fmt.Sprintf("board/run.go:%d:%d: ", line, column)
	for _, message := range strings.Split(err.Error(), "\n") {
		if strings.HasPrefix(message, place) && strings.Contains(message, want) {
			return
		}
	}
	t.Errorf("want %s%s, got\n%v", place, want, err)
}

// translateText translates one file with a function Run.
func translateText(text string) (*translate.Result, error) {
	return translate.Translate(translate.Program{
		Prefix:   "x",
		Packages: []translate.Package{{Path: "board", Files: []translate.File{{Name: "run.go", Text: text}}}},
		Public:   []translate.Name{{Go: "board.Run", C: "x_run"}},
	})
}

// A shift by the sign is asked of the compiler, however it is written.
func TestAsksForSigns(t *testing.T) {
	for _, body := range []string{"*x = *x >> 3", "*x >>= 3", "*x = int32(y)"} {
		r, err := translateText("package board\nfunc Run(x *int32, y uint32) { " + body + "\ny++ }\n")
		if err != nil || !strings.Contains(r.Code, "(-1 >> 1) == -1") {
			t.Errorf("%s: %v, nothing is asked in %+v", body, err, r)
		}
	}
}

// No comment takes the next line of C along.
func TestCommentsEnd(t *testing.T) {
	r, err := translateText("package board\nfunc Run(x *int32) {\n// why???/\n*x = 3\n// so \\\n*x = 4\n}\n")
	if err != nil {
		t.Fatal(err)
	}
	if want := "\t// why? ? ?/\n\t*x = 3;\n\t// so\n\t*x = 4;\n"; !strings.Contains(r.Code, want) {
		t.Errorf("no %q in\n%s", want, r.Code)
	}
}

// Go's own errors and imports from outside are told with their places.
func TestRefusesWhatGoRefuses(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"syntax":          {"package board\nfunc Run() { x := }\n", "board/run.go:2:19"},
		"types":           {"package board\nfunc Run() { var x int32 = true }\n", "board/run.go:2:28"},
		"import":          {"package board\nimport \"fmt\"\nfunc Run() { fmt.Println() }\n", `board/run.go:2:8: could not import fmt (package "fmt" is not among the translated ones`},
		"no such root":    {"package board\n", "no function board.Run among the translated ones"},
		"math in C's way": {"package board\nimport \"math\"\nfunc Run() float32 { return float32(math.Sqrt(2)) }\n", "board/run.go:3"},
	} {
		_, err := translateText(c.text)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: want %q, got %v", name, c.want, err)
		}
	}
}

// Faults come file by file, from the top, however they were found.
func TestFaultsInOrder(t *testing.T) {
	file := func(name string) translate.File {
		return translate.File{Name: name + ".go", Text: "package board\nvar " + name + " int32\nfunc f" + name + "(x float64) { var s string; _ = s }\n"}
	}
	_, err := translate.Translate(translate.Program{Packages: []translate.Package{{Path: "board", Files: []translate.File{file("b"), file("a"), file("c")}}}})
	var got []string
	for _, line := range strings.Split(fmt.Sprint(err), "\n") {
		got = append(got, line[:strings.LastIndex(line[:strings.Index(line, ": ")], ":")])
	}
	if want := "board/a.go:2 board/b.go:2 board/c.go:2"; strings.Join(got, " ") != want {
		t.Errorf("faults at %v, want %s", got, want)
	}
}

func TestRefusesOptions(t *testing.T) {
	p := translate.Program{
		Prefix:   "x",
		Packages: []translate.Package{{Path: "board", Files: []translate.File{{Name: "run.go", Text: "package board\ntype T struct { F float32; N int32 }\nfunc Run(t *T) int32 { t.N = 1\nreturn t.N }\n"}}}},
		Public:   []translate.Name{{Go: "board.Run", C: "x_run"}},
		Types:    []translate.Name{{Go: "board.U", C: "x_u"}, {Go: "board.T", C: "x t"}},
		Fixed:    map[string]int64{"board.T.M": 1, "board.T.F": 1},
	}
	_, err := translate.Translate(p)
	for _, want := range []string{"no type board.U", `"x t", for board.T, is no name in C`, "no field board.T.M to fix", "field board.T.F is fixed: fix integers and bools only"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q in %v", want, err)
		}
	}
	p.Types, p.Fixed = nil, map[string]int64{"board.T.N": 2}
	_, err = translate.Translate(p)
	if err == nil || !strings.Contains(err.Error(), "fixed field N is written") {
		t.Errorf("a fixed field is written: %v", err)
	}
}
