package tomlfile

import (
	"encoding"
	"fmt"
	"reflect"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"needlepace/words"
)

// A field of a target may say its unit in a tag, which errors then name:
//
//	Hours  float64  `toml:"hours" unit:"h"`            // 8: a plain number only
//	Repair *Spread  `toml:"repair" unit:"s"`           // 45, "45 s", "1 min 15 s", "1:15"
//	Pause  float64  `toml:"minutes" unit:"min"`        // 15, "15 min", "1 h 15 min", "15:00"
//
// Units of s and min are durations: a plain number is seconds or minutes, and a
// text that says its units is read by words.ParseSeconds. All other units take
// plain numbers in that unit.
const unitTag = "unit"

var units = map[string]string{"s": "seconds", "min": "minutes", "h": "hours", "d": "days", "%": "percent"}

// durations are the units that a text may be in, in seconds.
var durations = map[string]float64{"s": 1, "min": 60}

// field is a key of the target.
type field struct {
	t    reflect.Type // pointers taken off
	unit string
}

var textUnmarshaler = reflect.TypeFor[encoding.TextUnmarshaler]()

// reader is a value of the field's type that reads text itself, where it does.
func (f field) reader() encoding.TextUnmarshaler {
	if f.unit != "" || !reflect.PointerTo(f.t).Implements(textUnmarshaler) {
		return nil
	}
	return reflect.New(f.t).Interface().(encoding.TextUnmarshaler)
}

// wants is what the field takes, for people.
func (f field) wants() string {
	switch {
	case f.reader() != nil:
		return "takes a number or a text"
	case f.unit == "s":
		return `takes seconds (45) or a text such as "1 min 15 s" or "1:15"`
	case f.unit == "min":
		return `takes minutes (15) or a text such as "15 min" or "1 h 15 min"`
	case f.unit != "":
		return fmt.Sprintf("takes %s as a plain number, such as 2 or 0.25", units[f.unit])
	}
	switch f.t.Kind() {
	case reflect.Float64:
		return "takes a number, such as 2 or 0.25"
	case reflect.Int:
		return "takes a whole number"
	case reflect.Bool:
		return "takes true or false"
	case reflect.String:
		return "takes a text in double quotes"
	case reflect.Slice:
		return "takes a list in brackets, such as [1, 2]"
	case reflect.Struct, reflect.Map:
		return "is a table"
	}
	return "takes another value"
}

// fits reports whether a value of such a kind can be read into the field.
func (f field) fits(k unstable.Kind) bool {
	number := k == unstable.Integer || k == unstable.Float
	if f.reader() != nil {
		return false
	}
	if f.unit != "" && f.t.Kind() != reflect.Struct {
		return number
	}
	switch f.t.Kind() {
	case reflect.Float64:
		return number
	case reflect.Int:
		return k == unstable.Integer
	case reflect.Bool:
		return k == unstable.Bool
	case reflect.String:
		return k == unstable.String
	case reflect.Slice:
		return k == unstable.Array
	case reflect.Struct, reflect.Map:
		return k == unstable.InlineTable || number && f.unit != ""
	}
	return true
}

var kinds = map[unstable.Kind]string{
	unstable.String: "is a text", unstable.Integer: "is a number", unstable.Float: "is a number with decimals",
	unstable.Bool:  "is true or false",
	unstable.Array: "is a list", unstable.InlineTable: "is a table", unstable.LocalDate: "is a date",
	unstable.LocalTime:     "is a time of day",
	unstable.LocalDateTime: "is a date with a time", unstable.DateTime: "is a date with a time",
}

// value looks at the value of a key before it is decoded: a duration written
// as text becomes its seconds, and a value of the wrong kind is an error in our
// words.
func (f *File) value(path string, fl field, v *unstable.Node) {
	if r := fl.reader(); r != nil && (v.Kind == unstable.String || v.Kind == unstable.Integer ||
		v.Kind == unstable.Float) {
		if err := r.UnmarshalText(v.Data); err != nil {
			f.wrong = append(f.wrong, f.err(path, "is %s", which(err)))
		}
		return
	}
	if fl.t.Kind() == reflect.Slice && v.Kind == unstable.Array {
		of := field{t: fl.t.Elem()}
		for it := v.Children(); it.Next(); {
			r := of.reader()
			if r == nil || it.Node().Kind != unstable.String {
				continue
			}
			if err := r.UnmarshalText(it.Node().Data); err != nil {
				f.wrong = append(f.wrong, f.err(path, "has %s", which(err)))
				return
			}
		}
	}
	if fl.fits(v.Kind) {
		return
	}
	wants := fl.wants()
	if in := durations[fl.unit]; in > 0 && v.Kind == unstable.String {
		s, _, err := words.ParseSeconds(string(v.Data))
		if bare := strings.Trim(string(v.Data), "0123456789. ") == ""; err == nil && bare && in > 1 {
			err = fmt.Errorf("%q does not say its unit", v.Data)
		}
		if err == nil {
			f.edits = append(f.edits, edit{int(v.Raw.Offset), int(v.Raw.Offset + v.Raw.Length),
				strconv.FormatFloat(s/in, 'f', -1, 64)})
			return
		}
		f.wrong = append(f.wrong, f.err(path, "%s; it %s", strings.TrimPrefix(err.Error(), "is "), wants))
		return
	}
	f.wrong = append(f.wrong, f.err(path, "%s; it %s", kinds[v.Kind], wants))
}

// which makes a sentence about a text, "5 March" is no day, follow its key.
func which(err error) string { return strings.Replace(err.Error(), `" is no `, `", which is no `, 1) }

// syntax is what a line that TOML cannot read lacks, in our words, by a part
// of the library's.
var syntax = []struct{ of, text string }{
	{"UTF-8", "is not UTF-8 text: save the file as UTF-8"},
	{"control characters", "has a character that cannot be seen: take it out"},
	{"carriage return", "ends in an odd way: save the file with plain line ends"},
	{"expected '=' after key", "has no = : write  key = value"},
	{"at start of key", "does not begin with a key: write  key = value"},
	{"close table name", "has a table's name that is not closed: write [table] or, for one of several, [[table]]"},
	{"close array table", "has a table's name that is not closed: write [table] or, for one of several, [[table]]"},
	{"string", "has a text that is not closed or has a sign it cannot have: write it in one pair of double quotes"},
	{"escape", `has a text with a \ in it: write \\ for one`},
	{"strings must be quoted", "has a text without quotes: write it in double quotes"},
	{"expected newline", "has more after its value: one key a line, decimals with a point, text in double quotes"},
	{"array", "has a list that is not closed or lacks a comma: write [1, 2]"},
	{"inline table", "has a table that is not closed or lacks a comma: write { mean = 60, cv = 0.3 }"},
	{"leading zero", "has a number that begins with 0: leave the 0 out"},
	{"date", "has a date that is none: write 2026-03-04"},
	{"already", "gives a key or a table a second time: leave one out"},
	{"duplicate", "gives a key or a table a second time: leave one out"},
	{"redefined", "gives a key or a table a second time: leave one out"},
	{"value", "has no value that can be read: write a number (12.5), a text in double quotes, true or false"},
}

func syntaxText(library string) string {
	for _, s := range syntax {
		if strings.Contains(library, s.of) {
			return "this line " + s.text
		}
	}
	return "this line cannot be read: write  key = value, numbers with a point, text in double quotes"
}
