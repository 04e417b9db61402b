package translate

import (
	"go/ast"
	"go/types"
)

// checkCalls refuses recursion.
func (t *translator) checkCalls() {
	const (
		under = 1
		done  = 2
	)
	state := map[*types.Func]int{}
	var visit func(f *function)
	visit = func(f *function) {
		state[f.object] = under
		if f.decl.Body != nil && !f.extern {
			ast.Inspect(f.decl.Body, func(n ast.Node) bool {
				c, ok := n.(*ast.CallExpr)
				if !ok {
					return true
				}
				fn, _ := t.callee(c)
				next, ok := t.functions[fn]
				if !ok {
					return true
				}
				switch state[fn] {
				case under:
					t.refuse(c.Pos(), "write a loop: the stack of a board must have a known depth", "%s calls itself, through %s", next.object.Name(), f.object.Name())
				case 0:
					visit(next)
				}
				return true
			})
		}
		state[f.object] = done
	}
	for _, f := range t.order {
		if state[f.object] == 0 {
			visit(f)
		}
	}
}
