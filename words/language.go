package words

import (
	"embed"
	"fmt"
	"io/fs"
	"strings"
	"sync"

	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
)

// Language is a catalogue: how a language writes numbers and days, and its
// sentences by key.
type Language struct {
	Tag  language.Tag
	Name string // in the language itself
	Note string // about the catalogue, e.g. that no speaker has checked it; in English

	decimal, group, minus  string
	months, monthNames     []string // short and in full, January first
	weekdays, weekdayNames []string // short and in full, Sunday first
	phrases                map[string]*phrase
}

// phrase is a sentence cut at its arguments, with a form for each plural
// category that it tells apart by the argument named by.
type phrase struct {
	by    string
	none  []part // for exactly 0, where the language has words of its own for it
	forms [plural.Many + 1][]part
}

// part is text, or the place of an argument.
type part struct{ text, arg string }

//go:embed *.toml
var files embed.FS

// English is the language in which everything is said. It is read apart from the others,
// which few commands need.
var English = sync.OnceValue(func() *Language { return builtIn("en.toml") })

// Languages are all languages there are, English first.
func Languages() []*Language { return all() }

// LanguageOf is the language of a tag.
func LanguageOf(tag string) (*Language, bool) {
	for _, l := range all() {
		if l.Tag.String() == tag {
			return l, true
		}
	}
	return nil, false
}

// Tags are the tags of all languages there are, as a sentence lists them.
func Tags() string {
	var tags []string
	for _, l := range all() {
		tags = append(tags, l.Tag.String())
	}
	return strings.Join(tags, ", ")
}

var all = sync.OnceValue(func() []*Language {
	out := []*Language{English()}
	names, _ := fs.Glob(files, "*.toml")
	for _, name := range names {
		if name != "en.toml" {
			out = append(out, builtIn(name))
		}
	}
	return out
})

func builtIn(name string) *Language {
	b, err := files.ReadFile(name)
	if err != nil {
		panic(err)
	}
	l, err := ParseLanguage(name, b)
	if err != nil {
		panic(err) // built in and tested
	}
	return l
}

// ParseLanguage reads a catalogue, a file as en.toml. name is used in errors.
// What it does not say is said in English.
func ParseLanguage(name string, b []byte) (*Language, error) {
	var file struct {
		Language struct{ Tag, Name, Note string }
		Number   struct{ Decimal, Group, Minus string }
		Day      struct {
			Months, Weekdays []string
			MonthNames       []string `toml:"month-names"`
			WeekdayNames     []string `toml:"weekday-names"`
		}
	}
	var tree map[string]any
	if err := toml.Unmarshal(b, &tree); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	head := map[string]any{} // what is no sentence; to read it apart takes half as long as all of it twice
	for _, table := range []string{"language", "number", "day"} {
		if v, ok := tree[table]; ok {
			head[table] = v
		}
	}
	if h, err := toml.Marshal(head); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	} else if err := toml.Unmarshal(h, &file); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	tag, err := language.Parse(file.Language.Tag)
	if err != nil {
		return nil, fmt.Errorf("%s: language.tag is %q: %w", name, file.Language.Tag, err)
	}
	d := &file.Day
	if len(d.Months) != 12 || len(d.MonthNames) != 12 || len(d.Weekdays) != 7 || len(d.WeekdayNames) != 7 {
		return nil, fmt.Errorf("%s: day.months and day.month-names must name 12, "+
			"day.weekdays and day.weekday-names 7 (Sunday first)", name)
	}
	delete(tree, "language")
	delete(tree, "number")
	if day, ok := tree["day"].(map[string]any); ok {
		for _, names := range []string{"months", "month-names", "weekdays", "weekday-names"} {
			delete(day, names)
		}
	}
	l := &Language{Tag: tag, Name: file.Language.Name, Note: file.Language.Note, decimal: file.Number.Decimal, group: file.Number.Group,
		minus: file.Number.Minus, months: d.Months, monthNames: d.MonthNames, weekdays: d.Weekdays,
		weekdayNames: d.WeekdayNames,
		phrases:      map[string]*phrase{}}
	if err := l.gather("", tree); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return l, nil
}

// categories are CLDR's plural categories.
var categories = map[string]plural.Form{
	"zero": plural.Zero, "one": plural.One, "two": plural.Two, "few": plural.Few, "many": plural.Many,
	"other": plural.Other,
}

// gather reads the phrases of a table. A table with "other" is one phrase in
// its plural forms, any other table a group of phrases.
func (l *Language) gather(prefix string, t map[string]any) error {
	for key, v := range t {
		at := prefix + key
		switch v := v.(type) {
		case string:
			parts, err := cut(v)
			if err != nil {
				return fmt.Errorf("%s: %w", at, err)
			}
			p := &phrase{}
			p.forms[plural.Other] = parts
			l.phrases[at] = p
		case map[string]any:
			if _, ok := v["other"]; !ok {
				if err := l.gather(at+".", v); err != nil {
					return err
				}
				continue
			}
			p, err := plurals(v)
			if err != nil {
				return fmt.Errorf("%s: %w", at, err)
			}
			l.phrases[at] = p
		default:
			return fmt.Errorf("%s is no sentence", at)
		}
	}
	return nil
}

// plurals reads a phrase with forms: by names the argument that decides
// ("n" where it is not given), none is for exactly 0.
func plurals(t map[string]any) (*phrase, error) {
	p := &phrase{by: "n"}
	for key, v := range t {
		s, ok := v.(string)
		if !ok {
			return nil, fmt.Errorf("%s is no sentence", key)
		}
		if key == "by" {
			p.by = s
			continue
		}
		parts, err := cut(s)
		if err != nil {
			return nil, err
		}
		if form, ok := categories[key]; ok {
			p.forms[form] = parts
		} else if key == "none" {
			p.none = parts
		} else {
			return nil, fmt.Errorf("%q is no plural category; there are none, zero, one, two, few, many and other", key)
		}
	}
	return p, nil
}

// cut cuts a sentence at its {arguments}.
func cut(s string) (parts []part, err error) {
	whole := s
	for s != "" {
		text, rest, open := strings.Cut(s, "{")
		if text != "" {
			parts = append(parts, part{text: text})
		}
		if !open {
			return parts, nil
		}
		name, after, closed := strings.Cut(rest, "}")
		if !closed || name == "" || strings.ContainsAny(name, "{ ") {
			return nil, fmt.Errorf("%q: an argument is written {name}", whole)
		}
		parts = append(parts, part{arg: name})
		s = after
	}
	return parts, nil
}

// phrase is the phrase under a key, in English where the language has none.
func (l *Language) phrase(key string) *phrase {
	if p := l.phrases[key]; p != nil || l.Tag == language.English {
		return p
	}
	return English().phrases[key]
}

// form is the phrase's form for the plain digits of the argument that decides.
func (p *phrase) form(l *Language, plain func(arg string) string) []part {
	if p.by != "" {
		d := plain(p.by)
		if d == "0" && p.none != nil {
			return p.none
		}
		if f := p.forms[l.category(d)]; f != nil {
			return f
		}
	}
	return p.forms[plural.Other]
}

// category is the plural category of a number as its digits are written: by
// CLDR, 1 and 1.0 may differ.
func (l *Language) category(plain string) plural.Form {
	whole, frac, _ := strings.Cut(plain, ".")
	if len(whole) > 7 { // the rules look at the last digits only
		whole = "1" + whole[len(whole)-6:]
	}
	short := strings.TrimRight(frac, "0")
	return plural.Cardinal.MatchPlural(l.Tag, number(whole), len(frac), len(short), number(frac), number(short))
}

func number(digits string) (n int) {
	for _, c := range digits {
		n = 10*n + int(c-'0')
	}
	return n
}

// fill is a phrase without plural, its arguments given as name, text, …
func (l *Language) fill(key string, args ...string) string {
	p := l.phrase(key)
	if p == nil {
		return "[" + key + "]"
	}
	b := make([]byte, 0, 32)
	for _, q := range p.forms[plural.Other] {
		b = append(b, q.text...)
		for i := 0; i < len(args); i += 2 {
			if q.arg == args[i] {
				b = append(b, args[i+1]...)
			}
		}
	}
	return string(b)
}

// noun is a number of things: plain are its digits, shown the same as written.
func (l *Language) noun(noun, plain, shown string) string {
	p := l.phrase("count." + noun)
	if p == nil {
		return shown + " [" + noun + "]"
	}
	b := make([]byte, 0, 32)
	for _, q := range p.form(l, func(string) string { return plain }) {
		b = append(b, q.text...)
		if q.arg == "n" {
			b = append(b, shown...)
		}
	}
	return string(b)
}
