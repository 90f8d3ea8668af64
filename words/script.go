package words

import (
	"encoding/json"
	"slices"
	"strings"

	"golang.org/x/text/feature/plural"
)

// Script is the language as a script module for the page, which writes figures
// as this package does (web's words.js): how numbers and days are written, and the
// phrases of some groups, e.g. "time".
func (l *Language) Script(groups ...string) string {
	out := struct {
		Tag      string         `json:"tag"`
		Decimal  string         `json:"decimal"`
		Group    string         `json:"group"`
		Minus    string         `json:"minus"`
		Months   []string       `json:"months"`
		Weekdays []string       `json:"weekdays"`
		Phrases  map[string]any `json:"phrases"`
	}{l.Tag.String(), l.decimal, l.group, l.minus, l.months, l.weekdays, map[string]any{}}
	for _, from := range []*Language{English(), l} {
		for key, p := range from.phrases {
			if group, _, _ := strings.Cut(key, "."); slices.Contains(groups, group) {
				out.Phrases[key] = p.script()
			}
		}
	}
	b, err := json.Marshal(out)
	if err != nil {
		panic(err) // strings and maps of them
	}
	return "// made from package words\nexport const language = " + string(b) + ";\n"
}

// script is the phrase as text, or as its forms by category.
func (p *phrase) script() any {
	if p.by == "" {
		return Firm(text(p.forms[plural.Other]))
	}
	forms := map[string]string{"by": p.by}
	if p.none != nil {
		forms["none"] = Firm(text(p.none))
	}
	for name, form := range categories {
		if parts := p.forms[form]; parts != nil {
			forms[name] = Firm(text(parts))
		}
	}
	return forms
}

// text is the parts as they stand in the catalogue.
func text(parts []part) string {
	var b strings.Builder
	for _, q := range parts {
		if q.arg != "" {
			b.WriteString("{" + q.arg + "}")
		}
		b.WriteString(q.text)
	}
	return b.String()
}
