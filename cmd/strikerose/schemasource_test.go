package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strconv"
	"strings"
)

// sourcePackage is what the source of a package says.
type sourcePackage struct {
	folder  string
	name    string
	types   map[string]sourceType
	imports map[string]string     // folders by name, of our own packages
	strings map[string]string     // string constants
	ofType  map[string][]string   // values of the string constants of a type
	lists   map[string][]ast.Expr // what functions return that return a list of strings
	writes  map[string]ast.Expr   // by type with a MarshalJSON: the struct that it writes
}

type sourceType struct {
	expr ast.Expr
	doc  string
}

// module is the path to which the folders of imports are relative.
const module = "strikerose/"

// read reads a package's source, once.
func (m *schemaMaker) read(folder string) (*sourcePackage, error) {
	if p := m.packages[folder]; p != nil {
		return p, nil
	}
	p := &sourcePackage{folder: folder, types: map[string]sourceType{}, imports: map[string]string{}, strings: map[string]string{},
		ofType: map[string][]string{}, lists: map[string][]ast.Expr{}, writes: map[string]ast.Expr{}}
	m.packages[folder] = p
	files, err := filepath.Glob(filepath.Join("..", "..", filepath.FromSlash(folder), "*.go"))
	if err != nil {
		return nil, err
	}
	for _, path := range files {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ParseComments)
		if err != nil {
			return nil, err
		}
		p.name = file.Name.Name
		for _, i := range file.Imports {
			path, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return nil, err
			}
			if folder, ours := strings.CutPrefix(path, module); ours && i.Name == nil {
				p.imports[folder[strings.LastIndex(folder, "/")+1:]] = folder
			}
		}
		for _, d := range file.Decls {
			p.declared(d)
		}
	}
	if p.name == "" {
		return nil, fmt.Errorf("%s: holds no Go source", folder)
	}
	return p, nil
}

func (p *sourcePackage) declared(d ast.Decl) {
	switch d := d.(type) {
	case *ast.GenDecl:
		for _, s := range d.Specs {
			switch s := s.(type) {
			case *ast.TypeSpec:
				doc := s.Doc
				if doc == nil {
					doc = d.Doc
				}
				p.types[s.Name.Name] = sourceType{s.Type, doc.Text()}
			case *ast.ValueSpec:
				if d.Tok == token.CONST {
					p.constants(s)
				}
			}
		}
	case *ast.FuncDecl:
		if len(d.Body.List) == 1 {
			if back, ok := d.Body.List[0].(*ast.ReturnStmt); ok && len(back.Results) == 1 {
				if list, ok := back.Results[0].(*ast.CompositeLit); ok {
					p.lists[d.Name.Name] = list.Elts
				}
			}
		}
		if d.Name.Name == "MarshalJSON" && d.Recv != nil {
			if of, ok := d.Recv.List[0].Type.(*ast.Ident); ok {
				ast.Inspect(d.Body, func(n ast.Node) bool {
					if lit, ok := n.(*ast.CompositeLit); ok && p.writes[of.Name] == nil {
						p.writes[of.Name] = lit.Type
					}
					return true
				})
			}
		}
	}
}

func (p *sourcePackage) constants(s *ast.ValueSpec) {
	for i, value := range s.Values {
		lit, ok := value.(*ast.BasicLit)
		if !ok || lit.Kind != token.STRING {
			continue
		}
		text, err := strconv.Unquote(lit.Value)
		if err != nil {
			continue
		}
		p.strings[s.Names[i].Name] = text
		if of, ok := s.Type.(*ast.Ident); ok {
			p.ofType[of.Name] = append(p.ofType[of.Name], text)
		}
	}
}

// structOf is the struct by which a type is printed, which may be one that its
// MarshalJSON fills in, and the comments of the type's own fields.
func (p *sourcePackage) structOf(name string) (fields *ast.StructType, comments map[string]string, ok bool) {
	own, ok := p.types[name].expr.(*ast.StructType)
	if !ok {
		return nil, nil, false
	}
	fields = own
	switch written := p.writes[name].(type) {
	case *ast.StructType:
		fields = written
	case *ast.Ident:
		fields = p.types[written.Name].expr.(*ast.StructType)
	}
	return fields, commentsOf(own), true
}

// commentsOf are the comments of a struct's fields by their names.
func commentsOf(t *ast.StructType) map[string]string {
	out := map[string]string{}
	for _, f := range t.Fields.List {
		for _, name := range f.Names {
			out[name.Name] = f.Doc.Text() + f.Comment.Text()
		}
	}
	return out
}
