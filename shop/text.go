package shop

import (
	"fmt"
	"path"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"needlepace/words"
)

// CheckText refuses what is no text for people: not UTF-8, control characters,
// too long, empty where something must stand.
func CheckText(what, s string, most int, needed bool) error {
	switch {
	case needed && strings.TrimSpace(s) == "":
		e := Invalidf("the %s is missing", what)
		e.Say = words.Say("refused.missing")
		return e
	case utf8.RuneCountInString(s) > most:
		e := Invalidf("the %s has %d characters; at most %d are kept", what, utf8.RuneCountInString(s), most)
		e.Say = words.Say("refused.long", words.Args{"n": words.Whole(utf8.RuneCountInString(s)), "most": words.Whole(most)})
		return e
	case !utf8.ValidString(s):
		return Invalidf("the %s is not UTF-8 text", what)
	}
	for _, r := range s {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			e := Invalidf("the %s has a control character (U+%04X)", what, r)
			e.Say = words.Say("refused.control", words.Args{"n": words.Name(fmt.Sprintf("U+%04X", r))})
			return e
		}
	}
	return nil
}

// CleanFile is the last element of a file's name as a browser or a zip sent
// it: no folders of either kind, no control characters. It is only shown and
// offered as a download's name, never opened.
func CleanFile(name string) string {
	name = path.Base(strings.ReplaceAll(name, `\`, "/"))
	name = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == utf8.RuneError || unicode.Is(unicode.Bidi_Control, r) {
			return -1
		}
		return r
	}, name)
	if name == "" || name == "." || name == ".." || name == "/" {
		name = "design"
	}
	for utf8.RuneCountInString(name) > 200 {
		_, n := utf8.DecodeRuneInString(name)
		name = name[n:]
	}
	return name
}

// Fold is text as it is searched in and compared: without case, in one form.
func Fold(s string) string { return norm.NFKC.String(cases.Fold().String(s)) }

// SortKey orders names as people do: without case, design 2 before design 10.
func SortKey(s string) string {
	var b strings.Builder
	f := Fold(strings.TrimSpace(s))
	for i := 0; i < len(f); {
		j := i
		for j < len(f) && f[j] >= '0' && f[j] <= '9' {
			j++
		}
		if j == i {
			b.WriteByte(f[i])
			i++
			continue
		}
		digits := strings.TrimLeft(f[i:j], "0")
		b.WriteString(strings.Repeat("0", max(0, 12-len(digits))) + digits)
		i = j
	}
	return b.String()
}
