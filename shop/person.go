package shop

import (
	"strings"
	"unicode"

	"golang.org/x/text/cases"
	"golang.org/x/text/secure/precis"
	"golang.org/x/text/unicode/norm"
)

// CheckName refuses a name by which nobody should be known: what CheckText
// refuses, what RFC 8266 (names that people choose for themselves) refuses, so
// that no invisible and no text-turning characters stand in it, and letters of
// scripts that are not written together, by which one name is made to look like
// another (UTS 39 section 5.2, highly restrictive). It gives the name in the
// form in which it is kept: NFKC, without spaces around.
func CheckName(what, name string) (string, error) {
	name = strings.TrimSpace(name)
	if err := CheckText(what, name, 100, true); err != nil {
		return "", err
	}
	kept, err := precis.Nickname.String(name)
	if err != nil {
		return "", Invalidf("the %s has characters that are not seen or that turn the text round; type it without them",
			what)
	}
	if mixed(kept) {
		return "", Invalidf("the %s mixes letters of several scripts, which look alike; write it in one", what)
	}
	return kept, nil
}

// together are the scripts that are written together (UTS 39 section 5.2);
// Latin goes with each.
var together = [][]string{{"Han", "Hiragana", "Katakana"}, {"Han", "Bopomofo"}, {"Han", "Hangul"}}

func mixed(s string) bool {
	found := map[string]bool{}
	for _, r := range s {
		if unicode.In(r, unicode.Common, unicode.Inherited) {
			continue
		}
		for name, table := range unicode.Scripts {
			if unicode.Is(table, r) {
				found[name] = true
				break
			}
		}
	}
	if len(found) <= 1 {
		return false
	}
	delete(found, "Latin")
	for _, set := range together {
		all := true
		for name := range found {
			if !strings.Contains(" "+strings.Join(set, " ")+" ", " "+name+" ") {
				all = false
			}
		}
		if all {
			return false
		}
	}
	return true
}

// looksLike maps letters and digits to the Latin letter that they are taken for,
// after folding: the prototypes of UTS 39's confusables that names are made of
// (from memory).
var looksLike = strings.NewReplacer(
	// Cyrillic
	"а", "a", "в", "b", "с", "c", "ԁ", "d", "е", "e", "һ", "h", "н", "h", "і", "l", "ј", "j", "к", "k", "м", "m", "о", "o",
	"р", "p", "ԛ", "q", "ѕ", "s", "т", "t", "у", "y", "ԝ", "w", "х", "x", "ѵ", "v", "ӏ", "l",
	// Greek
	"α", "a", "β", "b", "ε", "e", "η", "n", "ι", "l", "κ", "k", "ν", "v", "ο", "o", "ρ", "p", "τ", "t", "υ", "u", "χ", "x",
	// within Latin
	"0", "o", "1", "l", "i", "l", "|", "l", "rn", "m", "vv", "w", "ı", "l",
)

// Skeleton is what a name looks like: two names with one skeleton are taken for
// each other, e.g. Ada in Latin and in Cyrillic letters, or Al and AI. It is not
// for people to read.
func Skeleton(name string) string {
	s := norm.NFKC.String(cases.Fold().String(norm.NFKC.String(name)))
	return looksLike.Replace(strings.Join(strings.Fields(s), " "))
}
