package translate

import (
	"fmt"
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
)

// block writes statements, with the comments before and behind them. It stops
// behind one that leaves for good by fixed fields.
func (w *writer) block(list []ast.Stmt, end token.Pos) {
	for _, s := range list {
		w.commentsBefore(s.Pos())
		w.stmt(s)
		w.commentBehind(s.End())
	}
	w.commentsBefore(end)
}

// braces writes a block with its braces behind a head.
func (w *writer) braces(head string, b *ast.BlockStmt) {
	w.line(head + " {")
	w.commentBehind(b.Lbrace)
	w.depth++
	w.block(b.List, b.Rbrace)
	w.depth--
	w.line("}")
}

func (w *writer) stmt(s ast.Stmt) {
	switch s := s.(type) {
	case *ast.AssignStmt, *ast.IncDecStmt, *ast.ExprStmt:
		w.simpleLine(s)
	case *ast.DeclStmt:
		w.declare(s)
	case *ast.ReturnStmt:
		w.returns(s)
	case *ast.IfStmt:
		w.ifs(s, "")
	case *ast.ForStmt:
		w.fors(s)
	case *ast.RangeStmt:
		w.ranges(s)
	case *ast.SwitchStmt:
		w.switches(s)
	case *ast.BlockStmt:
		w.line("{")
		w.depth++
		w.block(s.List, s.Rbrace)
		w.depth--
		w.line("}")
	case *ast.BranchStmt:
		if s.Label != nil || s.Tok != token.BREAK && s.Tok != token.CONTINUE {
			w.refuse(s.Pos(), "write it as a function with return", "%s", s.Tok)
			return
		}
		w.line(s.Tok.String() + ";")
	case *ast.EmptyStmt:
	case *ast.DeferStmt, *ast.GoStmt, *ast.SelectStmt, *ast.SendStmt, *ast.LabeledStmt, *ast.TypeSwitchStmt:
		w.refuse(s.Pos(), "use if, for and switch", "a statement that has no C here (%T)", s)
	default:
		w.refuse(s.Pos(), "use the subset", "a statement that has no C here (%T)", s)
	}
}

// simpleLine writes a simple statement as a line.
func (w *writer) simpleLine(s ast.Stmt) {
	if text := w.simple(s); text != "" {
		w.line(text + ";")
	}
	if a, ok := s.(*ast.AssignStmt); ok && a.Tok == token.DEFINE {
		w.notePlace(a.Lhs[0])
	}
}

// notePlace remembers where a variable was declared.
func (w *writer) notePlace(e ast.Expr) {
	id, ok := e.(*ast.Ident)
	if !ok {
		return
	}
	if v := w.t.source.info.Defs[id]; v != nil {
		w.places[v] = place{line: len(w.lines), depth: w.depth}
	}
}

// simple writes an assignment, ++, -- or a call, without semicolon.
func (w *writer) simple(s ast.Stmt) string {
	switch s := s.(type) {
	case *ast.AssignStmt:
		return w.assignment(s)
	case *ast.IncDecStmt:
		op := token.ADD
		if s.Tok == token.DEC {
			op = token.SUB
		}
		w.checkArithmetic(s.TokPos, op, w.typeOf(s.X))
		return w.left(s.X, true) + s.Tok.String()
	case *ast.ExprStmt:
		c, ok := ast.Unparen(s.X).(*ast.CallExpr)
		if !ok {
			w.refuse(s.Pos(), "leave it out", "an expression that does nothing")
			return ""
		}
		w.lone = c
		text, _ := w.call(c)
		return text
	}
	w.refuse(s.Pos(), "assign, count or call", "a statement that has no C here (%T)", s)
	return ""
}

// aloneIn finds the call that is all of an expression, but for a conversion or
// a !.
func (w *writer) aloneIn(e ast.Expr) *ast.CallExpr {
	switch x := ast.Unparen(e).(type) {
	case *ast.UnaryExpr:
		if x.Op == token.NOT {
			return w.aloneIn(x.X)
		}
	case *ast.CallExpr:
		if tv := w.t.source.info.Types[x.Fun]; tv.IsType() && len(x.Args) == 1 {
			return w.aloneIn(x.Args[0])
		}
		return x
	}
	return nil
}

// writing is the call of aloneIn if it writes through a pointer.
func (w *writer) writing(e ast.Expr) *ast.CallExpr {
	c := w.aloneIn(e)
	if c == nil {
		return nil
	}
	if fn, _ := w.t.callee(c); fn == nil || !w.t.flow.writes(fn) {
		return nil
	}
	return c
}

// whole writes an expression that may be a writing call.
func (w *writer) whole(e ast.Expr) string {
	w.lone = w.aloneIn(e)
	text := w.value(e)
	w.lone = nil
	return text
}

func (w *writer) assignment(s *ast.AssignStmt) string {
	if len(s.Lhs) != 1 || len(s.Rhs) != 1 {
		w.refuse(s.Pos(), "assign one at a time", "several assignments at once")
		return ""
	}
	left, right := s.Lhs[0], s.Rhs[0]
	switch s.Tok {
	case token.DEFINE:
		return w.define(left.(*ast.Ident), right)
	case token.ASSIGN:
		if id, ok := left.(*ast.Ident); ok && id.Name == "_" {
			return "(void)" + w.in(right, precUnary)
		}
		if w.writing(right) != nil && !w.steady(left) {
			w.refuse(s.Pos(), "keep the result in a variable first", "C leaves open whether the left side is found before the call writes")
		}
		text := w.whole(right)
		return w.left(left, false) + " = " + text
	}
	return w.update(s, left, right)
}

// steady reports a left side that no call can move: a variable, fields of it,
// elements at constant places.
func (w *writer) steady(e ast.Expr) bool {
	switch e := ast.Unparen(e).(type) {
	case *ast.Ident:
		return true
	case *ast.SelectorExpr:
		return w.steady(e.X)
	case *ast.StarExpr:
		return w.steady(e.X)
	case *ast.IndexExpr:
		return w.t.source.info.Types[e.Index].Value != nil && w.steady(e.X)
	}
	return false
}

// update writes assignments with an operator.
func (w *writer) update(s *ast.AssignStmt, left, right ast.Expr) string {
	op := operatorOf(s.Tok)
	typ := w.typeOf(left)
	w.checkOperation(op, left, right, s.TokPos)
	if w.writing(right) != nil {
		w.refuse(s.Pos(), "keep the result in a variable first", "C leaves open whether the left side is read before the call writes")
	}
	target := w.left(left, true)
	if op != token.AND_NOT && !isNarrow(typ) {
		text, _ := w.expr(right)
		return target + " " + op.String() + "= " + text
	}
	text, _ := w.operation(op, left, right)
	if isNarrow(typ) {
		text = "(" + w.typeName(typ) + ")(" + text + ")"
	}
	return target + " = " + text
}

// operatorOf is the operator of an assignment like +=.
func operatorOf(tok token.Token) token.Token { return tok - token.ADD_ASSIGN + token.ADD }

// left writes the left side of an assignment. Reads says that the old value is
// used too.
func (w *writer) left(e ast.Expr, reads bool) string {
	e = ast.Unparen(e)
	if id, ok := e.(*ast.Ident); ok {
		v, ok := w.t.source.info.Uses[id].(*types.Var)
		if !ok {
			w.refuse(e.Pos(), "assign to a variable", "%s is no variable", id.Name)
			return "0"
		}
		if w.tableOf(id) != nil {
			w.refuse(e.Pos(), "keep what changes in the state", "table %s is written", id.Name)
		}
		if w.looping[v] {
			w.refuse(e.Pos(), "count in a variable of your own", "%s, which counts the loop, is changed", id.Name)
		}
		return w.local(id)
	}
	if c, ok := e.(*ast.SelectorExpr); ok {
		v, _ := w.t.source.info.Uses[c.Sel].(*types.Var)
		if _, fixed := w.t.fixed[v]; fixed {
			w.refuse(e.Pos(), "only what never changes can be fixed", "fixed field %s is written", c.Sel.Name)
		}
		if f := w.t.fields[v]; f != nil && f.global != "" {
			w.refuse(e.Pos(), "set it in a file that is not translated", "%s, which is global in C, is written", c.Sel.Name)
		}
		if _, slice := w.typeOf(e).Underlying().(*types.Slice); slice {
			w.refuse(e.Pos(), "make it in a file that is not translated", "slice %s is replaced", c.Sel.Name)
		}
	}
	switch e.(type) {
	case *ast.SelectorExpr, *ast.IndexExpr, *ast.StarExpr:
	default:
		w.refuse(e.Pos(), "assign to a variable, field or element", "an assignment to an expression")
	}
	text, _ := w.leftText(e)
	return text
}

// leftText writes it without folding: a place, not a value.
func (w *writer) leftText(e ast.Expr) (string, int) {
	switch e := e.(type) {
	case *ast.SelectorExpr:
		return w.selector(e), precPostfix
	case *ast.IndexExpr:
		return w.index(e), precPostfix
	}
	return w.expr(e)
}

func (w *writer) define(id *ast.Ident, right ast.Expr) string {
	v := w.t.source.info.Defs[id]
	if v == nil || id.Name == "_" {
		w.refuse(id.Pos(), "leave it out", "nothing is declared")
		return ""
	}
	typ := v.Type()
	if _, slice := typ.Underlying().(*types.Slice); slice {
		w.refuse(id.Pos(), "use the slice where it is", "%s is a slice", id.Name)
	}
	w.checkLocal(id, typ)
	text := w.whole(right)
	w.checkShadow(id, right)
	return w.declaration(w.local(id), typ, nil, isAddress(typ) && !w.t.flow.written[v], false) + " = " + text
}

func (w *writer) checkLocal(id *ast.Ident, typ types.Type) {
	if isIndex(typ) {
		w.refuse(id.Pos(), "give it a width: int32(...)", "%s is a plain int, which only counts elements", id.Name)
	} else {
		w.t.checkType(id.Pos(), typ)
	}
	if !isAddress(typ) && holdsSlice(typ) {
		w.refuse(id.Pos(), "use it where it is, by a pointer", "%s would copy a struct that holds slices", id.Name)
	}
}

// checkShadow refuses x := f(x): in C the new x is in scope at once.
func (w *writer) checkShadow(id *ast.Ident, right ast.Expr) {
	ast.Inspect(right, func(n ast.Node) bool {
		if other, ok := n.(*ast.Ident); ok && other != id {
			if v, ok := w.t.source.info.Uses[other].(*types.Var); ok && !v.IsField() && snake(v.Name()) == snake(id.Name) {
				w.refuse(id.Pos(), "rename the new one", "%s hides the variable of that name that its value uses", id.Name)
			}
		}
		return true
	})
}

func (w *writer) declare(s *ast.DeclStmt) {
	d, ok := s.Decl.(*ast.GenDecl)
	if !ok || d.Tok == token.TYPE {
		w.refuse(s.Pos(), "declare it at package level", "a type inside a function")
		return
	}
	if d.Tok == token.CONST {
		return // written where it is used, as a number
	}
	for _, spec := range d.Specs {
		vs := spec.(*ast.ValueSpec)
		for i, id := range vs.Names {
			if len(vs.Values) > 0 {
				w.line(w.define(id, vs.Values[i]) + ";")
			} else {
				w.zeroed(id, vs.Type)
			}
			w.notePlace(id)
		}
	}
}

// zeroed declares a variable without a value.
func (w *writer) zeroed(id *ast.Ident, syntax ast.Expr) {
	v := w.t.source.info.Defs[id]
	typ := v.Type()
	w.checkLocal(id, typ)
	if isAddress(typ) {
		w.refuse(id.Pos(), "give it a value", "%s is declared without one", id.Name)
	}
	zero := "0"
	switch typ.Underlying().(type) {
	case *types.Array, *types.Struct:
		zero = "{0}"
	}
	if isFloat(typ) {
		zero = "0.0f"
	}
	w.line(w.declaration(w.local(id), typ, syntax, false, false) + " = " + zero + ";")
}

func (w *writer) returns(s *ast.ReturnStmt) {
	switch len(s.Results) {
	case 0:
		w.line("return;")
	case 1:
		w.line("return " + w.whole(s.Results[0]) + ";")
	default:
		w.refuse(s.Pos(), "return a struct, or write through a pointer", "several results")
	}
}

// ifs writes an if; head is "else " behind another.
func (w *writer) ifs(s *ast.IfStmt, head string) {
	if s.Init != nil {
		w.line(head + "{")
		w.depth++
		w.simpleLine(s.Init)
		w.branch(s, "")
		w.depth--
		w.line("}")
		return
	}
	w.branch(s, head)
}

func (w *writer) branch(s *ast.IfStmt, head string) {
	if value, known := w.condition(s.Cond); known {
		w.settled(s, value, head)
		return
	}
	w.lone = w.aloneIn(s.Cond)
	cond, _ := w.expr(s.Cond)
	w.lone = nil
	w.line(head + "if (" + cond + ") {")
	w.commentBehind(s.Body.Lbrace)
	w.depth++
	w.block(s.Body.List, s.Body.Rbrace)
	w.depth--
	w.line("}")
	w.otherwise(s.Else)
}

// otherwise writes an else behind the brace that was just written.
func (w *writer) otherwise(e ast.Stmt) {
	if e == nil {
		return
	}
	if value, known := w.elseCondition(e); known && !value && e.(*ast.IfStmt).Else == nil {
		w.skipComments(e.End())
		return
	}
	last := len(w.lines) - 1
	w.lines = w.lines[:last] // the brace: C has it before else on one line
	switch e := e.(type) {
	case *ast.BlockStmt:
		w.braces("} else", e)
	case *ast.IfStmt:
		w.ifs(e, "} else ")
	}
}

func (w *writer) elseCondition(e ast.Stmt) (value, known bool) {
	if s, ok := e.(*ast.IfStmt); ok && s.Init == nil {
		return w.condition(s.Cond)
	}
	return false, false
}

// settled writes the branch of an if that a fixed field chooses.
func (w *writer) settled(s *ast.IfStmt, value bool, head string) {
	if value {
		w.chosen(s.Body, head)
		w.skipComments(s.End())
		return
	}
	w.skipComments(s.Body.End())
	switch e := s.Else.(type) {
	case *ast.BlockStmt:
		w.chosen(e, head)
	case *ast.IfStmt:
		w.ifs(e, head)
	default:
		if head != "" {
			w.line("}")
		}
	}
}

// chosen writes a block without its condition, in braces where it declares
// something.
func (w *writer) chosen(b *ast.BlockStmt, head string) {
	if head != "" {
		w.braces("} else", b)
		return
	}
	if declares(b.List) {
		w.line("{")
		w.depth++
		w.block(b.List, b.Rbrace)
		w.depth--
		w.line("}")
		return
	}
	w.block(b.List, b.Rbrace)
}

// declares reports whether statements declare a variable of their block.
func declares(list []ast.Stmt) bool {
	for _, s := range list {
		switch s := s.(type) {
		case *ast.DeclStmt:
			return true
		case *ast.AssignStmt:
			if s.Tok == token.DEFINE {
				return true
			}
		}
	}
	return false
}

func (w *writer) fors(s *ast.ForStmt) {
	if s.Init == nil && s.Post == nil {
		head := "for (;;)"
		if s.Cond != nil {
			head = "while (" + w.loopCondition(s.Cond) + ")"
		}
		w.braces(head, s.Body)
		return
	}
	init, cond, post := "", "", ""
	if s.Init != nil {
		init = w.simple(s.Init)
		if a, ok := s.Init.(*ast.AssignStmt); ok && a.Tok == token.DEFINE {
			w.watchCopy(a.Lhs[0], s.Body)
		}
	}
	if s.Cond != nil {
		cond = " " + w.loopCondition(s.Cond)
	}
	if s.Post != nil {
		post = " " + w.simple(s.Post)
	}
	w.braces("for ("+init+";"+cond+";"+post+")", s.Body)
}

// watchCopy refuses the address of a three-clause loop's variable: Go has one
// a round, C one a loop.
func (w *writer) watchCopy(e ast.Expr, body *ast.BlockStmt) {
	id, ok := e.(*ast.Ident)
	if !ok {
		return
	}
	v := w.t.source.info.Defs[id]
	ast.Inspect(body, func(n ast.Node) bool {
		if u, ok := n.(*ast.UnaryExpr); ok && u.Op == token.AND {
			if x, ok := ast.Unparen(u.X).(*ast.Ident); ok && w.t.source.info.Uses[x] == v {
				w.refuse(u.Pos(), "copy it to a variable", "the address of a loop's variable %s", id.Name)
			}
		}
		return true
	})
}

func (w *writer) loopCondition(e ast.Expr) string {
	w.lone = w.aloneIn(e)
	text, _ := w.expr(e)
	w.lone = nil
	return text
}

// ranges writes a loop over a count or an array.
func (w *writer) ranges(s *ast.RangeStmt) {
	key, _ := s.Key.(*ast.Ident)
	if key != nil && s.Tok == token.ASSIGN {
		w.refuse(s.Pos(), "declare it in the loop with :=", "a loop over a variable from outside")
	}
	name := ""
	if key != nil && key.Name != "_" {
		v := w.t.source.info.Defs[key]
		w.looping[v] = true
		name = w.local(key)
	} else {
		w.counter++
		name = w.ownName(fmt.Sprintf("round%d", w.counter), s.Pos())
	}
	typ := w.typeOf(s.X)
	w.noteRounds(key, s.X)
	if isInteger(typ) {
		w.rangeCount(s, name, typ)
		return
	}
	under := typ.Underlying()
	if p, ok := under.(*types.Pointer); ok {
		under = p.Elem().Underlying()
	}
	switch under.(type) {
	case *types.Array, *types.Slice:
	default:
		w.refuse(s.X.Pos(), "range over a count or an array", "a loop over %s", typ)
		return
	}
	end := w.length(s.X)
	w.line(fmt.Sprintf("for (int_fast16_t %s = 0; %s < %s; %s++) {", name, name, end, name))
	w.commentBehind(s.Body.Lbrace)
	w.depth++
	w.element(s, name)
	w.block(s.Body.List, s.Body.Rbrace)
	w.depth--
	w.line("}")
}

// noteRounds remembers how often a loop of constant length runs.
func (w *writer) noteRounds(key *ast.Ident, e ast.Expr) {
	if key == nil {
		return
	}
	v := w.t.source.info.Defs[key]
	if c := w.t.source.info.Types[e].Value; c != nil && c.Kind() == constant.Int {
		w.rounds[v], _ = constant.Int64Val(c)
	}
	if a, ok := w.typeOf(e).Underlying().(*types.Array); ok {
		w.rounds[v] = a.Len()
	}
}

// element declares the value of a range loop.
func (w *writer) element(s *ast.RangeStmt, index string) {
	id, ok := s.Value.(*ast.Ident)
	if !ok || id.Name == "_" {
		return
	}
	v := w.t.source.info.Defs[id]
	if _, array := v.Type().Underlying().(*types.Array); array || isAddress(v.Type()) {
		w.refuse(id.Pos(), "range over the indexes", "an array is copied each round")
	}
	w.checkLocal(id, v.Type())
	w.looping[v] = true
	if w.tableOf(s.X) == nil && w.written(s.Body) {
		w.refuse(id.Pos(), "range over the indexes: Go copies the array first, C does not", "a loop over values whose body writes to memory")
	}
	w.line(w.declaration(w.local(id), v.Type(), nil, true, false) + " = " + w.in(s.X, precPostfix) + "[" + index + "];")
	w.notePlace(id)
}

// written reports whether a loop's body stores to more than variables.
func (w *writer) written(body *ast.BlockStmt) bool {
	found := false
	ast.Inspect(body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.AssignStmt:
			if _, ok := n.Lhs[0].(*ast.Ident); !ok {
				found = true
			}
		case *ast.IncDecStmt:
			if _, ok := n.X.(*ast.Ident); !ok {
				found = true
			}
		case *ast.CallExpr:
			if fn, _ := w.t.callee(n); fn != nil && w.t.flow.writes(fn) {
				found = true
			}
		}
		return true
	})
	return found
}

func (w *writer) rangeCount(s *ast.RangeStmt, name string, typ types.Type) {
	c := w.typeName(typ)
	if isIndex(typ) {
		if _, ok := w.lengthOf(s.X); !ok {
			w.refuse(s.X.Pos(), "give it a width: range int32(8)", "a count that is a plain int")
		}
	}
	end, _ := w.expr(s.X)
	if w.fold(s.X) != nil || isIndex(typ) {
		w.braces(fmt.Sprintf("for (%s %s = 0; %s < %s; %s++)", c, name, name, end, name), s.Body)
		return
	}
	last := w.ownName(name+"_end", s.Pos())
	w.braces(fmt.Sprintf("for (%s %s = 0, %s = %s; %s < %s; %s++)", c, name, last, end, name, last, name), s.Body)
}

// lengthOf reports whether an expression is len(x).
func (w *writer) lengthOf(e ast.Expr) (ast.Expr, bool) {
	c, ok := ast.Unparen(e).(*ast.CallExpr)
	if !ok || len(c.Args) != 1 {
		return nil, false
	}
	id, ok := c.Fun.(*ast.Ident)
	if !ok || id.Name != "len" || !w.t.source.info.Types[c.Fun].IsBuiltin() {
		return nil, false
	}
	return c.Args[0], true
}

func (w *writer) switches(s *ast.SwitchStmt) {
	if s.Init != nil {
		w.line("{")
		w.depth++
		w.simpleLine(s.Init)
		defer func() {
			w.depth--
			w.line("}")
		}()
	}
	if s.Tag == nil {
		w.chain(s)
		return
	}
	if v := w.fold(s.Tag); v != nil {
		w.settledSwitch(s, v)
		return
	}
	if !isInteger(w.typeOf(s.Tag)) || isIndex(w.typeOf(s.Tag)) {
		w.refuse(s.Tag.Pos(), "switch on an integer", "a switch on %s", w.typeOf(s.Tag))
	}
	w.lone = w.aloneIn(s.Tag)
	tag, _ := w.expr(s.Tag)
	w.lone = nil
	w.line("switch (" + tag + ") {")
	for _, c := range s.Body.List {
		w.clause(c.(*ast.CaseClause))
	}
	w.commentsBefore(s.Body.Rbrace)
	w.line("}")
}

func (w *writer) clause(c *ast.CaseClause) {
	w.commentsBefore(c.Pos())
	brace := ""
	if declares(c.Body) {
		brace = " {"
	}
	for i, e := range c.List {
		if w.t.source.info.Types[e].Value == nil {
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
	end := c.End()
	w.block(c.Body, end)
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
		w.chosen(&ast.BlockStmt{Lbrace: pick.Colon, List: pick.Body, Rbrace: pick.End()}, "")
	}
	w.skipComments(s.End())
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

// chain writes a switch without tag as a row of ifs.
func (w *writer) chain(s *ast.SwitchStmt) {
	var first *ast.IfStmt
	var last *ast.IfStmt
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
		cond := c.List[0]
		for _, e := range c.List[1:] {
			or := &ast.BinaryExpr{X: cond, OpPos: e.Pos(), Op: token.LOR, Y: e}
			w.t.source.info.Types[or] = w.t.source.info.Types[cond]
			cond = or
		}
		next := &ast.IfStmt{If: c.Case, Cond: cond, Body: bodyOf(c)}
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

func bodyOf(c *ast.CaseClause) *ast.BlockStmt {
	return &ast.BlockStmt{Lbrace: c.Colon, List: c.Body, Rbrace: c.End()}
}
