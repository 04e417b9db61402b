package translate

import (
	"go/constant"
	"go/token"
	"go/types"
	"slices"
)

// applyNames gives functions and types the names in C that the program asks for.
func (t *translator) applyNames() {
	for _, n := range slices.Concat(t.program.Public, t.program.Types) {
		if !isName(n.C) {
			t.refuse(token.NoPos, "use letters, digits and _", "%q, for %s, is no name in C", n.C, n.Go)
		}
	}
	for _, n := range t.program.Public {
		found := false
		for _, f := range t.order {
			if f.key() == n.Go {
				f.public, f.name, found = true, n.C, true
			}
		}
		if !found {
			t.refuse(token.NoPos, "name one as PACKAGE.Function or PACKAGE.Type.Method", "no function %s among the translated ones", n.Go)
		}
	}
	for _, n := range t.program.Types {
		found := false
		for _, d := range t.structs {
			if d.key == n.Go {
				d.name, found = n.C, true
			}
		}
		if !found {
			t.refuse(token.NoPos, "name one as PACKAGE.Type", "no type %s among the translated ones", n.Go)
		}
	}
}

// applyFixed notes which fields are global in C, and which are constants.
func (t *translator) applyFixed() {
	known := map[string]*field{}
	for _, f := range t.fields {
		known[f.owner.key+"."+f.object.Name()] = f
	}
	for key, name := range t.program.Globals {
		f, ok := known[key]
		if !ok || !f.readOnly {
			t.refuse(token.NoPos, "name one as PACKAGE.Type.Field", "no pointer field %s to make global", key)
			continue
		}
		f.global = name
	}
	for key, value := range t.program.Fixed {
		f, ok := known[key]
		if !ok {
			t.refuse(token.NoPos, "name one as PACKAGE.Type.Field", "no field %s to fix", key)
			continue
		}
		b, ok := f.object.Type().Underlying().(*types.Basic)
		if !ok || b.Info()&(types.IsInteger|types.IsBoolean) == 0 {
			t.refuse(f.object.Pos(), "fix integers and bools only", "field %s is fixed", key)
			continue
		}
		if isBool(b) && value != 0 && value != 1 || isInteger(b) && !fits(constant.MakeInt64(value), b) {
			t.refuse(f.object.Pos(), "fix it to a value of its type", "field %s, %s, is fixed to %d", key, b, value)
			continue
		}
		t.fixed[f.object] = value
	}
}
