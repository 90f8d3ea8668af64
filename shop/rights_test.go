package shop

import (
	"os"
	"strings"
	"testing"

	"needlepace/words"
)

func TestTheDocsSayWhatTheRolesMay(t *testing.T) {
	b, err := os.ReadFile("../docs/keeping-the-shop.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range []Role{Operator, Planner, Owner} {
		if line := "\n- " + string(r) + ": " + r.Own() + ".\n"; !strings.Contains(string(b), line) {
			t.Errorf("docs/keeping-the-shop.md lacks the line %q", line)
		}
	}
}

func TestEveryRightIsSaidOnceAndHigherRolesHaveIt(t *testing.T) {
	seen := map[Right]bool{}
	for _, r := range Rights {
		if seen[r.Right] || r.Right.Says().Raw() == "" || !r.Least.May(r.Least) {
			t.Errorf("%+v is said twice, without words or for no role", r)
		}
		seen[r.Right] = true
		if !Owner.Has(r.Right) || Operator.Has(r.Right) != (r.Least == Operator) || Planner.Has(r.Right) == (r.Least == Owner) {
			t.Errorf("%s: not had by the roles from %s up", r.Right, r.Least)
		}
	}
	if Role("king").May("queen") || Role("").May("") {
		t.Error("a role that is not known may what nobody has heard of")
	}
	if Planner.Has("nothing known") || !Owner.Has("nothing known") || Role("").Has(Look) || Role("king").Has(Look) {
		t.Error("a right or role that is not known lets somebody in")
	}
}

// Who has not got a right reads in their language what it is, and whom to ask.
func TestALackingRightIsSaidInEveryLanguage(t *testing.T) {
	for _, r := range Rights {
		if r.Least == Operator {
			continue
		}
		told := map[string]bool{}
		for _, l := range words.Languages() {
			w := &words.Writer{Language: l}
			err, ok := r.Right.Lacking().(*Error)
			if !ok || err.Code != Forbidden {
				t.Fatalf("%s: %v", r.Right, err)
			}
			text := err.In(w)
			if told[text] || !strings.Contains(text, r.Right.Says().Text(w)) || !strings.Contains(text, string(r.Least)) {
				t.Errorf("%s, %s: %s", l.Tag, r.Right, text)
			}
			told[text] = true
		}
	}
}
