package pages

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	playform "github.com/go-playground/form/v4"

	"needlepace/book"
	"needlepace/internal/tomlfile"
	"needlepace/learn"
	"needlepace/money"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// amount is a number of a form that is 0 or more, count a whole one, seconds a
// duration as people write it (45, 1 min 15 s, 1:15). A pointer to one is nil
// where the field is empty.
type (
	amount  float64
	count   int
	seconds float64
	daytime time.Duration // since midnight, written 07:30
	counts  []int         // 12, 48, 96: each once, rising
	lengths []float64     // 2 3.5 7: numbers in turn
)

// timed is what a watch showed, and what that was rounded to, in seconds.
type timed struct{ seconds, step float64 }

// UnmarshalText reads a duration of a form or a file.
func (s *seconds) UnmarshalText(text []byte) error {
	v, _, err := words.ParseSeconds(string(text))
	*s = seconds(v)
	return err
}

// forms decodes what forms send. Fields are named by the struct's toml tags, so
// that a form of a file's keys is named as they are: machine[0].heads.
var forms = newForms()

func newForms() *playform.Decoder {
	d := playform.NewDecoder()
	d.SetTagName("toml")
	d.SetMaxArraySize(1000)
	register(d, plainNumber)
	register(d, func(s string) (amount, error) {
		v, err := plainNumber(s)
		if err == nil && v < 0 {
			err = refused(words.Say("refused.below-zero"))
		}
		return amount(v), err
	})
	register(d, wholeNumber)
	register(d, func(s string) (count, error) {
		v, err := wholeNumber(s)
		if err == nil && v < 0 {
			err = refused(words.Say("refused.below-zero"))
		}
		return count(v), err
	})
	register(d, func(s string) (seconds, error) {
		var v seconds
		if v.UnmarshalText([]byte(s)) != nil {
			return v, refused(words.Say("refused.seconds"))
		}
		return v, nil
	})
	register(d, func(s string) (words.Day, error) {
		day, err := words.ParseDay(s)
		if err != nil {
			err = refused(words.Say("refused.day", words.Args{"day": words.Name(s)}))
		}
		return day, err
	})
	register(d, func(s string) (daytime, error) {
		t, err := time.Parse("15:04", s)
		if err != nil {
			err = refused(words.Say("refused.daytime"))
		}
		return daytime(time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute), err
	})
	register(d, func(s string) (timed, error) {
		v, step, err := learn.ParseTime(s)
		return timed{v, step}, err
	})
	register(d, func(s string) (out counts, err error) {
		for part := range strings.FieldsFuncSeq(s, func(c rune) bool { return strings.ContainsRune(" ,;", c) }) {
			n, err := wholeNumber(part)
			if err != nil {
				return nil, refused(words.Say("refused.whole-list"))
			}
			out = append(out, n)
		}
		slices.Sort(out)
		return slices.Compact(out), nil
	})
	register(d, func(s string) (out lengths, err error) {
		for part := range strings.FieldsFuncSeq(s, func(c rune) bool { return strings.ContainsRune(" ,;", c) }) {
			v, err := plainNumber(part)
			if err != nil {
				return nil, refused(words.Say("refused.number-list"))
			}
			out = append(out, v)
		}
		return out, nil
	})
	register(d, parseDayList)
	register(d, parseLines)
	d.RegisterCustomTypeFunc(readWeekdays, weekdays{})
	register(d, func(s string) (v book.Seen, err error) { return v, v.UnmarshalText([]byte(s)) })
	register(d, func(s string) (money.Amount, error) {
		var v money.Amount
		s, err := words.Decimal(s)
		if err != nil {
			return v, refused(words.Say("refused.unsure"))
		}
		if v.UnmarshalText([]byte(s)) != nil {
			return v, refused(words.Say("refused.amount"))
		}
		if v.IsNegative() {
			return v, refused(words.Say("refused.below-zero"))
		}
		return v, nil
	})
	return d
}

// register makes the decoder read values of a type by parse, and pointers to
// them as nil where the field is empty.
func register[T any](d *playform.Decoder, parse func(string) (T, error)) {
	read := func(typed []string) (v *T, err error) {
		s := strings.TrimSpace(typed[0])
		if s == "" {
			return nil, nil
		}
		x, err := parse(s)
		return &x, err
	}
	var zero T
	d.RegisterCustomTypeFunc(func(typed []string) (any, error) {
		v, err := read(typed)
		if v == nil {
			return zero, err
		}
		return *v, err
	}, zero)
	d.RegisterCustomTypeFunc(func(typed []string) (any, error) { return read(typed) }, &zero)
}

func plainNumber(s string) (float64, error) {
	v, err := words.ParseNumber(s)
	switch {
	case errors.Is(err, words.ErrUnsure):
		return 0, refused(words.Say("refused.unsure"))
	case err != nil || math.Abs(v) > 1e12:
		return 0, refused(words.Say("refused.number"))
	}
	return v, nil
}

func wholeNumber(s string) (int, error) {
	v, err := strconv.Atoi(s)
	if err != nil || v > 1e9 || v < -1e9 {
		return 0, refused(words.Say("refused.whole"))
	}
	return v, nil
}

// form is what was typed into a form, and what is wrong with it by field. A form
// with something wrong is shown again as it was typed.
type form struct {
	name  string // of a page's forms, where it has several
	typed url.Values
	sent  bool // somebody filled it in; else the page was only asked for
	wrong map[string]string
	named map[string]string // fields by the domain's keys, where the form calls them otherwise
	told  []string          // what is wrong with no field of the form
	all   bool              // told says what is wrong with its fields too
	// somebody else's changes are in what the form was read into: that is shown, not what was typed
	merged bool
	w      *words.Writer // how what is wrong is said; nil: in English
}

// unreadable is what is wrong with what was typed, as a sentence of the catalogue.
type unreadable struct{ words.Message }

// Error is the sentence in English.
func (u unreadable) Error() string { return u.Text(nil) }

func refused(m words.Message) error { return unreadable{m} }

// goodKey keeps brackets in pairs round numbers: the decoder panics on others.
var goodKey = regexp.MustCompile(`^[^\[\]]{1,100}(\[([0-9]{1,3}|[a-z][a-z0-9_.]{0,60}|[0-9][a-z0-9]*[a-z][a-z0-9]*)\][^\[\]]{0,100}){0,4}$`)

// readForm decodes values into a struct. A field that cannot be read is marked,
// nothing is taken for it.
func readForm(values url.Values, into any, w *words.Writer) (*form, error) {
	f := &form{typed: values, sent: true, wrong: map[string]string{}, w: w}
	for key := range values {
		if !goodKey.MatchString(key) {
			return nil, serve.BadRequest("the form has a field %q, which no page of ours sends; load the page anew",
				key)
		}
	}
	var wrong playform.DecodeErrors
	switch err := forms.Decode(into, values); {
	case errors.As(err, &wrong):
		for name, e := range wrong {
			f.wrong[name] = e.Error()
			var u unreadable
			if errors.As(e, &u) {
				f.wrong[name] = u.Text(w)
			}
		}
	case err != nil:
		return nil, serve.BadRequest("the form cannot be read: %v", err)
	}
	return f, nil
}

// posted reports whether a form is to be acted on; a page that only tells what
// was refused does nothing.
func (c *call) posted() bool { return c.Method == http.MethodPost && c.back == nil }

// form decodes the form that was sent with a POST, else that of the address. A
// field that was sent and has no place is an error: nothing of a form is passed
// over in silence. An address may have what other parts of a page ask for.
func (c *call) form(into any) (*form, error) {
	w := c.writer()
	if c.posted() {
		if not := unread(c.PostForm, into); len(not) > 0 {
			return nil, serve.BadRequest("the form has a field %q, which no page of ours sends; load the page anew",
				strings.Join(not, ", "))
		}
		return readForm(c.PostForm, into, w)
	}
	return readForm(c.URL.Query(), into, w)
}

// sent decodes a form, does what it is for and goes on to the address that do
// gives; empty: do has answered. What is wrong is shown by again, with the form.
func (c *call) sent(into any, do func(*form) (to string, err error), again func(*form) error) error {
	f, err := c.form(into)
	if err != nil {
		return err
	}
	if !f.bad() {
		to, err := do(f)
		if err := f.take(err); err != nil {
			return err
		}
		if !f.bad() {
			return c.seeIf(to)
		}
	}
	return again(f)
}

// wrongFields is what is wrong with a form by field, as one error.
type wrongFields struct {
	error
	wrong map[string]string
}

// Unwrap is the error.
func (w *wrongFields) Unwrap() error { return w.error }

// pressed decodes a form that is part of another page, which again shows.
func (c *call) pressed(into any) error {
	f, err := c.form(into)
	if err != nil {
		return err
	}
	if err := f.err(nil); err != nil {
		return &wrongFields{err, f.wrong}
	}
	return nil
}

// bad reports whether the form is to be shown again.
func (f *form) bad() bool { return len(f.wrong)+len(f.told) > 0 }

// Bad is bad, for templates.
func (f *form) Bad() bool { return f.bad() }

// refuse marks a field.
func (f *form) refuse(name, why string) {
	if f.wrong[name] == "" {
		f.wrong[name] = why
	}
}

// take marks what an error says: at the field whose key it names, else over the
// form. What is no fault of the form is given back.
func (f *form) take(err error) error {
	if err == nil {
		return nil
	}
	key, text := "", ""
	var at *tomlfile.Error
	if e := shop.ErrorOf(err); e != nil {
		key, text = e.Key, e.In(f.w)
	}
	if key == "" && errors.As(err, &at) {
		key, text = at.Key, strings.TrimPrefix(at.Text, "is ")
		if !at.Why.IsZero() && f.w.Tag() != "en" {
			text = at.Why.Text(f.w)
		}
	}
	name := fieldOf(key)
	if other := f.named[key]; other != "" {
		name = other
	}
	if f.typed.Has(name) || f.named[key] != "" {
		f.refuse(name, text)
		return nil
	}
	switch shop.CodeOf(err) {
	case shop.Invalid, shop.NotFound, shop.Conflict:
		if key != "" && !f.sent { // nobody typed it: it stands in what is kept
			f.refuse(name, text)
		}
		f.told = append(f.told, words.Sentence(cmp.Or(text, err.Error())))
		return nil
	}
	return err
}

var listNumber = regexp.MustCompile(`\[([0-9]+)\]`)

// fieldOf is the name that a key of a file has in a form: forms count lists
// from 0, people from 1.
func fieldOf(key string) string {
	return listNumber.ReplaceAllStringFunc(key, func(s string) string {
		n, _ := strconv.Atoi(s[1 : len(s)-1])
		return "[" + strconv.Itoa(n-1) + "]"
	})
}

// message tells what is wrong; nil for nothing.
func (f *form) message() *told {
	if !f.bad() {
		return nil
	}
	lines := slices.Clone(f.told)
	if n := len(f.wrong); !f.sent || f.all {
		return &told{true, lines}
	} else if n == 1 {
		lines = append(lines, words.Say("refused.one-marked").Text(f.w))
	} else if n > 1 {
		lines = append(lines, words.Say("refused.marked", words.Args{"n": words.Whole(n)}).Text(f.w))
	}
	return &told{true, lines}
}

// err is all that is wrong as an error, for pages that have no form to show
// again; names say what the fields are called.
func (f *form) err(names map[string]string) error {
	if !f.bad() {
		return nil
	}
	var m words.Message
	for _, line := range f.said(names) {
		if m.IsZero() {
			m = words.Say("refused.told", words.Args{"what": words.Name(line)})
			continue
		}
		m = words.Say("plan-why.row", words.Args{"a": m, "b": words.Name(line)})
	}
	return shop.Saying(shop.Invalid, m)
}

// said is all that is wrong, where the fields are not shown.
func (f *form) said(names map[string]string) []string {
	lines := slices.Clone(f.told)
	for _, key := range slices.Sorted(maps.Keys(f.wrong)) {
		name := names[key]
		if name == "" {
			name = key
		}
		lines = append(lines, words.Say("refused.typed", words.Args{"field": words.Name(name), "typed": words.Name(f.typed.Get(key)),
			"why": words.Name(f.wrong[key])}).Text(f.w))
	}
	return lines
}

// field is one field of a form as the page shows it.
type field struct {
	Name, Label string
	Kind        string // "number", "money", "text", "area" (of several lines), "tick", "days", "choice", "design" (its name, typed)
	Value       string
	On          bool
	Options     []option
	Step        string
	Wrong       string // what is wrong with what was typed

	Ticks          []tick // of days of the week
	Type, Hint     string // of a text: how it is typed, and an example
	Grow, Required bool
	Focus          bool // the page begins at it
	Once           bool // it is empty again when what it asks for is there
}

type option struct{ Value, Label string }

// tick is one box of several.
type tick struct {
	option
	On bool
}

// show makes a field of a value of the form's struct: as it is, or as it was
// typed where the form is shown again.
func (f *form) show(name, label string, value any, options ...option) field {
	x := field{Name: name, Label: label, Kind: "number", Step: "any", Options: options}
	switch v := value.(type) {
	case string:
		x.Kind, x.Value = "text", v
	case counts:
		x.Kind, x.Value = "text", strings.Trim(strings.Join(strings.Fields(fmt.Sprint([]int(v))), ", "), "[]")
	case dayList:
		x.Kind, x.Value, x.Grow = "text", strings.Join(v, ", "), true
	case lines:
		x.Kind, x.Value, x.Grow = "area", strings.Join(v, "\n"), true
	case weekdays:
		x.Kind = "days"
		if f.bad() && f.sent && !f.merged {
			v = f.typed[name]
		}
		for _, d := range daysOfWeek {
			x.Ticks = append(x.Ticks, tick{option{d.Raw(), f.w.Weekday(time.Weekday(d))}, slices.Contains(v, d.Raw())})
		}
	case *timed:
		x.Kind = "text" // what was read is never proposed
	case *daytime:
		x.Kind, x.Type = "text", "time"
		x.Value = shownAs(v, func(t daytime) string { return time.Time{}.Add(time.Duration(t)).Format("15:04") })
	case words.Day:
		x.Kind, x.Type, x.Value = "text", "date", v.String()
	case bool:
		x.Kind, x.On = "tick", v
	case *int:
		x.Step, x.Value = "1", shownAs(v, func(n int) string { return strconv.Itoa(n) })
	case *count:
		x.Step, x.Value = "1", shownAs(v, func(n count) string { return strconv.Itoa(int(n)) })
	case *float64:
		x.Value = shownAs(v, raw)
	case *amount:
		x.Value = shownAs(v, func(a amount) string { return raw(float64(a)) })
	case *seconds:
		x.Value = shownAs(v, func(a seconds) string { return raw(float64(a)) })
	case *money.Amount:
		x.Value = shownAs(v, func(a money.Amount) string { return a.String() })
	default:
		panic(fmt.Sprintf("pages: no field for a %T", value))
	}
	if len(options) > 0 {
		x.Kind = "choice"
	}
	if f.bad() {
		x.Wrong = f.wrong[name]
	}
	if f.bad() && f.sent && !f.merged {
		x.Value, x.On = f.typed.Get(name), f.typed.Get(name) == "1"
	}
	if x.Kind == "choice" && !slices.ContainsFunc(options, func(o option) bool { return o.Value == x.Value }) {
		x.Options = append([]option{{x.Value, x.Value}}, options...) // named otherwise, or gone
	}
	return x
}

// Field is show for templates; how says that it grows, must be filled in, its
// type where that is none of a number or a text, or an example.
func (f *form) Field(name, label string, value any, how ...string) field {
	x := f.show(name, label, value)
	for _, h := range how {
		switch h {
		case "grow":
			x.Grow = true
		case "required":
			x.Required = true
		case "date", "time", "datetime-local", "password":
			x.Type = h
		case "number", "area":
			x.Kind = h
		default:
			x.Hint = h
		}
	}
	if x.Type == "password" {
		x.Value = ""
	}
	return x
}

// Choice is show for templates, of one of some options.
func (f *form) Choice(name, label, value string, options []option) field {
	return f.show(name, label, value, options...)
}

// Typed is what was typed into a field, for templates.
func (f *form) Typed(name string) string { return f.typed.Get(name) }

// Wrong is what is wrong with a field, for templates.
func (f *form) Wrong(name string) string { return f.wrong[name] }

func shownAs[T any](v *T, as func(T) string) string {
	if v == nil {
		return ""
	}
	return as(*v)
}
