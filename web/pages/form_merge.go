package pages

import (
	"encoding"
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"

	"needlepace/words"
)

// clash is a field that two people changed to different values.
type clash struct {
	field string        // its name in the form
	kept  reflect.Value // what the other one made of it; invalid: took it out
}

// wasForm is a form as it was made, to be sent along with what is typed into it.
func wasForm(in any) string {
	b, err := json.Marshal(in)
	if err != nil {
		panic(fmt.Sprintf("pages: a form cannot be written: %v", err)) // forms are plain structs
	}
	return string(b)
}

// meanwhile puts a form that was made from something older over what is kept now: was is the
// form as it was made (wasForm), now as it is kept, sent as it was typed. What one of the two
// changed is taken from that one; where both changed a field the typed one stays, and the form
// says what is kept. Reports whether that is so nowhere: all is agreed.
func (f *form) meanwhile(was string, now, sent any) bool {
	made := reflect.New(reflect.TypeOf(sent).Elem())
	if json.Unmarshal([]byte(was), made.Interface()) != nil { // not from our page: all that differs is asked about
		made = reflect.New(made.Type().Elem())
	}
	var m formMerge
	m.structs("", made.Elem(), reflect.ValueOf(now).Elem(), reflect.ValueOf(sent).Elem())
	f.merged = m.took || len(m.clashes) > 0
	if len(m.clashes) == 0 {
		return true
	}
	f.told = append(f.told, words.Say("hours-page.both").Text(f.w))
	for _, c := range m.clashes {
		if !c.kept.IsValid() {
			f.refuse(c.field, words.Say("hours-page.other-took-out").Text(f.w))
			continue
		}
		f.refuse(c.field, words.Say("hours-page.other-has", words.Args{"value": words.Name(f.plain(c.kept.Interface()))}).Text(f.w))
	}
	return false
}

// plain is a value in one line.
func (f *form) plain(v any) string {
	x := (&form{w: f.w}).show("", "", v)
	value := x.Value
	switch x.Kind {
	case "tick":
		value = words.Say("hours-page.ticked").Text(f.w)
		if !x.On {
			value = ""
		}
	case "days":
		var on []string
		for _, t := range x.Ticks {
			if t.On {
				on = append(on, t.Label)
			}
		}
		value = strings.Join(on, ", ")
	}
	if value = strings.Join(strings.FieldsFunc(value, func(c rune) bool { return c == '\n' || c == '\r' }), ", "); value == "" {
		return words.Say("hours-page.nothing").Text(f.w)
	}
	return value
}

// formMerge merges three forms of one type, field by field; its clashes are in their order.
type formMerge struct {
	clashes []clash
	took    bool // something of the one that is kept
}

func (m *formMerge) structs(name string, was, now, sent reflect.Value) {
	for i := range sent.NumField() {
		t := sent.Type().Field(i)
		switch {
		case t.Anonymous || t.Tag.Get("merge") == "no":
		case sent.Field(i).Kind() == reflect.Struct && !isLeaf(t.Type):
			m.structs(name+t.Tag.Get("toml")+".", was.Field(i), now.Field(i), sent.Field(i))
		case sent.Field(i).Kind() == reflect.Map:
			m.maps(name+t.Tag.Get("toml"), was.Field(i), now.Field(i), sent.Field(i))
		case sent.Field(i).Kind() == reflect.Slice && t.Type.Elem().Kind() == reflect.Struct:
			m.rows(name+t.Tag.Get("toml"), was.Field(i), now.Field(i), sent.Field(i))
		default:
			m.leaf(name+t.Tag.Get("toml"), was.Field(i), now.Field(i), sent.Field(i))
		}
	}
}

// isLeaf reports whether a type is one value of a form, such as a day.
func isLeaf(t reflect.Type) bool { return t.Implements(reflect.TypeFor[encoding.TextMarshaler]()) }

func (m *formMerge) leaf(name string, was, now, sent reflect.Value) {
	switch typed := sameText(sent); {
	case typed == sameText(now):
	case typed == sameText(was):
		sent.Set(now)
		m.took = true
	case sameText(was) != sameText(now):
		m.clashes = append(m.clashes, clash{name, now})
	}
}

// maps merges entries that every form has, by their keys.
func (m *formMerge) maps(name string, was, now, sent reflect.Value) {
	keys := map[string]bool{}
	for _, v := range []reflect.Value{was, now, sent} {
		for _, k := range v.MapKeys() {
			keys[k.String()] = true
		}
	}
	at := func(v reflect.Value, key string) reflect.Value {
		entry := reflect.New(v.Type().Elem()).Elem()
		if has := v.MapIndex(reflect.ValueOf(key)); has.IsValid() {
			entry.Set(has)
		}
		return entry
	}
	for _, key := range slices.Sorted(maps.Keys(keys)) {
		entry := at(sent, key)
		m.structs(name+"["+key+"].", at(was, key), at(now, key), entry)
		if sent.IsNil() {
			sent.Set(reflect.MakeMap(sent.Type()))
		}
		sent.SetMapIndex(reflect.ValueOf(key), entry)
	}
}

// rows merges the entries of a list: those with a number of their own by that, others by their place.
func (m *formMerge) rows(list string, was, now, sent reflect.Value) {
	numbered := sent.Type().Elem()
	_, byNumber := numbered.FieldByName("Line")
	if !byNumber && now.Len() < was.Len() { // which one went cannot be told
		m.whole(list, was, now, sent)
		return
	}
	number := func(v reflect.Value, i int) int {
		if !byNumber {
			return i + 1
		}
		return int(or(v.Index(i).FieldByName("Line").Interface().(*count), 0))
	}
	find := func(v reflect.Value, n int) reflect.Value {
		for i := range v.Len() {
			if n > 0 && number(v, i) == n {
				return v.Index(i)
			}
		}
		return reflect.Value{}
	}
	out := reflect.MakeSlice(sent.Type(), 0, sent.Len())
	var more []reflect.Value // that somebody else added where a row of ours stands
	for i := range sent.Len() {
		row, n := sent.Index(i), number(sent, i)
		made, kept := find(was, n), find(now, n)
		name := fmt.Sprintf("%s[%d].", list, out.Len())
		switch {
		case !made.IsValid() && kept.IsValid() && !byNumber: // a new one of either
			if more = append(more, kept); sameText(row) == sameText(reflect.Zero(row.Type())) || sameText(row) == sameText(kept) {
				continue
			}
		case !made.IsValid() && kept.IsValid():
			m.structs(name, reflect.Zero(row.Type()), kept, row)
		case !made.IsValid(): // ours
		case !kept.IsValid():
			if sameText(row) == sameText(made) || row.FieldByName("Drop").Bool() {
				m.took = true
				continue
			}
			row.FieldByName("Line").SetZero() // it comes in anew
			m.clashes = append(m.clashes, clash{name + firstField(row), reflect.Value{}})
		case row.FieldByName("Drop").Bool():
			if sameText(made) != sameText(kept) {
				m.clashes = append(m.clashes, clash{name + "drop", reflect.ValueOf(false)})
			}
		default:
			m.structs(name, made, kept, row)
		}
		out = reflect.Append(out, row)
	}
	for i := range now.Len() { // that somebody else added
		if n := number(now, i); byNumber && !find(was, n).IsValid() && !find(sent, n).IsValid() || !byNumber && i >= sent.Len() {
			more = append(more, now.Index(i))
		}
	}
	m.took = m.took || len(more) > 0
	sent.Set(reflect.Append(out, more...))
}

// whole takes a list of one of the two.
func (m *formMerge) whole(list string, was, now, sent reflect.Value) {
	ours := reflect.MakeSlice(sent.Type(), 0, sent.Len())
	for i := range sent.Len() {
		if row := sent.Index(i); sameText(row) != sameText(reflect.Zero(row.Type())) && !row.FieldByName("Drop").Bool() {
			ours = reflect.Append(ours, row)
		}
	}
	switch {
	case sameText(ours) == sameText(was):
		sent.Set(now)
		m.took = true
	case sameText(ours) != sameText(now):
		m.clashes = append(m.clashes, clash{list + "[0]." + firstField(reflect.New(sent.Type().Elem()).Elem()), reflect.Value{}})
	}
}

// firstField is the first field of a row that a person fills in.
func firstField(row reflect.Value) string {
	for i := range row.NumField() {
		if t := row.Type().Field(i); !t.Anonymous && t.Tag.Get("merge") != "no" {
			return t.Tag.Get("toml")
		}
	}
	return ""
}

// sameText is a value as text that is the same for what a form shows as the same: no entry and an
// empty list, the ends of lines, an empty tick.
func sameText(v reflect.Value) string {
	switch v.Kind() {
	case reflect.Slice, reflect.Map:
		if v.Len() == 0 {
			return "null"
		}
	case reflect.String:
		return strings.TrimSpace(strings.ReplaceAll(v.String(), "\r\n", "\n"))
	case reflect.Struct:
		if isLeaf(v.Type()) {
			break
		}
		var out []string
		for i := range v.NumField() {
			if t := v.Type().Field(i); !t.Anonymous && t.Tag.Get("merge") != "no" {
				out = append(out, sameText(v.Field(i)))
			}
		}
		return strings.Join(out, "\x00")
	}
	b, err := json.Marshal(v.Interface())
	if err != nil {
		return ""
	}
	return string(b)
}
