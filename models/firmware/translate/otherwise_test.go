package translate_test

import "testing"

// otherwise are pieces of Go that C takes too, and does otherwise or leaves
// undefined. They are marked as refusals are.
var otherwise = []struct{ name, top, body, want string }{
	// What is ranged over is evaluated once in Go.
	{name: "count hidden by its counter", body: "for ¦n := range n { a.m = n }", want: "hides the variable"},
	{name: "rows hidden by their counter", body: "s := int32(0)\nfor ¦n, x := range a.grid[n] { s += x * int32(n) }\na.m = s", want: "hides the variable"},
	{name: "array hidden by its value", body: "s := int32(0)\nfor _, ¦c := range c.list { s += c }\na.m = s", want: "hides the variable"},
	{name: "index that moves while ranged over", body: "for _, ¦x := range a.grid[n] { n = x & 1 }", want: "changes n"},
	{name: "pointer that moves while ranged over", body: "p := &a.inner[0]\nfor _, ¦x := range p.list { p = &a.inner[1]\nn += x }", want: "changes p"},
	{name: "value declared again", body: "for _, x := range a.list { n += x\n¦x := int32(3)\nn += x }", want: "stands for the loop's value"},
	{name: "value declared again by var", body: "for _, x := range a.list { n += x\nvar ¦x int32\nn += x }", want: "stands for the loop's value"},
	{name: "struct set anew while ranged over", body: "y := in{n: 1}\np := &y\nfor _, ¦x := range p.list { y = in{}\nn += x }\na.n = y.n", want: "writes to memory"},
	{name: "field that counts", body: "¦for a.n = range int32(5) { a.m++ }", want: "variable from outside"},
	{name: "field that takes the values", body: "¦for _, a.n = range c.list { n++ }", want: "variable from outside"},
	{name: "variables that take index and value", body: "i, x := 0, n\n¦for i, x = range c.list { n += x + int32(i) }", want: "variable from outside"},
	{name: "range over a call", top: "func (s *state) pick() *in { s.n++\nreturn &s.inner[0] }", body: "for i := range ¦a.pick().list { a.list[i] = 1 }", want: "is not made in C"},
	{name: "length of a call", top: "func (s *state) pick() *in { s.n++\nreturn &s.inner[0] }", body: "a.m = int32(len(¦a.pick().list))", want: "is not made in C"},

	// A variable lives as long as a pointer to it in Go, to the end of its block in C.
	{name: "address of a local returned", top: "func f(s *state) *in { var x in\nx.n = s.n\nreturn ¦&x }", want: "x is gone"},
	{name: "address of a local returned by a variable", top: "func f(s *state) *in { var x in\np := &x\nif s.n > 0 { p = &s.inner[0] }\nreturn ¦p }", want: "x is gone"},
	{name: "address of a parameter returned", top: "func f(x in) *int32 { return ¦&x.list[2] }", want: "x is gone"},
	{name: "address of a local returned through a call", top: "func pass(p *in) *in { return p }\nfunc f() *in { var x in\nreturn ¦pass(&x) }", want: "x is gone"},
	{name: "address of an inner variable kept", body: "p := &a.inner[0]\nif n > 3 { x := in{n: 3}\np = ¦&x }\na.n = p.n", want: "x is gone"},
	{name: "address of an inner variable kept by another", body: "p := &a.inner[0]\nif n > 3 { x := in{n: 3}\nq := &x\np = ¦q }\na.n = p.n", want: "x is gone"},
	{name: "address kept from round to round", body: "p := &a.inner[0]\nfor range int32(3) { x := in{n: p.n + 1}\np = ¦&x }\na.n = p.n", want: "x is gone"},
	{name: "pointer field set", body: "¦a.fixed = b", want: "constant memory is written"},
	{name: "pointer field in a literal", top: "func f(s *state) { x := state{¦fixed: s}\ns.n = x.n }", want: "pointer fixed is set"},

	// A variable of a loop with three clauses is new in each round in Go.
	{name: "method of a clause's counter", top: "type step int32\nfunc (s *step) grow() { *s++ }", body: "for i := step(0); i < 9; i++ { ¦i.grow() }", want: "address of a loop's variable"},
	{name: "struct that counts", body: "for ¦x := (in{}); x.n < 3; x.n++ { a.n++ }", want: "counts the loop"},

	{name: "part of an array that counts", top: "func f(x *int32) { *x = 1 }", body: "for ¦x := c.pair; x.a < 3; x.a++ { f(&x.b) }", want: "counts the loop"},

	// A guard that does not guard.
	{name: "guard undone by its else", body: "d := a.m\nif d <= 0 { d = 1 } else { d = n }\na.n = 5 ¦/ d", want: "may be 0"},
	{name: "guard passed by a method", top: "type step int32\nfunc (s *step) zero() { *s = 0 }", body: "d := step(n)\nif d <= 0 { return }\nd.zero()\na.n = int32(step(n) ¦/ d)", want: "may be 0"},
	{name: "own max", top: "func max(x, y int32) int32 { return x - y }", body: "a.n = 5 ¦/ max(n, 1)", want: "may be 0"},
	{name: "own min", top: "func min(x, y uint32) uint32 { return x + y }", body: "a.u = a.u >> ¦min(a.u, 31)", want: "32 or more"},
	{name: "multiple that wraps to 0", body: "d := a.u\nif d == 0 { return }\na.u = 5 ¦/ (4 * d)", want: "may be 0"},
	{name: "endless count of a shift", body: "for i := range uint64(0xffffffffffffffff) { a.u = a.u >> ¦i }", want: "32 or more"},

	// Go may round a product once with the sum that takes it, wherever that stands.
	{name: "product kept and added", body: "x := ¦a.f * a.f\na.f = x + 1", want: "may be fused"},
	{name: "product returned", top: "func square(x float32) float32 { return ¦x * x }", want: "may be fused"},
	{name: "product passed", top: "func next(x float32) float32 { return x + 1 }", body: "a.f = next(¦a.f * 3)", want: "may be fused"},
	{name: "product in a field", body: "c.f = ¦a.f * 2", want: "may be fused"},
	{name: "product in a literal", body: "x := in{f: -(¦a.f * 2)}\na.f = x.f + 1", want: "may be fused"},
	{name: "times", body: "a.f ¦*= 3", want: "may be fused"},
	{name: "negative product in a sum", body: "a.f = -(-(¦a.f*a.f)) + a.f", want: "may be fused"},

	// What C has no place for.
	{name: "declared two at once", body: "{ var ¦x, y int32 = n, a.m\na.n = x + y }", want: "several at once"},
	{name: "declared without a name", body: "var ¦_ int32", want: "nothing is declared"},
	{name: "declared by two results", top: "func f() (int32, int32) { return 1, 2 }", body: "var ¦x, y = f()\na.n = x + y", want: "several at once"},
	{name: "table of plain int", top: "var ¦tab = [2]int{1, 70000}", want: "int has no C"},
	{name: "table of float64", top: "var ¦tab = [2]float64{1, 2}", want: "float64 has no C"},
	{name: "table of texts", top: "var ¦tab = [2]string{\"a\", \"b\"}", want: "string has no C"},
	{name: "table of what holds slices", top: "var ¦tab = [2]sized{{n: 1}, {n: 2}}", want: "holds slices"},
	{name: "method named by its type", top: "func (i in) sum() int32 { return i.n }", body: "a.n = ¦in.sum(*c)", want: "by its type"},
	{name: "pointer to rows kept", body: "¦p := &a.cube[0]\na.n = p[1][1]", want: "pointer to an array of arrays"},
	{name: "function of C that takes pointers", top: "//c:extern frexpf\nfunc frexp(x float32, ¦e *int32) float32 { *e = 0\nreturn x }", want: "passes numbers only"},
	{name: "letters that C has not", body: "¦größe := n\na.n = größe", want: "letters that C has not"},
	{name: "field of letters that C has not", top: "type s struct{ ¦größe int32 }", want: "letters that C has not"},
	{name: "function of letters that C has not", top: "func ¦größe() {}", want: "letters that C has not"},
	{name: "variable over a table", top: "var aB = [2]int32{1, 2}", body: "a_b := n\na.n = ¦aB[1] + a_b", want: "hides table"},
	{name: "variable over a helper", body: "minInt32 := n\na.n = ¦min(n, a.m) + minInt32", want: "hides"},
	{name: "function over a helper", top: "func ¦minInt32() int32 { return 3 }", want: "has a meaning in C"},
	{name: "constant over a size", top: "const ¦Ring = 7", body: "a.n = Ring", want: "also the C name"},
	{name: "size that is no name", top: "type s struct{ ¦x []int32 `c:\"the ring\"` }", want: "no name in C"},
	{name: "size of a number", top: "type s struct{ ¦x int32 `c:\"RING\"` }", want: "is for slices and pointers"},
	{name: "directive that is none", top: "¦//c:inrang\nfunc f(x float32) float32 { return x }", want: "c:inrang"},
	{name: "directive out of place", top: "¦//c:whole\nfunc f(x float32) float32 { return x }", want: "c:whole"},
	{name: "directive in a body", body: "¦//c:inrange\na.n = n", want: "c:inrange"},
}

const otherwiseFrame = `package board

type state struct {
	n, m  int32
	u     uint32
	f     float32
	list  [4]int32
	grid  [2][4]int32
	cube  [2][3][4]int32
	inner [2]in
	fixed *state ` + "`c:\"const\"`" + `
}

type in struct {
	n    int32
	f    float32
	list [4]int32
	pair pair
}

type pair struct{ a, b int32 }

type sized struct {
	ring []int32 ` + "`c:\"RING\"`" + `
	n    int32
}

func Run(a, b *state, c *in, e *sized, n int32) {
	a.n++
	b.n++
	c.n++
	e.ring[0]++
`

func TestDoneOtherwise(t *testing.T) {
	for _, c := range otherwise {
		t.Run(c.name, func(t *testing.T) {
			refused(t, otherwiseFrame+c.body+"\n}\n"+c.top+"\n", c.want)
		})
	}
}
