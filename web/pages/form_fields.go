package pages

import (
	"fmt"
	"reflect"

	"needlepace/words"
)

// fieldRow is one machine, design, job … with its fields.
type fieldRow struct {
	Name    string   // shown in front
	Says    string   // read out where no name is shown
	Here    string   // name of a field that says that the row is there, be all others empty
	Drop    string   // name of the box that takes it away
	Hidden  []option // fields that are not shown, by their keys
	Dropped bool     // that box is ticked
	Fields  []field
}

// fieldGroup is a part of the form.
type fieldGroup struct {
	Title string
	Rows  []fieldRow
	Add   *field // something more
}

// choices are the options of fields, by their keys.
type choices map[string][]option

// fields are those of a form's struct that have a label, or the key of one in the form's
// language, named by their keys after a prefix.
func (f *form) fields(prefix string, of any, choices choices) (out []field) {
	v := reflect.ValueOf(of)
	for i := range v.NumField() {
		tag := v.Type().Field(i).Tag
		label, key := tag.Get("label"), tag.Get("toml")
		if says := tag.Get("says"); says != "" {
			label = words.Say("trial-field." + says).Text(f.w)
		}
		if hours := tag.Get("hours"); hours != "" {
			label = words.Say("hours-field." + hours).Text(f.w)
		}
		if label != "" {
			out = append(out, f.show(prefix+key, label, v.Field(i).Interface(), choices[key]...))
		}
	}
	return out
}

// entryRows are the entries of a list of a form, each named by row.
func entryRows[E any](f *form, list string, all []E, choices choices, row func(E) fieldRow) (rows []fieldRow) {
	for i, e := range all {
		r, n := row(e), fmt.Sprintf("%s[%d].", list, i)
		r.Here, r.Drop, r.Fields = n+"here", n+"drop", f.fields(n, e, choices)
		for k := range r.Hidden {
			r.Hidden[k].Value = n + r.Hidden[k].Value
		}
		rows = append(rows, r)
	}
	return rows
}

// adds is the choice of something more.
func adds(name, label string, options []option) *field {
	return &field{Name: name, Label: label, Kind: "choice", Options: options}
}
