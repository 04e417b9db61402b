package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
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
	for i, x := range p {
		text, err := json.Marshal(x.of)
		if err != nil {
			return nil, err
		}
		b.WriteString(map[bool]string{true: "{", false: ","}[i == 0])
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
// where Rule and Fitted are constants. What may be left out or null
// has a comment that says when it is absent or null.
type schemaMaker struct {
	packages map[string]*sourcePackage // by folder below the module
	defs     map[string]*schema
	faults   []string
}

func newSchemaMaker() *schemaMaker {
	return &schemaMaker{packages: map[string]*sourcePackage{}, defs: map[string]*schema{}}
}

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

// words are those that a comment names: a word stands for itself, and so does what is
// in quotes; a name with a capital letter stands for a string constant, or for a
// function that lists some. That of another package has the package's name before it.
func (m *schemaMaker) words(p *sourcePackage, name string) ([]string, error) {
	if quoted, err := strconv.Unquote(name); err == nil {
		return []string{quoted}, nil
	}
	if strings.ToLower(name) == name {
		return []string{name}, nil
	}
	if from, rest, ok := strings.Cut(name, "."); ok {
		other, err := m.called(p, from)
		if err != nil {
			return nil, err
		}
		return m.words(other, rest)
	}
	if value, ok := p.strings[name]; ok {
		return []string{value}, nil
	}
	var all []string
	for _, e := range p.lists[name] { // strings and constants
		switch e := e.(type) {
		case *ast.BasicLit:
			value, err := strconv.Unquote(e.Value)
			if err != nil {
				return nil, err
			}
			all = append(all, value)
		case *ast.Ident:
			all = append(all, p.strings[e.Name])
		case *ast.SelectorExpr:
			some, err := m.words(p, nameOf(e))
			if err != nil {
				return nil, err
			}
			all = append(all, some...)
		}
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("%s has neither a string constant %s nor a function of that name that lists some", p.folder, name)
	}
	return all, nil
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

// twoWords are names that nobody takes for a word.
var twoWords = regexp.MustCompile(`^[A-Z]+[a-z]+[A-Z]`)

// asPrinted writes the fields that a type's comment names as they are printed.
func asPrinted(text string, t *ast.StructType) string {
	for _, f := range t.Fields.List {
		if f.Tag == nil || len(f.Names) == 0 || !twoWords.MatchString(f.Names[0].Name) {
			continue
		}
		if tag, err := strconv.Unquote(f.Tag.Value); err == nil {
			key, _, _ := strings.Cut(reflect.StructTag(tag).Get("json"), ",")
			text = regexp.MustCompile(`\b`+f.Names[0].Name+`\b`).ReplaceAllString(text, key)
		}
	}
	return text
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

var (
	boundsPattern = regexp.MustCompile(`\b[Ii]n ([\[(])(-?[\d.]+), (-?[\d.]+)([\])])`)
	leastPattern  = regexp.MustCompile(`\b([Aa]t least|[Aa]bove) (-?[\d.]*\d)`)
	onePattern    = regexp.MustCompile(`\b[Oo]ne of ((?:(?:"[^"]+"|[\w+/.-]+), )*(?:"[^"]+"|[\w+/.-]+) or (?:"[^"]+"|[\w+/.-]*\w)|[\w.]*[A-Z]\w*)`)
)

// comment describes a value by the comment of its field, and takes bounds from it.
func (m *schemaMaker) comment(p *sourcePackage, s *schema, text string, optional bool) error {
	if text == "" {
		return errors.New("has no comment, which would be its description")
	}
	if optional && !strings.Contains(text, "absent") {
		return fmt.Errorf("may be left out, and its comment does not say when it is absent: %s", text)
	}
	if rest, never := strings.CutSuffix(text, "; never null"); never && s.nullable() {
		s.Ref, s.AnyOf, text = s.AnyOf[0].Ref, nil, rest
	}
	if s.nullable() && !strings.Contains(text, "null") {
		return fmt.Errorf("may be null, and its comment does not say when: %s", text)
	}
	inner := s // of a list or an object by any name, what holds the values
	for inner.Items != nil || inner.Additional != nil {
		if inner.Items != nil {
			inner = inner.Items
		} else {
			inner = inner.Additional
		}
	}
	if one := onePattern.FindStringSubmatch(text); one != nil {
		for _, name := range strings.Split(strings.Replace(one[1], " or ", ", ", 1), ", ") {
			some, err := m.words(p, name)
			if err != nil {
				return err
			}
			inner.Enum = append(inner.Enum, some...)
		}
		list := inner.Enum[len(inner.Enum)-1]
		if n := len(inner.Enum) - 1; n > 0 {
			list = strings.Join(inner.Enum[:n], ", ") + " or " + list
		}
		text = strings.Replace(text, one[0], strings.TrimSuffix(one[0], one[1])+list, 1)
	}
	number := func(text string) *float64 {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			panic(err) // the patterns let numbers through alone
		}
		return &v
	}
	if b := boundsPattern.FindStringSubmatch(text); b != nil {
		if low := number(b[2]); b[1] == "[" {
			inner.Minimum = low
		} else {
			inner.Above = low
		}
		if high := number(b[3]); b[4] == "]" {
			inner.Maximum = high
		} else {
			inner.Below = high
		}
	} else if b := leastPattern.FindStringSubmatch(text); b != nil {
		if inner.Minimum = number(b[2]); strings.EqualFold(b[1], "above") {
			inner.Minimum, inner.Above = nil, inner.Minimum
		}
	}
	if (inner.Minimum != nil || inner.Above != nil) && !inner.is("number") && !inner.is("integer") {
		return fmt.Errorf("is no number, and its comment gives bounds: %s", text)
	}
	if inner.Enum != nil && !inner.is("string") {
		return fmt.Errorf("is no string, and its comment gives words: %s", text)
	}
	s.Description = text
	return nil
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

// describing turns a comment into a description: one line, without the name.
func describing(name, comment string) string {
	text := strings.Join(strings.Fields(comment), " ")
	for _, verb := range []string{" is ", " are ", " "} {
		if rest, ok := strings.CutPrefix(text, name+verb); ok {
			text = rest
			break
		}
	}
	text = strings.TrimSuffix(text, ".")
	first, size := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(first))[:min(len(text), utf8.RuneLen(unicode.ToUpper(first)))] + text[min(len(text), size):]
}

func firstSentence(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	if end := strings.Index(text, ". "); end >= 0 {
		return text[:end]
	}
	return text
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
