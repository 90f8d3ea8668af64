// Package tomlfile reads the settings files people write (a shop, a mix)
// strictly, and says of everything wrong in them which key it is and where it
// stands: unknown keys, values of the wrong kind, and what the domain packages
// find wrong afterwards.
package tomlfile

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"needlepace/words"
)

// MaxBytes is the longest settings file: far above any real one.
const MaxBytes = 4 << 20

// Error is one thing wrong in a settings file.
type Error struct {
	File         string
	Line, Column int    // from 1; 0 where nothing of it stands in the file
	Key          string // "machine[2].heads", lists counted from 1
	Text         string
	Why          words.Message // Text as a sentence of the catalogue, behind the key; a zero one says nothing
}

// Where is the file, and the line and column where there is one.
func (e *Error) Where() string {
	if e.Line > 0 {
		return fmt.Sprintf("%s:%d:%d", e.File, e.Line, e.Column)
	}
	return e.File
}

// Error is the place and the sentence.
func (e *Error) Error() string {
	s := e.Where() + ": "
	if e.Key != "" {
		s += e.Key + " "
	}
	return s + e.Text
}

// File is a settings file that has been read: where each of its keys stands.
type File struct {
	Name string
	at   map[string]place
	keys map[string]field // of the target, lists without numbers

	edits []edit   // durations in text, to be read as seconds
	wrong []*Error // values of the wrong kind
}

type place struct{ line, column int }

// Decode reads b into v (a pointer to a struct with toml tags). name is used in
// errors only; each is an *Error.
func Decode(name string, b []byte, v any) (*File, error) {
	b = bytes.TrimPrefix(b, []byte("\xEF\xBB\xBF")) // some editors' mark of UTF-8
	f := &File{Name: name, at: map[string]place{}, keys: map[string]field{}}
	if len(b) > MaxBytes {
		return nil, f.err("", "is %d bytes long; a settings file has at most %d: is this another file?", len(b),
			MaxBytes)
	}
	gather(f.keys, "", reflect.TypeOf(v).Elem(), 0)
	f.index(b)
	d := toml.NewDecoder(bytes.NewReader(apply(b, f.edits)))
	d.DisallowUnknownFields()
	err := d.Decode(v)
	if len(f.wrong) > 0 {
		return nil, f.wrong[0]
	}
	if err != nil {
		var missing *toml.StrictMissingError
		var one *toml.DecodeError
		switch {
		case errors.As(err, &missing) && len(missing.Errors) > 0:
			var all []error
			for i := range missing.Errors {
				m := &missing.Errors[i]
				e := &Error{File: name, Key: strings.Join(m.Key(), "."), Text: "is no key of this file"}
				e.Line, e.Column = m.Position()
				if near := Nearest(e.Key, slices.Values(slices.Sorted(maps.Keys(f.keys)))); near != "" &&
					!strings.Contains(near, anyName) {
					e.Text += "; did you mean " + near + "?"
				}
				all = append(all, e)
			}
			return nil, errors.Join(all...)
		case errors.As(err, &one):
			e := &Error{File: name, Text: syntaxText(one.Error())}
			e.Line, e.Column = one.Position()
			if strings.Contains(one.Error(), "cannot decode TOML") {
				e.Key, e.Text = strings.Join(one.Key(), "."), "has a value of the wrong kind"
			}
			return nil, e
		}
		return nil, f.err("", "cannot be read: write  key = value, a line each, with text in double quotes")
	}
	return f, nil
}

func (f *File) err(key, format string, a ...any) *Error {
	p := f.at[key]
	return &Error{File: f.Name, Line: p.line, Column: p.column, Key: key, Text: fmt.Sprintf(format, a...)}
}

// Tell is Errorf of a sentence of the catalogue.
func (f *File) Tell(key string, why words.Message) error {
	err := f.Errorf(key, nil, "%s", why.Text(nil))
	var e *Error
	if errors.As(err, &e) {
		e.Why = why
	}
	return err
}

// Has reports whether the key stands in the file.
func (f *File) Has(key string) bool { _, ok := f.at[key]; return ok }

// Errorf is an error about a key; elsewhere are other keys whose value is
// meant where the file does not have it. Failing those its table's place is given.
func (f *File) Errorf(key string, elsewhere []string, format string, a ...any) error {
	e := f.err(key, format, a...)
	for _, k := range elsewhere {
		if e.Line == 0 && f.Has(k) {
			e = f.err(k, format, a...)
		}
	}
	for up := key; e.Line == 0; {
		i := strings.LastIndexByte(up, '.')
		if i < 0 {
			break
		}
		up = up[:i]
		p := f.at[up]
		e.Line, e.Column = p.line, p.column
	}
	return e
}

// apply makes the edits, which stand in the order of the text.
func apply(b []byte, edits []edit) []byte {
	if len(edits) == 0 {
		return b
	}
	var out []byte
	at := 0
	for _, e := range edits {
		out = append(append(out, b[at:e.from]...), e.text...)
		// The rest of the line stays where it is, for the columns of errors.
		for range e.to - e.from - len(e.text) {
			out = append(out, ' ')
		}
		at = e.to
	}
	return append(out, b[at:]...)
}

// index notes where every key stands ("machine[2].repair.mean") and looks at
// its value.
func (f *File) index(b []byte) {
	var newlines []int
	for i, c := range b {
		if c == '\n' {
			newlines = append(newlines, i)
		}
	}
	count := map[string]int{} // tables of each list so far
	numbered := func(path string) string {
		if n := count[path]; n > 0 {
			return fmt.Sprintf("%s[%d]", path, n)
		}
		return path
	}
	note := func(path string, offset int) {
		if _, ok := f.at[path]; !ok {
			line := sort.SearchInts(newlines, offset)
			start := 0
			if line > 0 {
				start = newlines[line-1] + 1
			}
			f.at[path] = place{line + 1, offset - start + 1}
		}
	}
	join := func(prefix string, keys unstable.Iterator, list bool) string {
		for keys.Next() {
			k := keys.Node()
			if prefix != "" {
				prefix += "."
			}
			prefix += string(k.Data)
			if list && keys.IsLast() {
				count[prefix]++
			}
			prefix = numbered(prefix)
			note(prefix, int(k.Raw.Offset))
		}
		return prefix
	}
	const deepest = 6
	var keyValue func(prefix string, n *unstable.Node, depth int)
	keyValue = func(prefix string, n *unstable.Node, depth int) {
		path := join(prefix, n.Key(), false)
		v := n.Value()
		if fl, ok := f.field(path); ok {
			f.value(path, fl, v)
		}
		if v.Kind == unstable.InlineTable && depth < deepest {
			for it := v.Children(); it.Next(); {
				if it.Node().Kind == unstable.KeyValue {
					keyValue(path, it.Node(), depth+1)
				}
			}
		}
	}
	var p unstable.Parser
	p.Reset(b)
	prefix := ""
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table:
			prefix = join("", e.Key(), false)
		case unstable.ArrayTable:
			prefix = join("", e.Key(), true)
		case unstable.KeyValue:
			keyValue(prefix, e, 0)
		}
	}
}

// field is the target's field of a key. A key of a map is any name.
func (f *File) field(path string) (field, bool) {
	path = unnumbered(path)
	if fl, ok := f.keys[path]; ok {
		return fl, true
	}
	table, leaf := Split(path)
	of, _ := Split(table)
	fl, ok := f.keys[of+"."+anyName+"."+leaf]
	return fl, ok
}

// anyName stands for the names of a map's keys.
const anyName = "*"

// unnumbered is a key without the numbers of its lists.
func unnumbered(path string) string {
	if !strings.Contains(path, "[") {
		return path
	}
	var b strings.Builder
	for path != "" {
		before, after, ok := strings.Cut(path, "[")
		b.WriteString(before)
		if !ok {
			break
		}
		_, path, _ = strings.Cut(after, "]")
	}
	return b.String()
}

// gather lists the keys of a target type.
func gather(keys map[string]field, prefix string, t reflect.Type, depth int) {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	if t.Kind() == reflect.Map {
		t, prefix = t.Elem(), prefix+"."+anyName
	}
	if t.Kind() != reflect.Struct || depth > 6 {
		return
	}
	for fl := range t.Fields() {
		tag, _, _ := strings.Cut(fl.Tag.Get("toml"), ",")
		switch {
		case fl.Anonymous && tag == "":
			gather(keys, prefix, fl.Type, depth+1)
			continue
		case !fl.IsExported() || tag == "-" || tag == "":
			continue
		}
		key := tag
		if prefix != "" {
			key = prefix + "." + tag
		}
		ft := fl.Type
		for ft.Kind() == reflect.Pointer {
			ft = ft.Elem()
		}
		keys[key] = field{ft, fl.Tag.Get(unitTag)}
		gather(keys, key, fl.Type, depth+1)
	}
}
