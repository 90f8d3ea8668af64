package pages

import (
	"reflect"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"needlepace/money"
)

// overFile puts a form's struct over a settings file: what the form has takes
// the place of the file's keys, what it leaves empty goes out of the file, and
// all other keys stay. Entries of lists are matched by their place; an entry
// whose field Drop is true is taken out.
func overFile(file []byte, form any) ([]byte, error) {
	tree := map[string]any{}
	if err := toml.Unmarshal(file, &tree); err != nil {
		return nil, err
	}
	overTable(tree, reflect.ValueOf(form).Elem())
	return toml.Marshal(tree)
}

func overTable(table map[string]any, form reflect.Value) {
	for i := range form.NumField() {
		f := form.Type().Field(i)
		key := f.Tag.Get("toml")
		if key == "" || f.Tag.Get("own") != "" { // the form's, and not the file's
			continue
		}
		v := form.Field(i)
		switch v.Kind() {
		case reflect.Struct:
			if _, ok := v.Interface().(money.Amount); ok {
				panic("pages: a form's amounts are pointers: one left out is not 0")
			}
			below, ok := table[key].(map[string]any)
			if !ok {
				below = map[string]any{}
			}
			if overTable(below, v); len(below) > 0 {
				table[key] = below
			} else {
				delete(table, key)
			}
		case reflect.Slice:
			if v.Type().Elem().Kind() == reflect.String {
				if delete(table, key); v.Len() > 0 {
					table[key] = v.Interface()
				}
				continue
			}
			if list := overList(table[key], v); len(list) > 0 {
				table[key] = list
			} else {
				delete(table, key)
			}
		case reflect.Pointer:
			if v.IsNil() {
				delete(table, key)
			} else {
				table[key] = plainValue(v.Elem())
			}
		default:
			if v.IsZero() {
				delete(table, key)
			} else {
				table[key] = plainValue(v)
			}
		}
	}
}

func overList(list any, form reflect.Value) []any {
	had, _ := list.([]any)
	out := []any{}
	for i := range form.Len() {
		entry := form.Index(i)
		if drop := entry.FieldByName("Drop"); drop.IsValid() && drop.Bool() {
			continue
		}
		table := map[string]any{}
		if i < len(had) {
			if t, ok := had[i].(map[string]any); ok {
				table = t
			}
		}
		overTable(table, entry)
		out = append(out, table)
	}
	return out
}

// plainValue is a value as TOML has it.
func plainValue(v reflect.Value) any {
	switch v.Kind() {
	case reflect.Float64:
		return v.Float()
	case reflect.Int:
		return v.Int()
	case reflect.String:
		return strings.TrimSpace(v.String())
	case reflect.Bool:
		return v.Bool()
	}
	return v.Interface() // an amount writes itself
}
