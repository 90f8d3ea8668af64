package shop

import (
	"strings"
	"sync"
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

// lookalikes are the single letters that are taken for a Latin letter or a digit, after folding, by script: Latin, Cyrillic,
// Greek, Armenian, Cherokee, Coptic, Georgian. They are those of the Unicode Consortium's confusables.txt (UTS 39, as in
// Debian's python3-confusable-homoglyphs 3.2.0) and, from memory, some that are alike as capitals: т, в, н, к, м.
const lookalikes = "2:ƨꝛ 3:ȝɜʒꝫ 5:ƽ 8:ȣ 9:ꝯ a:ɑ b:ƅꞵ c:ᴄ e:ꬲ f:ẝꞙꬵ g:ƍɡᶃ j:ʝ l:ıǀɩɪ o:ᴏᴑꬽ r:ʀꭇꭈ s:ꜱ u:ʋᴜꞟꭎꭒ v:ᴠ w:ɯᴡ x:ꭓ y:ɣʏᶌỿꭚ " +
	"z:ᴢ " +
	"2:ꙅ 3:зӡ 6:б a:а b:вь c:с d:ԁ e:еҽ g:ԍ h:нһ j:ј k:к l:іӏꙇ m:м o:о p:р q:ԛ r:г s:ѕ t:т v:ѵ w:ѡԝ x:х y:уү " +
	"a:α b:β e:ε f:ϝ h:η j:ϳ k:κ l:ι m:μϻ n:ν o:οσ p:ρ r:ᴦ t:τ u:υ x:χ y:γ z:ζ " +
	"f:ք g:ց h:հ n:ոռ o:օ q:գզ s:տ u:ս w:ա " +
	"4:Ꮞ 6:Ꮾ a:Ꭺ b:ᏏᏴ c:Ꮯ d:ᎠᏧ e:Ꭼ g:ᏀᏳ h:ᎻᏂ j:Ꭻ k:Ꮶ l:ᎥᏞ m:Ꮇ p:Ꮲ r:ᎡᎱᏒ s:ᏕᏚ t:Ꭲ v:Ꮩ w:ᎳᏔ y:ᎩᎽ z:Ꮓ " +
	"2:ϩ 3:ⳍ 6:ⳓ 9:ⳋ c:ⲥ h:ⲏ k:ⲕ l:ⲓⳑ m:ⲙ n:ⲛ o:ⲟ p:ⲣ r:ⲅ t:ⲧ x:ⲭ y:ⲩ " +
	"o:ჿ y:ყ "

// looksLike maps what is seen to one letter for all that are taken for it.
var looksLike = sync.OnceValue(func() *strings.Replacer {
	pairs := []string{"0", "o", "1", "l", "i", "l", "|", "l", "rn", "m", "vv", "w"}
	for _, group := range strings.Fields(lookalikes) {
		latin, others, _ := strings.Cut(group, ":")
		for _, r := range others {
			pairs = append(pairs, string(r), latin)
		}
	}
	return strings.NewReplacer(pairs...)
})

// Skeleton is what a name looks like: two names with one skeleton are taken for
// each other, e.g. Ada in Latin and in Cyrillic letters, or Al and AI. It is not
// for people to read.
func Skeleton(name string) string {
	s := norm.NFKC.String(cases.Fold().String(norm.NFKC.String(name)))
	return looksLike().Replace(strings.Join(strings.Fields(s), " "))
}
