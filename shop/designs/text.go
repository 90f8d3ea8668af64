package designs

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

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
