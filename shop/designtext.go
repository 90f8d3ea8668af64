package shop

import (
	"path"
	"strings"
	"unicode"
	"unicode/utf8"
)

// cleanFile is the last element of a file's name as a browser or a zip sent
// it: no folders of either kind, no control characters. It is only shown and
// offered as a download's name, never opened.
func cleanFile(name string) string {
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

// cleanLabel is a label out of a stitch file, which may hold any bytes.
func cleanLabel(s string) string {
	s = strings.TrimSpace(strings.Map(func(r rune) rune {
		if r == utf8.RuneError || unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "")))
	if r := []rune(s); len(r) > 200 {
		s = string(r[:200])
	}
	return s
}
