package firmware

import (
	"fmt"
	"strings"
)

// step is one step of the arithmetic: C writes it, Go runs it.
type step interface {
	c(w *cWriter)
	run(m *machine)
}

// cWriter collects lines of C at a depth of blocks.
type cWriter struct {
	strings.Builder
	depth int
}

func (w *cWriter) line(format string, args ...any) {
	if text := fmt.Sprintf(format, args...); text != "" {
		w.WriteString(strings.Repeat("    ", w.depth) + text)
	}
	w.WriteByte('\n')
}

// comment writes text as a comment, broken into lines of some 76 characters.
func (w *cWriter) comment(text string) {
	lines := wrap(text, 76-4*w.depth-6)
	if len(lines) == 1 {
		w.line("/* %s */", lines[0])
		return
	}
	for i, l := range lines {
		switch i {
		case 0:
			w.line("/* %s", l)
		case len(lines) - 1:
			w.line(" * %s */", l)
		default:
			w.line(" * %s", l)
		}
	}
}

func wrap(text string, width int) []string {
	var out []string
	var line string
	for _, word := range strings.Fields(text) {
		if line != "" && len(line)+1+len(word) > width {
			out, line = append(out, line), ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(out, line)
}

// machine runs steps. Round is applied to every number of the table, every
// literal and every result: the identity gives float64, toFloat32 gives what a
// board with float32 computes, since one operation in float64 rounded to
// float32 is that operation in float32 (functions of math.h but for their last
// bit).
type machine struct {
	round   func(float64) float64
	sizes   map[string]int
	scalars map[string]float64
	arrays  map[string][]float64
}

func toFloat32(v float64) float64 { return float64(float32(v)) }
func exact(v float64) float64     { return v }

func (m *machine) scalar(name string) float64 {
	if v, ok := m.scalars[name]; ok {
		return v
	}
	if n, ok := m.sizes[name]; ok {
		return float64(n)
	}
	panic(fmt.Sprintf("firmware: nothing is named %q", name))
}

func (m *machine) array(name string) []float64 {
	a, ok := m.arrays[name]
	if !ok {
		panic(fmt.Sprintf("firmware: no array is named %q", name))
	}
	return a
}

func runAll(steps []step, m *machine) {
	for _, s := range steps {
		s.run(m)
	}
}

// remark opens a paragraph with a comment.
type remark string

func (r remark) c(w *cWriter) {
	w.line("")
	w.comment(string(r))
}
func (remark) run(*machine) {}

// declare makes a variable. Kind is its type in C.
type declare struct {
	kind, name string
	value      expr
}

func (s declare) c(w *cWriter)   { w.line("%s %s = %s;", s.kind, s.name, s.value.c(0)) }
func (s declare) run(m *machine) { m.scalars[s.name] = s.value.value(m) }

func variable(name string, value expr) step { return declare{"float", name, value} }
func fixed(name string, value expr) step    { return declare{"const float", name, value} }
func flag(name string, value expr) step     { return declare{"int", name, value} }

// room makes an array of floats, its size a named one.
type room struct{ name, size string }

func (s room) c(w *cWriter)   { w.line("float %s[%s];", s.name, s.size) }
func (s room) run(m *machine) { m.arrays[s.name] = make([]float64, m.sizes[s.size]) }

// assign sets a variable or an element, or adds to it.
type assign struct {
	to    expr
	by    string // "=" or "+="
	value expr
}

func (s assign) c(w *cWriter) { w.line("%s %s %s;", s.to.c(0), s.by, s.value.c(0)) }
func (s assign) run(m *machine) {
	v := s.value.value(m)
	if s.by == "+=" {
		v = m.round(s.to.value(m) + v)
	}
	if len(s.to.at) == 1 {
		m.array(s.to.name)[int(s.to.at[0].value(m))] = v
		return
	}
	m.scalars[s.to.name] = v
}

func set(to, value expr) step      { return assign{to, "=", value} }
func addTo(to, value expr) step    { return assign{to, "+=", value} }
func setVar(n string, v expr) step { return set(named(n), v) }

// loop counts an index from 0 up to a named size or a literal number.
type loop struct {
	index string
	count expr
	body  []step
}

func (s loop) c(w *cWriter) {
	w.line("for (int %s = 0; %s < %s; %s++) {", s.index, s.index, s.count.c(0), s.index)
	block(w, s.body)
	w.line("}")
}
func (s loop) run(m *machine) {
	for i := range int(s.count.value(m)) {
		m.scalars[s.index] = float64(i)
		runAll(s.body, m)
	}
}

// when runs one of two lists of steps; otherwise may be empty.
type when struct {
	is              expr
	then, otherwise []step
}

func (s when) c(w *cWriter) {
	w.line("if (%s) {", s.is.c(0))
	block(w, s.then)
	if len(s.otherwise) > 0 {
		w.line("} else {")
		block(w, s.otherwise)
	}
	w.line("}")
}
func (s when) run(m *machine) {
	if s.is.value(m) != 0 {
		runAll(s.then, m)
	} else {
		runAll(s.otherwise, m)
	}
}

func block(w *cWriter, steps []step) {
	w.depth++
	for _, s := range steps {
		s.c(w)
	}
	w.depth--
}

// walk goes down a tree from its root and declares what the leaf says. The
// tree is four arrays named after it; see builder.tree.
type walk struct{ kind, name, tree, on string }

func (s walk) c(w *cWriter) {
	at := s.name + "_at"
	w.line("int %s = 0;", at)
	w.line("while (%s_FEATURE[%s] >= 0) {", s.tree, at)
	w.line("    %s = %s[%s_FEATURE[%s]] < %s_NUMBER[%s] ? %s_BELOW[%s] : %s_OTHER[%s];", at, s.on, s.tree, at, s.tree, at, s.tree, at, s.tree, at)
	w.line("}")
	w.line("%s %s = %s_NUMBER[%s];", s.kind, s.name, s.tree, at)
}

func (s walk) run(m *machine) {
	feature, num := m.array(s.tree+"_FEATURE"), m.array(s.tree+"_NUMBER")
	below, other := m.array(s.tree+"_BELOW"), m.array(s.tree+"_OTHER")
	at := 0
	for feature[at] >= 0 {
		if m.array(s.on)[int(feature[at])] < num[at] {
			at = int(below[at])
		} else {
			at = int(other[at])
		}
	}
	m.scalars[s.name] = num[at]
}
