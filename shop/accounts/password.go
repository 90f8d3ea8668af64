package accounts

import (
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/trustelem/zxcvbn"

	"needlepace/shop"
)

const (
	minPassword = 10
	maxPassword = 512
	// guessable is how many guesses a password must stand: at a wait of a minute
	// between tries a million take two years (NIST SP 800-63B section 3.1.1.2, from memory, asks
	// to hold new passwords against those that are commonly used).
	guessable = 1e6
	// weighed is how much of a password is weighed: the time grows with the square
	// of its length.
	weighed = 64
)

// firstTried are words that are tried first here: the program's, and the word for password in the languages
// that the program has.
var firstTried = []string{"needlepace", "contraseña", "contrasena", "clave", "senha", "şifre", "sifre", "parola", "matkhau", "mật khẩu"}

// latestYears are years that the lists are too old to know as such.
var latestYears = regexp.MustCompile(`20[2-9]\d`)

// namesOf is a name as it may be written in a password: its words, and together in either order with what stands between
// words there.
func namesOf(name string) []string {
	out := strings.Fields(name)
	back := slices.Clone(out)
	slices.Reverse(back)
	for _, between := range []string{"", " ", ".", "-", "_"} {
		out = append(out, strings.Join(strings.Fields(name), between), strings.Join(back, between))
	}
	return out
}

// CheckPassword refuses a password that is short, or among the first that are
// tried: lists of common passwords, names and words with the usual figures and
// signs for letters, runs of keys, dates, repeats, and the person's own name
// (D. Wheeler, zxcvbn, USENIX Security 2016).
func CheckPassword(name, password string) error {
	if n := utf8.RuneCountInString(password); n < minPassword || len(password) > maxPassword {
		return shop.At("password",
			shop.Invalidf("the password has %d characters; it must have %d to %d", n, minPassword, maxPassword))
	}
	if !utf8.ValidString(password) {
		return shop.At("password", shop.Invalidf("the password is not UTF-8 text"))
	}
	head := []rune(password)
	if len(head) > weighed {
		head = head[:weighed]
	}
	weigh := latestYears.ReplaceAllString(string(head), "2012")
	if zxcvbn.PasswordStrength(weigh, append(namesOf(name), firstTried...)).Guesses < guessable {
		return shop.At("password", shop.Invalidf(
			"this password is among the first that are tried; take four words that do not belong together, or let a "+
				"password keeper make one"))
	}
	return nil
}
