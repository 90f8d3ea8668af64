package words

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// operators are the files that say what an operator reads at a machine: run sheet,
// record, timing, wall, and how a phone comes in.
var operators = []string{
	"runsheet.html", "record.html", "time.html", "timing.html", "wall.html", "phone_in.html", "sign-in.html", "error.html", "language.html",
	"run.js", "press.js", "queue.js", "record.js", "phones.js", "live.js",
	"runsheet_say.go", "runsheet.go", "ofrunsheet.go", "record.go", "time.go",
}

// notTheirs are keys in those files that operators do not meet.
var notTheirs = []string{}

// What operators read stands in every language, with the arguments that it has in
// English; and whatever stands there has them.
func TestOperatorsReadTheirLanguage(t *testing.T) {
	said, nouns := uses(t)
	need := map[string]bool{}
	for _, u := range said {
		if !slices.Contains(operators, filepath.Base(u.at.Filename)) {
			continue
		}
		for key := range English().phrases {
			if key == u.key || u.more && strings.HasPrefix(key, u.key) {
				need[key] = true
			}
		}
	}
	for _, u := range nouns {
		if slices.Contains(operators, filepath.Base(u.at.Filename)) && u.key != "" {
			need["count."+u.key] = true
		}
	}
	for key := range English().phrases { // why something was refused at the machine
		if strings.HasPrefix(key, "refused.") || strings.HasPrefix(key, "order-state.") {
			need[key] = true
		}
	}
	for _, key := range notTheirs {
		delete(need, key)
	}
	if len(need) < 250 || len(Languages()) < 5 {
		t.Fatalf("%d keys in %d languages were found", len(need), len(Languages()))
	}
	for _, l := range Languages()[1:] {
		for key := range need {
			if l.phrases[key] == nil {
				t.Errorf("%s.toml has no %s: %s", l.Tag, key, text(English().phrases[key].forms[0]))
			}
		}
		for key, p := range l.phrases {
			e := English().phrases[key]
			if e == nil {
				t.Errorf("%s.toml has %s, which nobody says", l.Tag, key)
				continue
			}
			shown := func(p *phrase) []string {
				return slices.DeleteFunc(p.args(), func(a string) bool { return a == p.by && !shows(p, a) })
			}
			if got, want := shown(p), shown(e); !slices.Equal(got, want) {
				t.Errorf("%s.toml: %s shows %v, in English %v", l.Tag, key, got, want)
			}
		}
	}
}

// shows reports whether some form of a phrase has the place of an argument.
func shows(p *phrase, arg string) bool {
	return slices.ContainsFunc(append(p.forms[:], p.none), func(parts []part) bool {
		return slices.ContainsFunc(parts, func(q part) bool { return q.arg == arg })
	})
}
