package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
)

// schema is the part of JSON Schema that says what the commands print.
type schema struct {
	Dialect    string             `json:"$schema,omitempty"`
	Title      string             `json:"title,omitempty"`
	Type       []string           `json:"type,omitempty"` // sorted; a number holds integers
	Properties map[string]*schema `json:"properties,omitempty"`
	Required   []string           `json:"required,omitempty"`
	Additional *schema            `json:"additionalProperties,omitempty"` // of values by any name
	Items      *schema            `json:"items,omitempty"`
}

// kindOf names the type of a value read with json.Number.
func kindOf(v any) string {
	switch v.(type) {
	case nil:
		return "null"
	case bool:
		return "boolean"
	case json.Number:
		return "number"
	case string:
		return "string"
	case []any:
		return "array"
	}
	return "object"
}

// byAnyName tells objects whose names are data, such as names of rigs: they are
// listed, since nothing in the output says so.
func byAnyName(path string) bool {
	for _, end := range []string{".figures", ".sensor", ".model"} {
		if strings.HasSuffix(path, end) {
			return true
		}
	}
	return false
}

// learn widens the schema so that it allows a value.
func (s *schema) learn(path string, v any) {
	first := len(s.Type) == 0
	if k := kindOf(v); !slices.Contains(s.Type, k) {
		s.Type = append(s.Type, k)
		slices.Sort(s.Type)
	}
	switch v := v.(type) {
	case []any:
		for _, x := range v {
			if s.Items == nil {
				s.Items = &schema{}
			}
			s.Items.learn(path+"[]", x)
		}
	case map[string]any:
		if byAnyName(path) {
			if s.Additional == nil {
				s.Additional = &schema{}
			}
			for _, x := range v {
				s.Additional.learn(path+"{}", x)
			}
			return
		}
		fresh := s.Properties == nil
		if fresh {
			s.Properties = map[string]*schema{}
		}
		for name, x := range v {
			if s.Properties[name] == nil {
				s.Properties[name] = &schema{}
				if fresh && first {
					s.Required = append(s.Required, name)
				}
			}
			s.Properties[name].learn(path+"."+name, x)
		}
		s.Required = slices.DeleteFunc(s.Required, func(name string) bool { _, there := v[name]; return !there })
		slices.Sort(s.Required)
	}
}

// faults lists where a value is not what the schema says. A name that it lacks is a
// fault as well: programs may meet one that was added, this test may not.
func (s *schema) faults(path string, v any) []string {
	if !slices.Contains(s.Type, kindOf(v)) {
		return []string{fmt.Sprintf("%s is of type %s, not %s", path, kindOf(v), strings.Join(s.Type, " or "))}
	}
	var out []string
	switch v := v.(type) {
	case []any:
		for k, x := range v {
			if s.Items == nil {
				return []string{path + " has items, of which the schema says nothing"}
			}
			out = append(out, s.Items.faults(fmt.Sprintf("%s[%d]", path, k), x)...)
		}
	case map[string]any:
		for _, name := range s.Required {
			if _, there := v[name]; !there {
				out = append(out, path+"."+name+" is missing")
			}
		}
		for _, name := range slices.Sorted(maps.Keys(v)) {
			switch {
			case s.Properties[name] != nil:
				out = append(out, s.Properties[name].faults(path+"."+name, v[name])...)
			case s.Additional == nil:
				out = append(out, path+"."+name+" is not in the schema")
			default:
				out = append(out, s.Additional.faults(path+"."+name, v[name])...)
			}
		}
	}
	return out
}

// keepJSON keeps what a command of a script test printed as JSON.
func keepJSON(dir string, args []string, printed []byte) error {
	var out, errs bytes.Buffer
	cmd, _, err := newRoot(testWorld(&out, &errs)).Find(args)
	if err != nil || cmd.Name() == "help" {
		return nil // refused, or a schema itself
	}
	f, err := os.CreateTemp(dir, "json "+schemaName(cmd.CommandPath())+" *")
	if err != nil {
		return err
	}
	defer f.Close()
	_, err = f.Write(printed)
	return err
}

// asTheSchemasSay holds all that the script tests printed as JSON to the schemas,
// or writes the schemas where golden files are updated.
func asTheSchemasSay(t *testing.T, dir string) {
	files, err := filepath.Glob(filepath.Join(dir, "json *"))
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(files)
	printed := map[string][]any{}
	for _, path := range files {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		name := strings.Fields(filepath.Base(path))[1]
		d := json.NewDecoder(bytes.NewReader(text))
		d.UseNumber()
		for d.More() {
			var v any
			if err := d.Decode(&v); err != nil {
				t.Errorf("%s --json: %v: %.200s", name, err, text)
				break
			}
			printed[name] = append(printed[name], v)
		}
	}
	for name, values := range printed {
		path := filepath.Join("schema", name+".json")
		var s schema
		if text, err := os.ReadFile(path); err == nil {
			if err := json.Unmarshal(text, &s); err != nil {
				t.Fatal(err)
			}
		}
		if datasettest.Updating() {
			s.Dialect, s.Title = "https://json-schema.org/draft/2020-12/schema", "What strikerose "+strings.ReplaceAll(name, "-", " ")+" --json prints"
			for _, v := range values {
				s.learn("", v)
			}
			text, err := json.MarshalIndent(s, "", " ")
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, append(text, '\n'), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		for _, v := range values {
			if faults := s.faults("", v); len(faults) > 0 {
				t.Errorf("%s --json is not as schema/%s.json says (UPDATE_GOLDEN=1 widens it): %s", name, name, strings.Join(faults[:min(5, len(faults))], "; "))
			}
		}
	}
	if strings.Contains(flag.Lookup("test.run").Value.String(), "/") {
		return // some scripts alone
	}
	known, err := schemas.ReadDir("schema")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range known {
		if name := strings.TrimSuffix(file.Name(), ".json"); printed[name] == nil && !datasettest.Updating() {
			t.Errorf("no script runs %s --json, of which there is a schema", name)
		}
	}
}

func TestSchemaRefuses(t *testing.T) {
	read := func(text string) any {
		d := json.NewDecoder(strings.NewReader(text))
		d.UseNumber()
		var v any
		if err := d.Decode(&v); err != nil {
			t.Fatal(err)
		}
		return v
	}
	var s schema
	s.learn("", read(`[{"a": 1, "b": [true], "figures": {"x": 1}}, {"a": null, "figures": {"y": 2}}]`))
	for text, want := range map[string]string{
		`[]`: "",
		`[{"a": 2.5, "b": [], "figures": {"anything": 3}}]`: "",
		`[{"a": "1", "figures": {}}]`:                       "[0].a is of type string, not null or number",
		`[{"figures": {}}]`:                                 "[0].a is missing",
		`[{"a": 1, "c": 2, "figures": {}}]`:                 "[0].c is not in the schema",
		`[{"a": 1, "figures": {"x": ""}}]`:                  "[0].figures.x is of type string, not number",
		`{}`:                                                " is of type object, not array",
	} {
		if got := strings.Join(s.faults("", read(text)), "; "); got != want {
			t.Errorf("%s: %q, want %q", text, got, want)
		}
	}
}
