package translate

import (
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"path"
	"strconv"
)

// pkg is one parsed and checked package.
type pkg struct {
	Package
	files  []*ast.File
	object *types.Package
	state  int // of the ordering: 0 untouched, 1 under way, 2 done
}

// source is the syntax and types of all packages.
type source struct {
	fset *token.FileSet
	info *types.Info
}

// mathText declares what functions with a body in Go alone may use.
const mathText = `package math
const Pi = 3.14159265358979323846264338327950288419716939937510582097494459
const Ln2 = 0.693147180559945309417232121458176568075500134360255254120680009
func Abs(x float64) float64
func Acos(x float64) float64
func Asin(x float64) float64
func Atan(x float64) float64
func Atan2(y, x float64) float64
func Ceil(x float64) float64
func Cos(x float64) float64
func Exp(x float64) float64
func Exp2(x float64) float64
func Floor(x float64) float64
func Hypot(p, q float64) float64
func Log(x float64) float64
func Log2(x float64) float64
func Pow(x, y float64) float64
func Sin(x float64) float64
func Sqrt(x float64) float64
func Tan(x float64) float64
func Tanh(x float64) float64
`

// importer finds packages of the program, and math.
type importer map[string]*types.Package

func (m importer) Import(path string) (*types.Package, error) {
	if p, ok := m[path]; ok {
		return p, nil
	}
	return nil, fmt.Errorf("package %q is not among the translated ones: C has only those", path)
}

// load parses the packages, orders them by their imports and checks their
// types. Its error holds all faults of syntax and types.
func (t *translator) load() error {
	t.source = source{fset: token.NewFileSet(), info: &types.Info{
		Types: map[ast.Expr]types.TypeAndValue{},
		Defs:  map[*ast.Ident]types.Object{},
		Uses:  map[*ast.Ident]types.Object{},
	}}
	byPath := map[string]*pkg{}
	var list []*pkg
	var faults []error
	for _, p := range t.program.Packages {
		loaded := &pkg{Package: p}
		for _, f := range p.Files {
			file, err := parser.ParseFile(t.source.fset, path.Join(p.Path, f.Name), f.Text, parser.ParseComments|parser.SkipObjectResolution)
			if err != nil {
				faults = append(faults, err)
				continue
			}
			loaded.files = append(loaded.files, file)
		}
		byPath[p.Path] = loaded
		list = append(list, loaded)
	}
	if len(faults) > 0 {
		return errors.Join(faults...)
	}
	for _, p := range list {
		if err := t.arrange(p, byPath); err != nil {
			return err
		}
	}
	return t.check(&faults)
}

// arrange puts a package behind what it imports.
func (t *translator) arrange(p *pkg, byPath map[string]*pkg) error {
	if p.state == 2 {
		return nil
	}
	if p.state == 1 {
		return fmt.Errorf("package %s imports itself", p.Path)
	}
	p.state = 1
	for _, f := range p.files {
		for _, i := range f.Imports {
			name, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return err
			}
			if of, ok := byPath[name]; ok {
				if err := t.arrange(of, byPath); err != nil {
					return err
				}
			}
		}
	}
	p.state = 2
	t.packages = append(t.packages, p)
	return nil
}

func (t *translator) check(faults *[]error) error {
	known := importer{}
	mathFile, err := parser.ParseFile(t.source.fset, "math", mathText, 0)
	if err != nil {
		return err
	}
	known["math"], err = (&types.Config{}).Check("math", t.source.fset, []*ast.File{mathFile}, nil)
	if err != nil {
		return err
	}
	for _, p := range t.packages {
		config := types.Config{
			Importer: known,
			Sizes:    types.SizesFor("gc", "amd64"),
			Error:    func(err error) { *faults = append(*faults, err) },
		}
		p.object, err = config.Check(p.Path, t.source.fset, p.files, t.source.info)
		if err != nil && len(*faults) == 0 {
			*faults = append(*faults, err)
		}
		known[p.Path] = p.object
	}
	return errors.Join(*faults...)
}
