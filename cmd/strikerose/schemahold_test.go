package main

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// kindOf names the type of a value read with json.Number.
func kindOf(v any) string {
	switch v := v.(type) {
	case nil:
		return "null"
	case bool:
		return "boolean"
	case json.Number:
		if _, err := v.Int64(); err == nil || !strings.ContainsAny(v.String(), ".eE") {
			return "integer"
		}
		return "number"
	case string:
		return "string"
	case []any:
		return "array"
	}
	return "object"
}

// holder holds values to a schema and to what it refers to.
type holder struct {
	defs map[string]*schema
}

// faults lists where a value is not what the schema says. A name that it lacks is a
// fault as well: programs may meet one that was added, this test may not.
func (h holder) faults(s *schema, path string, v any) []string {
	if s.Ref != "" {
		return h.faults(h.defs[strings.TrimPrefix(s.Ref, "#/$defs/")], path, v)
	}
	if len(s.AnyOf) > 0 {
		return h.anyOf(s, path, v)
	}
	kind := kindOf(v)
	if !s.is(kind) && !(kind == "integer" && s.is("number")) {
		return []string{fmt.Sprintf("%s is of type %s, not %v", path, kind, s.Type)}
	}
	var out []string
	switch v := v.(type) {
	case string:
		if s.Enum != nil && !slices.Contains(s.Enum, v) {
			out = append(out, fmt.Sprintf("%s is %q, not one of %s", path, v, strings.Join(s.Enum, ", ")))
		}
	case json.Number:
		x, err := v.Float64()
		if err != nil || s.Minimum != nil && x < *s.Minimum || s.Above != nil && x <= *s.Above || s.Maximum != nil && x > *s.Maximum || s.Below != nil && x >= *s.Below {
			out = append(out, fmt.Sprintf("%s is %s, outside its bounds", path, v))
		}
	case []any:
		if s.MaxItems > 0 && len(v) != s.MaxItems {
			out = append(out, fmt.Sprintf("%s has %d items, not %d", path, len(v), s.MaxItems))
		}
		for k, x := range v {
			out = append(out, h.faults(s.Items, fmt.Sprintf("%s[%d]", path, k), x)...)
		}
	case map[string]any:
		for _, name := range s.Required {
			if _, there := v[name]; !there {
				out = append(out, path+"."+name+" is missing")
			}
		}
		for _, name := range slices.Sorted(maps.Keys(v)) {
			of := s.Properties.named(name)
			if of == nil {
				of = s.Additional
			}
			if of == nil {
				out = append(out, path+"."+name+" is not in the schema")
				continue
			}
			out = append(out, h.faults(of, path+"."+name, v[name])...)
		}
	}
	return out
}

// anyOf lists the faults by the alternative that has least of those of the value's own
// type, if any are.
func (h holder) anyOf(s *schema, path string, v any) []string {
	var least []string
	like := false
	for _, one := range s.AnyOf {
		some := h.faults(one, path, v)
		if len(some) == 0 {
			return nil
		}
		for one.Ref != "" {
			one = h.defs[strings.TrimPrefix(one.Ref, "#/$defs/")]
		}
		same := one.is(kindOf(v))
		if least == nil || same && !like || same == like && len(some) < len(least) {
			least, like = some, same
		}
	}
	return least
}
