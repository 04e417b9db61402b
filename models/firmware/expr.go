package firmware

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// expr is an expression of the arithmetic: an operation on others, or a leaf.
// Every value is a float; conditions are 1 or 0, and indices are whole numbers,
// which a float32 holds exactly.
type expr struct {
	op   *operation // nil for a leaf
	args []expr
	name string  // of a variable, a number of the table, an index; "" for a literal
	at   []expr  // position in an array of that name, or nothing
	lit  float64 // literal
	int  bool    // the literal is a whole number
}

// operation is what the arithmetic can do: how C writes it and what it gives.
type operation struct {
	symbol string
	level  int // how strongly it binds in C; a call binds strongest
	call   bool
	eval   func(a ...float64) float64
}

const (
	levelOr = iota + 1
	levelAnd
	levelCompare
	levelSum
	levelProduct
	levelPrefix
	levelCall
)

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func operate(symbol string, level int, eval func(a ...float64) float64) func(args ...expr) expr {
	op := &operation{symbol: symbol, level: level, call: level == levelCall, eval: eval}
	return func(args ...expr) expr { return expr{op: op, args: args} }
}

// The operations. Square root and hypotenuse are those of C, so nothing
// overflows where the result does not; of two numbers fminf and fmaxf give the
// one that is a number.
var (
	add     = operate("+", levelSum, func(a ...float64) float64 { return a[0] + a[1] })
	sub     = operate("-", levelSum, func(a ...float64) float64 { return a[0] - a[1] })
	mul     = operate("*", levelProduct, func(a ...float64) float64 { return a[0] * a[1] })
	div     = operate("/", levelProduct, func(a ...float64) float64 { return a[0] / a[1] })
	remain  = operate("%", levelProduct, func(a ...float64) float64 { return math.Mod(a[0], a[1]) })
	less    = operate("<", levelCompare, func(a ...float64) float64 { return truth(a[0] < a[1]) })
	more    = operate(">", levelCompare, func(a ...float64) float64 { return truth(a[0] > a[1]) })
	atLeast = operate(">=", levelCompare, func(a ...float64) float64 { return truth(a[0] >= a[1]) })
	atMost  = operate("<=", levelCompare, func(a ...float64) float64 { return truth(a[0] <= a[1]) })
	equals  = operate("==", levelCompare, func(a ...float64) float64 { return truth(a[0] == a[1]) })
	differs = operate("!=", levelCompare, func(a ...float64) float64 { return truth(a[0] != a[1]) })
	both    = operate("&&", levelAnd, func(a ...float64) float64 { return truth(a[0] != 0 && a[1] != 0) })
	either  = operate("||", levelOr, func(a ...float64) float64 {
		return truth(slices.ContainsFunc(a, func(v float64) bool { return v != 0 }))
	})
	not      = operate("!", levelPrefix, func(a ...float64) float64 { return truth(a[0] == 0) })
	negative = operate("-", levelPrefix, func(a ...float64) float64 { return -a[0] })
	toInt    = operate("(int)", levelPrefix, func(a ...float64) float64 { return math.Trunc(a[0]) })
	absolute = operate("fabsf", levelCall, func(a ...float64) float64 { return math.Abs(a[0]) })
	root     = operate("sqrtf", levelCall, func(a ...float64) float64 { return math.Sqrt(a[0]) })
	hypotn   = operate("hypotf", levelCall, func(a ...float64) float64 { return math.Hypot(a[0], a[1]) })
	arctan   = operate("atan2f", levelCall, func(a ...float64) float64 { return math.Atan2(a[0], a[1]) })
	exponent = operate("expf", levelCall, func(a ...float64) float64 { return math.Exp(a[0]) })
	logn     = operate("logf", levelCall, func(a ...float64) float64 { return math.Log(a[0]) })
	tanhn    = operate("tanhf", levelCall, func(a ...float64) float64 { return math.Tanh(a[0]) })
	smaller  = operate("fminf", levelCall, func(a ...float64) float64 { return pick(a[0], a[1], a[0] < a[1]) })
	larger   = operate("fmaxf", levelCall, func(a ...float64) float64 { return pick(a[0], a[1], a[0] > a[1]) })
)

func pick(a, b float64, first bool) float64 {
	if first || math.IsNaN(b) {
		return a
	}
	return b
}

func number(v float64) expr                  { return expr{lit: v} }
func whole(n int) expr                       { return expr{lit: float64(n), int: true} }
func named(name string) expr                 { return expr{name: name} }
func element(name string, at expr) expr      { return expr{name: name, at: []expr{at}} }
func between(low, x, high expr) expr         { return smaller(larger(x, low), high) }
func vectorX(array string, vector expr) expr { return element(array, mul(whole(2), vector)) }
func vectorY(array string, vector expr) expr {
	return element(array, add(mul(whole(2), vector), whole(1)))
}

// c writes the expression in C, in brackets where it binds less than the
// surroundings want.
func (e expr) c(level int) string {
	switch {
	case e.op == nil && e.name == "" && e.int:
		return strconv.Itoa(int(e.lit))
	case e.op == nil && e.name == "":
		return floatLiteral(e.lit)
	case e.op == nil && len(e.at) == 1:
		return e.name + "[" + e.at[0].c(0) + "]"
	case e.op == nil:
		return e.name
	case e.op.call:
		var args []string
		for _, a := range e.args {
			args = append(args, a.c(0))
		}
		return e.op.symbol + "(" + strings.Join(args, ", ") + ")"
	}
	var text string
	if len(e.args) == 1 {
		text = e.op.symbol + e.args[0].c(levelPrefix+1)
	} else {
		// What follows the first wants one more: a - (b - c). Conditions
		// inside conditions always stand in brackets.
		left, right := e.op.level, e.op.level+1
		if e.op.level == levelOr {
			left, right = levelCompare, levelCompare
		}
		text = e.args[0].c(left)
		for _, a := range e.args[1:] {
			text += " " + e.op.symbol + " " + a.c(right)
		}
	}
	if e.op.level < level {
		return "(" + text + ")"
	}
	return text
}

// floatLiteral writes the float32 nearest to v as a C literal that reads back
// as the same float32.
func floatLiteral(v float64) string {
	if math.IsNaN(v) {
		return "NAN"
	}
	s := strconv.FormatFloat(float64(float32(v)), 'g', -1, 32)
	if !strings.ContainsAny(s, ".e") {
		s += ".0"
	}
	return s + "f"
}

// value computes the expression.
func (e expr) value(m *machine) float64 {
	switch {
	case e.op == nil && e.name == "" && e.int:
		return e.lit
	case e.op == nil && e.name == "":
		return m.round(e.lit)
	case e.op == nil && len(e.at) == 1:
		return m.array(e.name)[int(e.at[0].value(m))]
	case e.op == nil:
		return m.scalar(e.name)
	}
	args := make([]float64, len(e.args))
	for i, a := range e.args {
		args[i] = a.value(m)
	}
	return m.round(e.op.eval(args...))
}
