package translate

import (
	"cmp"
	"errors"
	"fmt"
	"go/token"
	"slices"
)

// Fault is one thing that cannot be translated.
type Fault struct {
	At   token.Position // file, line and column
	What string         // what is wrong
	Mend string         // what to write instead
}

func (f Fault) Error() string {
	text := f.What
	if f.At.IsValid() {
		text = fmt.Sprintf("%s: %s", f.At, f.What)
	}
	if f.Mend != "" {
		text += ": " + f.Mend
	}
	return text
}

// refuse notes a fault, once a place.
func (t *translator) refuse(at token.Pos, mend, what string, args ...any) {
	f := Fault{At: t.source.fset.Position(at), What: fmt.Sprintf(what, args...), Mend: mend}
	if !slices.Contains(t.faults, f) {
		t.faults = append(t.faults, f)
	}
}

// fault joins the faults so far, file by file in the order of the source.
func (t *translator) fault() error {
	slices.SortFunc(t.faults, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.At.Filename, b.At.Filename), a.At.Offset-b.At.Offset, cmp.Compare(a.What, b.What))
	})
	var list []error
	for _, f := range t.faults {
		list = append(list, f)
	}
	return errors.Join(list...)
}
