package pages

import (
	"net/url"
	"reflect"
	"slices"
	"strings"
)

// unread are the fields of a form that a struct has no place for, in their order.
func unread(values url.Values, into any) []string {
	var out []string
	for name := range values {
		if !hasPlace(reflect.TypeOf(into), name) {
			out = append(out, name)
		}
	}
	slices.Sort(out)
	return out
}

// hasPlace reports whether the decoder finds a place in a type for a field by its
// name, such as machine[0].heads; the empty name is the value itself.
func hasPlace(t reflect.Type, name string) bool {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if name == "" {
		return true
	}
	switch t.Kind() {
	case reflect.Struct:
		for i := range t.NumField() {
			f := t.Field(i)
			tag := f.Tag.Get("toml")
			if f.Anonymous && tag == "" {
				if hasPlace(f.Type, name) {
					return true
				}
				continue
			}
			rest, ok := strings.CutPrefix(name, tag)
			if !ok || tag == "" || tag == "-" || rest != "" && rest[0] != '.' && rest[0] != '[' {
				continue
			}
			if hasPlace(f.Type, strings.TrimPrefix(rest, ".")) {
				return true
			}
		}
	case reflect.Slice, reflect.Map:
		_, rest, ok := strings.Cut(name, "]")
		return name[0] == '[' && ok && hasPlace(t.Elem(), strings.TrimPrefix(rest, "."))
	}
	return false
}
