package translate

import (
	"go/ast"
	"go/types"
)

// Program is what is translated, and how its names look in C.
type Program struct {
	// Prefix begins the name of every type and constant: strikerose gives
	// strikerose_ring_t and STRIKEROSE_LATE.
	Prefix   string
	Packages []Package // in any order, with all that they import of each other
	Public   []Name    // functions and methods that C may call: where reaching begins
	Types    []Name    // types whose C name is given
	// Fixed gives fields a constant value, by PACKAGE.Type.Field; of a bool 0 or 1.
	Fixed map[string]int64
	// Globals names constant memory in C for `c:"const"` pointer fields, by
	// PACKAGE.Type.Field: C reads it there, and needs no field.
	Globals map[string]string
}

// Package is one package's translated files.
type Package struct {
	Path  string // as imported
	Part  string // begins its functions' names, and follows the prefix in its types; may be empty
	Files []File
}

// File is the text of one file; the name serves in errors.
type File struct{ Name, Text string }

// Name gives a Go name its C name: PACKAGE.Function, PACKAGE.Type.Method or
// PACKAGE.Type, PACKAGE being the name in the package clause.
type Name struct{ Go, C string }

// Result is the C text. Neither part has include guards or includes.
type Result struct {
	Header string              // constants, types and prototypes; needs stdint.h and the macros
	Code   string              // the rest; needs the header, string.h, and math.h where Math says so
	Fields map[string][]string // kept fields of each struct, by PACKAGE.Type, in order
	Macros []string            // sizes that must be defined before the header, sorted
	Math   bool                // math.h is used
}

// Translate writes the program in C. It errors with all that it refuses, each
// as a Fault, joined.
func Translate(p Program) (*Result, error) {
	t := &translator{program: p}
	if err := t.load(); err != nil {
		return nil, err
	}
	t.declare()
	if err := t.fault(); err != nil {
		return nil, err
	}
	t.follow()
	t.checkAll()
	if err := t.fault(); err != nil {
		return nil, err
	}
	out := t.write()
	if err := t.fault(); err != nil {
		return nil, err
	}
	return out, nil
}

// translator is one translation under way.
type translator struct {
	program  Program
	packages []*pkg // imports before importers
	source   source
	faults   []Fault

	functions map[*types.Func]*function
	order     []*function // of the source
	constants map[*types.Const]*constDecl
	tables    map[*types.Var]*table
	structs   map[*types.TypeName]*typeDecl
	fields    map[*types.Var]*field
	fixed     map[*types.Var]int64 // fields with a constant value
	flow      *flow
}

// function is one function or method of the source.
type function struct {
	decl    *ast.FuncDecl
	object  *types.Func
	pkg     *pkg
	file    *ast.File
	name    string // in C
	extern  bool   // C has it already
	inRange bool   // may convert float to integer
	public  bool
}

// constDecl is a named constant at package level.
type constDecl struct {
	object *types.Const
	spec   *ast.ValueSpec
	value  ast.Expr // as written, nil where it repeats
	doc    *ast.CommentGroup
	group  *ast.CommentGroup // above the group that it stands in, if any
	name   string
	whole  bool // kept though unused, in the header
}

// table is a package-level array of constants.
type table struct {
	object *types.Var
	value  ast.Expr
	doc    *ast.CommentGroup
	name   string
}

// typeDecl is a named type at package level.
type typeDecl struct {
	object *types.TypeName
	doc    *ast.CommentGroup
	name   string
	key    string // PACKAGE.Type
	whole  bool   // all fields kept
}

// field is one field of a struct.
type field struct {
	object   *types.Var
	syntax   *ast.Field
	owner    *typeDecl
	name     string
	macro    string // of a slice: the macro of its size
	readOnly bool   // of a pointer: what it points to is not written
	global   string // of such a pointer: what it points to, by its name in C
}
