package shop

import (
	"os"
	"strings"
	"testing"
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
		if seen[r.Right] || r.Words == "" || !r.Least.May(r.Least) {
			t.Errorf("%+v is said twice, without words or for no role", r)
		}
		seen[r.Right] = true
		if r.Right.Words() != r.Words {
			t.Errorf("%s is said to be %q", r.Right, r.Right.Words())
		}
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
