package words

import (
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/feature/plural"
)

// noBreak is U+00A0, at which no line ends.
const noBreak = "\u00a0"

// Firm is a text in which lines do not end between a number and its unit, as the SI
// brochure (9th edition, 5.4.3) has the two belong together: 7.6 %, 18 min 45 s, 28.55 EUR,
// 48.5 × 30.0 mm, 20 Mar. It is for what breaks texts into lines (pages and papers);
// files and terminals keep plain spaces.
func Firm(s string) string {
	var b strings.Builder
	kept := 0
	for at := 1; at+1 < len(s); at++ {
		if s[at] != ' ' || !binds(s[:at], s[at+1:]) {
			continue
		}
		if kept == 0 {
			b.Grow(len(s) + len(s)/16)
		}
		b.WriteString(s[kept:at])
		b.WriteString(noBreak)
		kept = at + 1
	}
	if kept == 0 {
		return s
	}
	b.WriteString(s[kept:])
	return b.String()
}

// binds reports whether what stands before and after a space belongs together; neither is
// empty. An argument's place, {s}, is as a number.
func binds(before, after string) bool {
	switch last := before[len(before)-1]; {
	case digit(last) || last == '}':
		return isUnit(after)
	case last >= utf8.RuneSelf && (strings.HasSuffix(before, "±") || strings.HasSuffix(before, "×")):
		return true
	case !digit(after[0]) && after[0] != '{':
		return false
	}
	for _, unit := range unitsOf().larger { // 18 min 45 s
		if n := strings.TrimSuffix(before, unit); len(n) < len(before) {
			n = strings.TrimSuffix(strings.TrimSuffix(n, " "), noBreak)
			return n != "" && (digit(n[len(n)-1]) || n[len(n)-1] == '}')
		}
	}
	return false
}

func digit(c byte) bool { return c >= '0' && c <= '9' }

// isUnit reports whether a text begins with the unit of a number.
func isUnit(s string) bool {
	end := 0 // past its letters and signs; 16 bytes are longer than any
	for end < len(s) && end < 16 && (s[end]|0x20 >= 'a' && s[end]|0x20 <= 'z' || s[end] >= utf8.RuneSelf || strings.IndexByte("%/$", s[end]) >= 0) {
		end++
	}
	unit := s[:end]
	if end < len(s) && (digit(s[end]) || s[end] == '-') { // 3 x2, 5 s-curves
		return false
	}
	if _, ok := unitsOf().all[unit]; ok {
		return true
	}
	if first, _ := utf8.DecodeRuneInString(unit); unicode.Is(unicode.Sc, first) {
		return true
	}
	return len(unit) == 3 && strings.ToUpper(unit) == unit && strings.ToLower(unit) != unit // ISO 4217
}

// unitSet are the units that figures have in all languages.
type unitSet struct {
	all    map[string]struct{}
	larger []string // those that a smaller one follows: min in 18 min 45 s
}

// unitsOf are read from the catalogues, where figures are written; those that only sentences
// have are named here.
var unitsOf = sync.OnceValue(func() *unitSet {
	u := &unitSet{all: map[string]struct{}{}}
	for _, unit := range []string{"MB", "kB", "GB", "ms", "Hz", "kHz", "dB", "µm", "°C", "kg", "mm/s", "m/s"} {
		u.all[unit] = struct{}{}
	}
	for _, l := range all() {
		for key, p := range l.phrases {
			group, name, _ := strings.Cut(key, ".")
			switch {
			case group == "time", group == "length", key == "percent.is", key == "day.am", key == "day.pm":
			case group == "count" && (name == "hour" || name == "day" || name == "week" || name == "year"):
			default:
				continue
			}
			for _, form := range p.forms {
				for i, part := range form {
					unit := strings.TrimSpace(part.text)
					if i == 0 || unit == "" || part.text[0] != ' ' {
						continue
					}
					u.all[unit] = struct{}{}
					if group == "time" && i+1 < len(form) && !slices.Contains(u.larger, unit) {
						u.larger = append(u.larger, unit)
					}
				}
			}
		}
		if p := l.phrases["speed.unit"]; p != nil {
			u.all[text(p.forms[plural.Other])] = struct{}{}
		}
		for _, m := range append(l.months, l.monthNames...) {
			u.all[m] = struct{}{}
		}
	}
	return u
})
