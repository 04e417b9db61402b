package rig

import (
	"fmt"
	"reflect"
	"strings"
)

// Difference is one value that differs between two rigs.
type Difference struct {
	Key  string // as in the rig file: "bag.mass_kg"
	A, B string // the values; "none" where not given
}

// String writes the difference as key: a against b.
func (d Difference) String() string { return fmt.Sprintf("%s: %s against %s", d.Key, d.A, d.B) }

// Diff lists the values in which two rigs differ, in the order of the file.
func Diff(a, b *Rig) []Difference {
	var out []Difference
	compare("", reflect.ValueOf(*a), reflect.ValueOf(*b), &out)
	return out
}

// Equal tells whether two rigs say the same.
func (r *Rig) Equal(o *Rig) bool { return len(Diff(r, o)) == 0 }

// compare goes through two values of one type.
func compare(key string, a, b reflect.Value, out *[]Difference) {
	if a.Kind() == reflect.Pointer {
		if a.IsNil() != b.IsNil() || !a.IsNil() && a.Elem().Kind() != reflect.Struct {
			if reflect.DeepEqual(a.Interface(), b.Interface()) {
				return
			}
			*out = append(*out, Difference{Key: key, A: show(a), B: show(b)})
			return
		}
		if a.IsNil() {
			return
		}
		a, b = a.Elem(), b.Elem()
	}
	if a.Kind() != reflect.Struct {
		if !reflect.DeepEqual(a.Interface(), b.Interface()) {
			*out = append(*out, Difference{Key: key, A: show(a), B: show(b)})
		}
		return
	}
	for i := range a.NumField() {
		tag, _, _ := strings.Cut(a.Type().Field(i).Tag.Get("toml"), ",")
		sub := tag
		if key != "" {
			sub = key + "." + tag
		}
		compare(sub, a.Field(i), b.Field(i), out)
	}
}

// show writes a value for people.
func show(v reflect.Value) string {
	if v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return "none"
		}
		v = v.Elem()
	}
	if v.Kind() == reflect.String {
		return fmt.Sprintf("%q", v.String())
	}
	return fmt.Sprintf("%v", v.Interface())
}
