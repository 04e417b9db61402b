package translate

import (
	"go/ast"
	"go/token"
	"go/types"
)

// flow knows what is written through each pointer. A pointer is a variable of
// pointer or slice type, or a function's result (then its *types.Func). Nothing
// is told of branches: written anywhere is written.
type flow struct {
	t       *translator
	written map[types.Object]bool
	from    map[types.Object][]derivation // what a pointer points into
}

// derivation is one place where a pointer gets its address: from another pointer or
// the result of a function, from a variable, or from constant memory.
type derivation struct {
	of       types.Object  // the pointer or function
	call     *ast.CallExpr // of the function
	own      *types.Var    // the variable, whose own memory it is
	readOnly bool          // constant memory, never written
	passed   bool          // by a caller, for a parameter
	at       token.Pos
}

// follow collects the flow of all functions and refuses what would write to
// constant memory.
func (t *translator) follow() {
	t.flow = &flow{t: t, written: map[types.Object]bool{}, from: map[types.Object][]derivation{}}
	for _, f := range t.order {
		if f.extern || f.decl.Body == nil {
			continue
		}
		for v := range f.object.Signature().Params().Variables() {
			if isGrid(v.Type()) {
				t.flow.written[v] = true
			}
		}
		t.flow.collect(f)
	}
	t.flow.spread()
	t.checkOutlives()
}

// writes reports whether a call of the function changes memory of its caller.
func (f *flow) writes(fn *types.Func) bool {
	s := fn.Signature()
	if r := s.Recv(); r != nil && f.written[r] {
		return true
	}
	for p := range s.Params().Variables() {
		if f.written[p] {
			return true
		}
	}
	return false
}

// collect notes what a function writes and where its pointers come from.
func (f *flow) collect(fn *function) {
	info := f.t.source.info
	ast.Inspect(fn.decl.Body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.AssignStmt:
			for i, left := range n.Lhs {
				f.store(left)
				if len(n.Lhs) == len(n.Rhs) {
					f.derive(f.target(left), n.Rhs[i], false)
				}
			}
		case *ast.IncDecStmt:
			f.store(n.X)
		case *ast.ValueSpec:
			for i, id := range n.Names {
				if i < len(n.Values) {
					f.derive(info.Defs[id], n.Values[i], false)
				}
			}
		case *ast.ReturnStmt:
			if len(n.Results) == 1 {
				f.derive(fn.object, n.Results[0], false)
			}
		case *ast.CallExpr:
			f.call(n)
		}
		return true
	})
}

// target is the pointer variable that an assignment gives an address, nil for
// anything else.
func (f *flow) target(left ast.Expr) types.Object {
	id, ok := ast.Unparen(left).(*ast.Ident)
	if !ok {
		return nil
	}
	return f.t.source.info.ObjectOf(id)
}

// store marks what an assignment writes through.
func (f *flow) store(left ast.Expr) {
	if _, plain := ast.Unparen(left).(*ast.Ident); plain {
		return // the variable itself
	}
	d := f.root(left)
	if d.readOnly {
		f.t.refuse(left.Pos(), "copy it to a field of the state", "constant memory is written")
	}
	if d.of != nil {
		f.written[d.of] = true
	}
}

// derive notes that a pointer points where an expression does.
func (f *flow) derive(to types.Object, e ast.Expr, passed bool) {
	if typ := f.t.source.info.TypeOf(e); to != nil && typ != nil && isAddress(typ) {
		f.note(to, e, passed)
	}
}

// note is derive of what is an address, or taken for one.
func (f *flow) note(to types.Object, e ast.Expr, passed bool) {
	d := f.root(e)
	d.at, d.passed = e.Pos(), passed
	f.from[to] = append(f.from[to], d)
}

// call notes what is passed for parameters.
func (f *flow) call(n *ast.CallExpr) {
	fn, receiver := f.t.callee(n)
	if fn == nil {
		return
	}
	s := fn.Signature()
	if receiver != nil && s.Recv() != nil {
		if isPointer(s.Recv().Type()) {
			f.note(s.Recv(), receiver, true)
		}
	}
	for i, a := range n.Args {
		if i < s.Params().Len() {
			f.derive(s.Params().At(i), a, true)
		}
	}
}

// root is the memory that an expression lies in or points into.
func (f *flow) root(e ast.Expr) derivation {
	switch e := e.(type) {
	case *ast.ParenExpr:
		return f.root(e.X)
	case *ast.StarExpr:
		return f.root(e.X)
	case *ast.UnaryExpr:
		return f.root(e.X)
	case *ast.IndexExpr:
		return f.root(e.X)
	case *ast.SliceExpr:
		return f.root(e.X)
	case *ast.SelectorExpr:
		if d := f.t.fieldOf(e); d != nil && d.readOnly {
			return derivation{readOnly: true}
		}
		return f.root(e.X)
	case *ast.CallExpr:
		if fn, _ := f.t.callee(e); fn != nil {
			return derivation{of: fn, call: e}
		}
	case *ast.Ident:
		v := f.t.variableOf(e)
		if f.t.tables[v] != nil {
			return derivation{readOnly: true}
		}
		switch {
		case v == nil:
		case isAddress(v.Type()):
			return derivation{of: v}
		default:
			return derivation{own: v}
		}
	}
	return derivation{}
}

// spread carries written from each pointer to those it comes from, until
// nothing changes.
func (f *flow) spread() {
	for changed := true; changed; {
		changed = false
		for to, list := range f.from {
			if !f.written[to] {
				continue
			}
			for _, d := range list {
				if d.of != nil && !f.written[d.of] {
					f.written[d.of] = true
					changed = true
				}
			}
		}
	}
	for to, list := range f.from {
		for _, d := range list {
			if d.readOnly && f.written[to] {
				f.t.refuse(d.at, "copy it to a field of the state, or do not write there", "constant memory goes to %s, which is written through", to.Name())
			}
		}
	}
}
