package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
)

// schema is the part of JSON Schema that says what the commands print.
type schema struct {
	Dialect     string             `json:"$schema,omitempty"`
	ID          string             `json:"$id,omitempty"`
	Title       string             `json:"title,omitempty"`
	Description string             `json:"description,omitempty"`
	Ref         string             `json:"$ref,omitempty"`
	Type        any                `json:"type,omitempty"` // a name, or two where the value may be null
	Enum        []string           `json:"enum,omitempty"`
	Minimum     *float64           `json:"minimum,omitempty"`
	Above       *float64           `json:"exclusiveMinimum,omitempty"`
	Maximum     *float64           `json:"maximum,omitempty"`
	Below       *float64           `json:"exclusiveMaximum,omitempty"`
	Items       *schema            `json:"items,omitempty"`
	MinItems    int                `json:"minItems,omitempty"`
	MaxItems    int                `json:"maxItems,omitempty"`
	Properties  properties         `json:"properties,omitempty"`
	Required    []string           `json:"required,omitempty"`
	Additional  *schema            `json:"additionalProperties,omitempty"` // of values by any name
	AnyOf       []*schema          `json:"anyOf,omitempty"`
	Defs        map[string]*schema `json:"$defs,omitempty"`
}

// properties are those of an object, in the order in which they are printed.
type properties []property

type property struct {
	name string
	of   *schema
}

// MarshalJSON keeps the order.
func (p properties) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, x := range p {
		text, err := json.Marshal(x.of)
		if err != nil {
			return nil, err
		}
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, "%q:%s", x.name, text)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

func (p properties) named(name string) *schema {
	for _, x := range p {
		if x.name == name {
			return x.of
		}
	}
	return nil
}

// schemaMaker makes schemas from the Go source: types say what is printed, struct
// tags how it is named and what is required, comments what it means. A string whose
// type has constants is one of them. Further bounds stand in comments:
//
//	in (-180, 180]    in [0, 1]    at least 0    above 0    one of Rule or Fitted
//
// where Rule and Fitted are constants. What may be left out or null has a comment
// that says when it is absent or null.
type schemaMaker struct {
	packages map[string]*sourcePackage // by folder below the module
	defs     map[string]*schema
	faults   []string
}

func newSchemaMaker() *schemaMaker {
	return &schemaMaker{packages: map[string]*sourcePackage{}, defs: map[string]*schema{}}
}

// nameOf writes a name with its package's before it.
func nameOf(e ast.Expr) string {
	if s, ok := e.(*ast.SelectorExpr); ok {
		return s.X.(*ast.Ident).Name + "." + s.Sel.Name
	}
	return e.(*ast.Ident).Name
}

// called finds a package by its name: one that is imported, else any of ours.
func (m *schemaMaker) called(p *sourcePackage, name string) (*sourcePackage, error) {
	if folder, ok := p.imports[name]; ok {
		return m.read(folder)
	}
	for _, pattern := range []string{"", "*/", "*/*/"} {
		if found, err := filepath.Glob("../../" + pattern + name); err == nil && len(found) == 1 {
			return m.read(strings.TrimPrefix(filepath.ToSlash(found[0]), "../../"))
		}
	}
	return nil, fmt.Errorf("%s: names a package %s that is not ours", p.folder, name)
}

// of makes the schema of a type.
func (m *schemaMaker) of(p *sourcePackage, t ast.Expr) (*schema, error) {
	switch t := t.(type) {
	case *ast.Ident:
		return m.named(p, t.Name)
	case *ast.SelectorExpr:
		other, err := m.called(p, t.X.(*ast.Ident).Name)
		if err != nil {
			return nil, err
		}
		return m.named(other, t.Sel.Name)
	case *ast.StarExpr:
		s, err := m.of(p, t.X)
		if err != nil || s.Ref == "" {
			if err == nil {
				s.Type = []string{s.Type.(string), "null"}
			}
			return s, err
		}
		return &schema{AnyOf: []*schema{s, {Type: "null"}}}, nil
	case *ast.ArrayType:
		items, err := m.of(p, t.Elt)
		s := &schema{Type: "array", Items: items}
		if n, ok := t.Len.(*ast.BasicLit); ok {
			s.MinItems, _ = strconv.Atoi(n.Value)
			s.MaxItems = s.MinItems
		}
		return s, err
	case *ast.MapType:
		values, err := m.of(p, t.Value)
		return &schema{Type: "object", Additional: values}, err
	}
	return nil, fmt.Errorf("%s: a %T cannot be described", p.folder, t)
}

// named makes the schema of a type by its name: of a struct, a reference.
func (m *schemaMaker) named(p *sourcePackage, name string) (*schema, error) {
	zero := 0.0
	switch name {
	case "string":
		return &schema{Type: "string"}, nil
	case "bool":
		return &schema{Type: "boolean"}, nil
	case "float64", "float32":
		return &schema{Type: "number"}, nil
	case "int", "int32", "int64":
		return &schema{Type: "integer"}, nil
	case "uint32", "uint64":
		return &schema{Type: "integer", Minimum: &zero}, nil
	}
	t, ok := p.types[name]
	if !ok {
		return nil, fmt.Errorf("%s has no type %s", p.folder, name)
	}
	fields, comments, ok := p.structOf(name)
	if !ok {
		s, err := m.of(p, t.expr)
		if err == nil {
			s.Enum = p.ofType[name]
		}
		return s, err
	}
	key := name
	if p.folder != "cmd/strikerose" {
		key = p.name + "." + name
	}
	if m.defs[key] == nil {
		s := &schema{Type: "object", Description: describing(name, firstSentence(t.doc))}
		m.defs[key] = s // before its fields, which may hold it again
		if s.Description == "" {
			m.faults = append(m.faults, fmt.Sprintf("%s.%s: has no comment", p.folder, name))
		}
		if err := m.fields(p, name, fields, comments, s); err != nil {
			return nil, err
		}
		s.Description = asPrinted(s.Description, fields)
	}
	return &schema{Ref: "#/$defs/" + key}, nil
}

// fields adds the fields of a struct to the schema of its object. Comments are those
// of the type: it may write itself as a struct that has none.
func (m *schemaMaker) fields(p *sourcePackage, name string, t *ast.StructType, comments map[string]string, to *schema) error {
	for _, f := range t.Fields.List {
		if len(f.Names) == 0 && f.Tag == nil { // its fields are printed as the struct's own
			if err := m.embedded(p, f.Type, to); err != nil {
				return err
			}
			continue
		}
		if f.Tag == nil {
			if ast.IsExported(f.Names[0].Name) {
				m.faults = append(m.faults, fmt.Sprintf("%s.%s.%s: has no json tag", p.folder, name, f.Names[0].Name))
			}
			continue
		}
		text, err := strconv.Unquote(f.Tag.Value)
		if err != nil {
			return err
		}
		key, options, _ := strings.Cut(reflect.StructTag(text).Get("json"), ",")
		if key == "-" {
			continue
		}
		where := p.folder + "." + name + "." + f.Names[0].Name
		if key == "" || len(f.Names) > 1 {
			m.faults = append(m.faults, where+": needs a json tag and a line of its own")
			continue
		}
		expr, optional := f.Type, strings.Contains(options, "omit")
		if pointer, ok := expr.(*ast.StarExpr); ok && optional {
			expr = pointer.X // left out where it would be null
		}
		s, err := m.of(p, expr)
		if err != nil {
			return fmt.Errorf("%s: %w", where, err)
		}
		if f.Doc != nil && f.Comment != nil {
			m.faults = append(m.faults, where+": has two comments, above and beside it: keep one")
		}
		if err := m.comment(p, s, describing(f.Names[0].Name, comments[f.Names[0].Name]), optional); err != nil {
			m.faults = append(m.faults, where+": "+err.Error())
		}
		if !optional {
			to.Required = append(to.Required, key)
		}
		if to.Properties.named(key) != nil {
			return fmt.Errorf("%s: %s is there already", where, key)
		}
		to.Properties = append(to.Properties, property{key, s})
	}
	return nil
}

// embedded adds the fields of an embedded struct, which are printed as its own.
func (m *schemaMaker) embedded(p *sourcePackage, t ast.Expr, to *schema) error {
	name := nameOf(t)
	if from, rest, ok := strings.Cut(name, "."); ok {
		var err error
		if p, err = m.called(p, from); err != nil {
			return err
		}
		name = rest
	}
	fields, comments, ok := p.structOf(name)
	if !ok {
		return fmt.Errorf("%s: embeds %s, which is no struct", p.folder, name)
	}
	return m.fields(p, name, fields, comments, to)
}

// is tells whether a schema allows values of a type.
func (s *schema) is(kind string) bool {
	if some, ok := s.Type.([]string); ok {
		return slices.Contains(some, kind)
	}
	return s.Type == kind
}

func (s *schema) nullable() bool {
	return s.is("null") || slices.ContainsFunc(s.AnyOf, func(one *schema) bool { return one.is("null") })
}

// makeSchema makes the schema of a command from the types that it prints, and lists
// what the source does not say.
func makeSchema(command string, types ...string) ([]byte, *schema, []string, error) {
	m := newSchemaMaker()
	p, err := m.read("cmd/strikerose")
	if err != nil {
		return nil, nil, nil, err
	}
	var of []*schema
	for _, text := range types {
		expr, err := parser.ParseExpr(text)
		if err != nil {
			return nil, nil, nil, err
		}
		one, err := m.of(p, expr)
		if err != nil {
			return nil, nil, nil, err
		}
		of = append(of, one)
	}
	s := of[0]
	if len(of) > 1 {
		s = &schema{AnyOf: of}
	}
	s.Dialect, s.ID = "https://json-schema.org/draft/2020-12/schema", "urn:strikerose:schema:"+command
	s.Title = "What strikerose " + strings.ReplaceAll(command, "-", " ") + " --json prints"
	s.Defs = m.defs
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	err = e.Encode(s)
	return b.Bytes(), s, m.faults, err
}

// schemaFile is where the schema of a command lies.
func schemaFile(command string) string {
	return filepath.Join("schema", command+".json")
}
