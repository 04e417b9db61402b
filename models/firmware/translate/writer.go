package translate

import (
	"go/ast"
	"go/token"
	"go/types"
	"slices"
	"strings"
)

// uses is what a piece of C needs to have been written before it.
type uses struct {
	functions []*function // in order of first use
	constants map[*constDecl]bool
	sizes     map[*constDecl]bool // constants that size arrays
	tables    map[*table]bool
	types     map[*typeDecl]bool
	fields    map[*field]bool
	macros    map[string]bool
	extremes  map[string]string // helpers min and max, by name: the C type
	signs     bool              // a signed value is shifted right or converted
	math      bool
}

func newUses() *uses {
	return &uses{
		constants: map[*constDecl]bool{}, sizes: map[*constDecl]bool{}, tables: map[*table]bool{}, types: map[*typeDecl]bool{},
		fields: map[*field]bool{}, macros: map[string]bool{}, extremes: map[string]string{},
	}
}

// writer writes one function, table or type.
type writer struct {
	t       *translator
	fn      *function // nil outside functions
	folding bool      // fixed fields count as constants
	use     *uses

	lines    []string
	depth    int
	comments []*ast.CommentGroup // of the body, not yet written

	lone     *ast.CallExpr          // the call that may write memory: it is all of its statement
	read     map[types.Object]bool  // variables whose value is used
	looping  map[types.Object]bool  // variables of a range, never assigned
	copied   map[types.Object]bool  // variables of loops with three clauses: new in each round in Go
	names    map[string]string      // local names in C, and in Go
	called   map[string]mention     // what the function uses by a name of its own, by C name
	places   map[types.Object]place // where locals were declared
	rounds   map[types.Object]int64 // rounds of loops of constant length, by what counts them
	counters int                    // named by the translator so far
}

// mention is where a name is used, and of what: a function, table or helper.
type mention struct {
	at   token.Pos
	kind string
}

// place is a line of the function and how deep it is indented.
type place struct{ line, depth int }

func (t *translator) newWriter(f *function, folding bool) *writer {
	return &writer{t: t, fn: f, folding: folding, use: newUses(), read: map[types.Object]bool{}, looping: map[types.Object]bool{}, copied: map[types.Object]bool{},
		names: map[string]string{}, called: map[string]mention{}, places: map[types.Object]place{}, rounds: map[types.Object]int64{}}
}

func (w *writer) line(text string) {
	if text != "" {
		text = strings.Repeat("\t", w.depth) + text
	}
	w.lines = append(w.lines, text)
}

func (w *writer) text() string {
	if len(w.lines) == 0 {
		return ""
	}
	return strings.Join(w.lines, "\n") + "\n"
}

func (w *writer) refuse(at token.Pos, mend, what string, args ...any) {
	w.t.refuse(at, mend, what, args...)
}

func (w *writer) typeOf(e ast.Expr) types.Type { return w.t.source.info.TypeOf(e) }

// comment writes the lines of a comment, without directives.
func (w *writer) comment(g *ast.CommentGroup) {
	if g == nil {
		return
	}
	list := slices.DeleteFunc(slices.Clone(g.List), func(c *ast.Comment) bool { return isDirective(c.Text) })
	for len(list) > 0 && list[len(list)-1].Text == "//" {
		list = list[:len(list)-1]
	}
	for _, c := range list {
		if strings.HasPrefix(c.Text, "/*") {
			for _, l := range strings.Split(strings.TrimSuffix(strings.TrimPrefix(c.Text, "/*"), "*/"), "\n") {
				w.line(mended("// " + strings.TrimSpace(l)))
			}
			continue
		}
		w.line(mended(c.Text))
	}
}

// lineComment appends a comment of one line to the line just written.
func (w *writer) lineComment(g *ast.CommentGroup) bool {
	if g == nil || len(g.List) != 1 || !strings.HasPrefix(g.List[0].Text, "//") {
		return false
	}
	w.lines[len(w.lines)-1] += " " + mended(g.List[0].Text)
	return true
}

// mended keeps a comment from swallowing the next line in C, by a backslash at its
// end, or by ??/, which C may read as one.
func mended(text string) string {
	for strings.Contains(text, "??") {
		text = strings.ReplaceAll(text, "??", "? ?")
	}
	return strings.TrimRight(text, " \t\\")
}

// isDirective reports lines like //go:embed and //c:extern.
func isDirective(text string) bool {
	rest, ok := strings.CutPrefix(text, "//")
	name, _, found := strings.Cut(rest, ":")
	if !ok || !found || name == "" {
		return false
	}
	for _, r := range name {
		if (r < 'a' || r > 'z') && (r < '0' || r > '9') {
			return false
		}
	}
	return !strings.HasPrefix(rest[len(name):], ": ")
}

// commentsBefore writes the comments that stand before a place in the source.
func (w *writer) commentsBefore(at token.Pos) {
	for len(w.comments) > 0 && w.comments[0].Pos() < at {
		w.comment(w.comments[0])
		w.comments = w.comments[1:]
	}
}

// commentBehind appends a comment that follows on the same line.
func (w *writer) commentBehind(end token.Pos) {
	if len(w.comments) == 0 || len(w.lines) == 0 {
		return
	}
	fset := w.t.source.fset
	c := w.comments[0]
	if c.Pos() > end && fset.Position(c.Pos()).Line == fset.Position(end).Line && w.lineComment(c) {
		w.comments = w.comments[1:]
	}
}

// skipComments drops the comments of code that is not written.
func (w *writer) skipComments(end token.Pos) {
	for len(w.comments) > 0 && w.comments[0].Pos() < end {
		w.comments = w.comments[1:]
	}
}

// tableOf is the table that an expression names, nil where it names none.
func (w *writer) tableOf(e ast.Expr) *table { return w.t.tables[w.t.variableOf(e)] }
