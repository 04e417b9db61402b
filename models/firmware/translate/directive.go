package translate

import (
	"go/ast"
	"go/token"
	"slices"
	"strings"
)

// Directives are comment lines that speak to the translator.
const (
	externDirective  = "//c:extern"  // NAME: C has the function by that name; its Go body is not read
	inRangeDirective = "//c:inrange" // the function may convert float32 to integers
	wholeDirective   = "//c:whole"   // the type's fields or the group's constants stay though unused
)

// directive looks for one in a doc comment and returns what follows it.
func directive(doc *ast.CommentGroup, name string) (rest string, found bool) {
	if doc == nil {
		return "", false
	}
	for _, c := range doc.List {
		if after, ok := strings.CutPrefix(c.Text, name); ok && (after == "" || after[0] == ' ') {
			return strings.TrimSpace(after), true
		}
	}
	return "", false
}

// checkDirectives refuses directives that nobody would read: misspelt, or out of
// their place.
func (t *translator) checkDirectives() {
	for _, p := range t.packages {
		for _, f := range p.files {
			known := map[*ast.Comment]bool{}
			for _, d := range f.Decls {
				know(known, d)
			}
			for _, g := range f.Comments {
				for _, c := range g.List {
					if strings.HasPrefix(c.Text, "//c:") && !known[c] {
						t.refuse(c.Pos(), "//c:extern NAME and //c:inrange stand above a function, //c:whole above a type or a group of constants", "%s says nothing here", c.Text)
					}
				}
			}
		}
	}
}

// know marks the directives that a declaration takes.
func know(known map[*ast.Comment]bool, d ast.Decl) {
	mark := func(doc *ast.CommentGroup, names ...string) {
		if doc == nil {
			return
		}
		for _, c := range doc.List {
			if name, _, _ := strings.Cut(c.Text, " "); slices.Contains(names, name) {
				known[c] = true
			}
		}
	}
	switch d := d.(type) {
	case *ast.FuncDecl:
		mark(d.Doc, externDirective, inRangeDirective)
	case *ast.GenDecl:
		if d.Tok == token.CONST || d.Tok == token.TYPE && len(d.Specs) == 1 {
			mark(d.Doc, wholeDirective)
		}
		for _, s := range d.Specs {
			if s, ok := s.(*ast.TypeSpec); ok {
				mark(s.Doc, wholeDirective)
			}
		}
	}
}
