package translate

import (
	"go/ast"
	"go/constant"
	"go/token"
)

// switches writes a switch on an integer as a switch whose clauses end with break
// where they do not leave, since C falls through. Cases are constants, so that C
// takes them, and their order does not matter. A switch on conditions becomes a row
// of ifs, which are tried in the same order. What the switch declares gets a block
// around it.
func (w *writer) switches(s *ast.SwitchStmt) {
	if s.Init == nil {
		w.clauses(s)
		return
	}
	w.nested("", func() {
		w.simpleLine(s.Init)
		w.clauses(s)
	})
}

// clauses writes a switch without what it declares.
func (w *writer) clauses(s *ast.SwitchStmt) {
	if s.Tag == nil {
		w.chain(s)
		return
	}
	if v := w.fold(s.Tag); v != nil {
		w.settledSwitch(s, v)
		return
	}
	if typ := w.typeOf(s.Tag); !isInteger(typ) || isIndex(typ) {
		w.refuse(s.Tag.Pos(), "switch on an integer", "a switch on %s", typ)
	}
	w.line("switch (" + w.wholeCondition(s.Tag) + ") {")
	for _, c := range s.Body.List {
		w.clause(c.(*ast.CaseClause))
	}
	w.commentsBefore(s.Body.Rbrace)
	w.line("}")
}

// clause writes case A, B: as case A: case B:, with braces around what declares
// something.
func (w *writer) clause(c *ast.CaseClause) {
	w.commentsBefore(c.Pos())
	brace := ""
	if declares(c.Body) {
		brace = " {"
	}
	for i, e := range c.List {
		if w.t.constantOf(e) == nil {
			w.refuse(e.Pos(), "compare with if", "a case that is not constant")
		}
		text, _ := w.expr(e)
		if i < len(c.List)-1 {
			w.line("case " + text + ":")
		} else {
			w.line("case " + text + ":" + brace)
		}
	}
	if c.List == nil {
		w.line("default:" + brace)
	}
	w.commentBehind(c.Colon)
	w.depth++
	w.block(c.Body, c.End())
	if !leaves(c.Body) {
		w.line("break;")
	}
	w.depth--
	if brace != "" {
		w.line("}")
	}
}

// leaves reports statements that end by leaving.
func leaves(list []ast.Stmt) bool {
	if len(list) == 0 {
		return false
	}
	switch list[len(list)-1].(type) {
	case *ast.ReturnStmt, *ast.BranchStmt:
		return true
	}
	return false
}

// settledSwitch writes the clause that a fixed value chooses.
func (w *writer) settledSwitch(s *ast.SwitchStmt, v constant.Value) {
	var pick *ast.CaseClause
	for _, c := range s.Body.List {
		c := c.(*ast.CaseClause)
		if c.List == nil && pick == nil {
			pick = c
		}
		for _, e := range c.List {
			if value := w.fold(e); value != nil && constant.Compare(value, token.EQL, v) {
				pick = c
			}
		}
	}
	if pick != nil {
		w.skipComments(pick.Pos())
		w.refuseBreak(pick.Body)
		w.chosen(bodyOf(pick), "")
	}
	w.skipComments(s.End())
}

// chain writes a switch without tag as a row of ifs: case a, b: is if (a || b).
func (w *writer) chain(s *ast.SwitchStmt) {
	var first, last *ast.IfStmt
	var otherwise *ast.CaseClause
	for i, c := range s.Body.List {
		c := c.(*ast.CaseClause)
		w.refuseBreak(c.Body)
		if c.List == nil {
			if i != len(s.Body.List)-1 {
				w.refuse(c.Pos(), "put it last", "default before other cases")
			}
			otherwise = c
			continue
		}
		next := &ast.IfStmt{If: c.Case, Cond: w.anyOf(c.List), Body: bodyOf(c)}
		if last == nil {
			first = next
		} else {
			last.Else = next
		}
		last = next
	}
	switch {
	case last != nil && otherwise != nil:
		last.Else = bodyOf(otherwise)
	case otherwise != nil:
		w.chosen(bodyOf(otherwise), "")
	}
	if first != nil {
		w.ifs(first, "")
	}
}

// anyOf joins the conditions of a case by ||, as Go tries them.
func (w *writer) anyOf(list []ast.Expr) ast.Expr {
	cond := list[0]
	for _, e := range list[1:] {
		or := &ast.BinaryExpr{X: cond, OpPos: e.Pos(), Op: token.LOR, Y: e}
		w.t.source.info.Types[or] = w.t.source.info.Types[cond]
		cond = or
	}
	return cond
}

// refuseBreak refuses a break that would leave a switch which is none in C.
func (w *writer) refuseBreak(list []ast.Stmt) {
	for _, s := range list {
		ast.Inspect(s, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.ForStmt, *ast.RangeStmt, *ast.SwitchStmt:
				return false
			case *ast.BranchStmt:
				if n.Tok == token.BREAK {
					w.refuse(n.Pos(), "turn the condition round", "a break out of a switch that is an if in C")
				}
			}
			return true
		})
	}
}

// bodyOf is a clause's body as a block.
func bodyOf(c *ast.CaseClause) *ast.BlockStmt {
	return &ast.BlockStmt{Lbrace: c.Colon, List: c.Body, Rbrace: c.End()}
}
