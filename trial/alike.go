package trial

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// leastAlike is how many letters and digits a text must keep to be told by them.
const leastAlike = 3

// alike reports whether one text may be the other after a spreadsheet of another code page
// had it: the letters a to z and the digits are the same, and no others are looked at, or
// the others were changed for their base letters. A digest, a turn and a place say more of
// what was sewn than a name does; a return is not lost for its accents.
func alike(a, b string) bool {
	if a == b {
		return true
	}
	for _, of := range []func(string) string{bare26, func(s string) string { return bare26(base26(s)) }} {
		if x, y := of(a), of(b); x == y && len(x) >= leastAlike {
			return true
		}
	}
	return false
}

// bare26 is the letters a to z and the digits of a text, small.
func bare26(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			return r
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		}
		return -1
	}, s)
}

// base26 is a text with letters that have a base letter, as ş and đ have, as those.
func base26(s string) string {
	s = strings.NewReplacer("ı", "i", "đ", "d", "Đ", "D", "ø", "o", "Ø", "O", "ł", "l", "Ł", "L").Replace(s)
	return strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return r
	}, norm.NFD.String(s))
}

// named finds the one of names that a text is, or may be after a spreadsheet had it: -1
// where there is none, or more than one may be.
func named(text string, names []string) int {
	found := -1
	for i, n := range names {
		switch {
		case n == text:
			return i
		case !alike(n, text):
		case found >= 0:
			found = -2
		case found == -1:
			found = i
		}
	}
	return max(found, -1)
}
