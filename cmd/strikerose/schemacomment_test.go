package main

import (
	"errors"
	"fmt"
	"go/ast"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

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
			value, ok := p.strings[e.Name]
			if !ok {
				return nil, fmt.Errorf("%s has no string constant %s, which %s lists", p.folder, e.Name, name)
			}
			all = append(all, value)
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
	if text == "" {
		return ""
	}
	first, size := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(first)) + text[size:]
}

func firstSentence(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	if end := strings.Index(text, ". "); end >= 0 {
		return text[:end]
	}
	return text
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
