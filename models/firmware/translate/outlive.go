package translate

import (
	"go/ast"
	"go/types"
)

// A variable lives in Go as long as something points to it; in C its memory is gone
// with its block. So a pointer is given the address only of what lives as long as it:
// of its own block or one around, of a parameter's, of the state.

// checkOutlives refuses pointers that would outlive what they point to.
func (t *translator) checkOutlives() {
	lands := landing{flow: t.flow, results: map[*types.Func]map[*types.Var]bool{}}
	for to, list := range t.flow.from {
		for _, d := range list {
			if d.passed {
				continue // what is passed outlives the call
			}
			for v := range lands.of(d) {
				if !isAddress(v.Type()) && !outlives(v, to) {
					t.refuse(d.at, "declare it where the pointer is, or take a pointer to it from the caller", "%s is gone in C while %s points to it", v.Name(), to.Name())
				}
			}
		}
	}
}

// outlives reports whether a variable is of the block of a pointer, or of one around
// it. A function's result is of no block.
func outlives(v *types.Var, to types.Object) bool {
	if _, result := to.(*types.Func); result {
		return false
	}
	for s := to.Parent(); s != nil; s = s.Parent() {
		if s == v.Parent() {
			return true
		}
	}
	return false
}

// landing tells which variables of its own function a pointer may point to, and
// which parameters it may come from.
type landing struct {
	flow    *flow
	results map[*types.Func]map[*types.Var]bool
}

func (l *landing) of(d derivation) map[*types.Var]bool {
	out := map[*types.Var]bool{}
	l.add(out, d)
	return out
}

func (l *landing) add(to map[*types.Var]bool, d derivation) {
	switch of := d.of.(type) {
	case nil:
		if d.own != nil {
			to[d.own] = true
		}
	case *types.Func:
		for v := range l.result(of) {
			if e := argument(of, v, d.call, l.flow.t); e != nil {
				l.add(to, l.flow.root(e))
			}
		}
	case *types.Var:
		if to[of] {
			return
		}
		to[of] = true
		for _, next := range l.flow.from[of] {
			if !next.passed {
				l.add(to, next)
			}
		}
	}
}

// result are the variables that a function's result comes from. Of one that calls
// itself nothing is said: it is refused.
func (l *landing) result(fn *types.Func) map[*types.Var]bool {
	if known, ok := l.results[fn]; ok {
		return known
	}
	out := map[*types.Var]bool{}
	l.results[fn] = out
	for _, d := range l.flow.from[fn] {
		l.add(out, d)
	}
	return out
}

// argument is what a call passes for a parameter, nil for other variables.
func argument(fn *types.Func, v *types.Var, call *ast.CallExpr, t *translator) ast.Expr {
	s := fn.Signature()
	if v == s.Recv() {
		_, receiver := t.callee(call)
		return receiver
	}
	for i := range min(s.Params().Len(), len(call.Args)) {
		if s.Params().At(i) == v {
			return call.Args[i]
		}
	}
	return nil
}
