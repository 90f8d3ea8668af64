package shop

import (
	"strings"
	"testing"
)

func TestNamesThatDeceiveAreRefused(t *testing.T) {
	for name, words := range map[string]string{
		"Ada\u202egnp":           "turn the text round", // RIGHT-TO-LEFT OVERRIDE
		"Ada\u2066x":             "turn the text round", // an isolate
		"Ad\u200ba":              "not seen",            // ZERO WIDTH SPACE
		"Ada\u00ad":              "not seen",            // SOFT HYPHEN
		"А" + "da":               "several scripts",     // Cyrillic A, Latin da
		"Ad" + "α":               "several scripts",     // Greek alpha
		"":                       "missing",
		"  ":                     "missing",
		"A\x00b":                 "control",
		strings.Repeat("x", 101): "at most",
	} {
		if _, err := CheckName("account's name", name); err == nil || !strings.Contains(err.Error(), words) || CodeOf(err) != Invalid {
			t.Errorf("%q: %v, want %q", name, err, words)
		}
	}
	for name, kept := range map[string]string{
		" Ada  Lovelace ": "Ada Lovelace", "José": "José", "Жанна": "Жанна", "Ελένη": "Ελένη", "田中さん": "田中さん", "Tanaka 田中": "Tanaka 田中",
		"محمد": "محمد", "דוד": "דוד", "Bay 9": "Bay 9", "O'Neill-Ç": "O'Neill-Ç", "김 Kim": "김 Kim",
	} {
		if got, err := CheckName("account's name", name); err != nil || got != kept {
			t.Errorf("%q is kept as %q, %v", name, got, err)
		}
	}
}

func TestNamesThatLookAlikeHaveOneSkeleton(t *testing.T) {
	for _, p := range [][2]string{{"Ada", "АДА"}, {"AI", "Al"}, {"Al", "A1"}, {"Bob", "B0b"}, {"Ernie", "Emie"}, {"ора", "opa"}, {"ＡＤＡ", "ada"},
		{"Gail Moss", "ɡail moss"}, {"Gail Moss", "gɑil moss"}, {"Olga", "ᴏlga"}, {"operator", "орегатог"}, {"copy", "сору"}, {"hou", "հօս"}} {
		same := Skeleton(p[0]) == Skeleton(p[1])
		if want := p[1] != "АДА"; same != want { // Cyrillic Д is no Latin letter's double
			t.Errorf("%q and %q: alike %v", p[0], p[1], same)
		}
	}
	for _, p := range [][2]string{{"Ada", "Ida"}, {"Jose", "José"}, {"Bay 1", "Bay 2"}, {"Ben", "Beth"}} {
		if Skeleton(p[0]) == Skeleton(p[1]) {
			t.Errorf("%q and %q are taken for one", p[0], p[1])
		}
	}
}
