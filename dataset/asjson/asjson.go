// Package asjson writes values as JSON for other programs: indented, every letter
// as it is, and a list without items as [], never null, so that a reader need not
// tell the two apart.
package asjson

import (
	"encoding/json"
	"io"
	"reflect"
)

// Write writes a value. It is an error where a number is not finite.
func Write(w io.Writer, value any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(WithLists(value))
}

// WithLists is a value with an empty list in the place of each nil one, at any depth;
// the value itself stays as it is. Types that write their own JSON are left alone.
func WithLists(value any) any {
	v := reflect.ValueOf(value)
	if !v.IsValid() {
		return value
	}
	own := reflect.New(v.Type()).Elem()
	own.Set(v)
	fill(own)
	return own.Interface()
}

// fill replaces the nil lists of a settable value. What it holds by reference is
// copied before it is changed.
func fill(v reflect.Value) {
	if v.Type().Implements(reflect.TypeFor[json.Marshaler]()) {
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() || f.Anonymous && f.Type.Kind() == reflect.Struct {
				fill(v.Field(i))
			}
		}
	case reflect.Array:
		for i := range v.Len() {
			fill(v.Index(i))
		}
	case reflect.Slice:
		own := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		reflect.Copy(own, v)
		v.Set(own)
		for i := range own.Len() {
			fill(own.Index(i))
		}
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			return
		}
		own := reflect.New(v.Elem().Type())
		own.Elem().Set(v.Elem())
		fill(own.Elem())
		if v.Kind() == reflect.Interface {
			own = own.Elem()
		}
		v.Set(own)
	case reflect.Map:
		if v.IsNil() {
			return
		}
		own := reflect.MakeMapWithSize(v.Type(), v.Len())
		for _, key := range v.MapKeys() {
			one := reflect.New(v.Type().Elem()).Elem()
			one.Set(v.MapIndex(key))
			fill(one)
			own.SetMapIndex(key, one)
		}
		v.Set(own)
	}
}
