package firmware

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// Brackets stand where C needs them.
func TestExpressionText(t *testing.T) {
	a, b, c := named("a"), named("b"), named("c")
	for _, x := range []struct {
		e    expr
		want string
		gets float64 // with a = 7, b = 3, c = 2
	}{
		{sub(a, sub(b, c)), "a - (b - c)", 6},
		{sub(sub(a, b), c), "a - b - c", 2},
		{mul(add(a, b), c), "(a + b) * c", 20},
		{add(a, mul(b, c)), "a + b * c", 13},
		{div(a, mul(b, c)), "a / (b * c)", 7.0 / 6},
		{negative(add(a, b)), "-(a + b)", -10},
		{mul(negative(a), b), "-a * b", -21},
		{not(less(a, b)), "!(a < b)", 1},
		{both(less(b, a), not(less(a, c))), "b < a && !(a < c)", 1},
		{either(both(less(a, b), less(b, c)), more(a, c), less(a, c)), "(a < b && b < c) || a > c || a < c", 1},
		{add(remain(toInt(div(a, c)), whole(2)), whole(1)), "(int)(a / c) % 2 + 1", 2},
		{between(number(0), a, number(5)), "fminf(fmaxf(a, 0.0f), 5.0f)", 5},
		{element("list", add(mul(whole(2), named("k")), whole(1))), "list[2 * k + 1]", 40},
		{larger(number(math.NaN()), a), "fmaxf(NAN, a)", 7},
		{larger(a, number(math.NaN())), "fmaxf(a, NAN)", 7},
	} {
		if got := x.e.c(0); got != x.want {
			t.Errorf("text %q, want %q", got, x.want)
		}
		m := &machine{round: exact, scalars: map[string]float64{"a": 7, "b": 3, "c": 2, "k": 1}, arrays: map[string][]float64{"list": {10, 20, 30, 40}}}
		if got := x.e.value(m); got != x.gets {
			t.Errorf("%s is %g, want %g", x.want, got, x.gets)
		}
	}
}

// A literal reads back as the same float32, and is one of type float.
func TestFloatLiteral(t *testing.T) {
	for _, v := range []float64{0, 1, -2.5, 0.1, 1e-30, 1e9, math.Pi, math.MaxFloat32, math.SmallestNonzeroFloat32, 16777217} {
		s := floatLiteral(v)
		got, err := strconv.ParseFloat(strings.TrimSuffix(s, "f"), 32)
		if err != nil || float32(got) != float32(v) || !strings.HasSuffix(s, "f") || !strings.ContainsAny(s, ".e") {
			t.Errorf("%g is %s", v, s)
		}
	}
}

// Rounding happens after every operation: 2^24 + 1 is lost in float32.
func TestRounding(t *testing.T) {
	e := sub(add(named("big"), number(1)), named("big"))
	for _, c := range []struct {
		round func(float64) float64
		want  float64
	}{{exact, 1}, {toFloat32, 0}} {
		m := &machine{round: c.round, scalars: map[string]float64{"big": 1 << 24}}
		if got := e.value(m); got != c.want {
			t.Errorf("%s is %g, want %g", e.c(0), got, c.want)
		}
	}
}

func TestUnknownNamesPanic(t *testing.T) {
	m := &machine{round: exact}
	for _, e := range []expr{named("nothing"), element("nothing", whole(0))} {
		func() {
			defer func() {
				if v, _ := recover().(string); !strings.HasPrefix(v, "firmware: ") {
					t.Errorf("%s: %q", e.c(0), v)
				}
			}()
			e.value(m)
		}()
	}
}
