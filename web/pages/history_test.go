package pages

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

func TestTheWayBackFromAnUndoSaysNothingDone(t *testing.T) {
	for _, c := range []struct{ path, query, want string }{
		{"/plan/hours", "kept=1", "/plan/hours"}, {"/orders/1001", "new=1", "/orders/1001"},
		{"/settings", "kept=1&part=logo", "/settings?part=logo"}, {"/designs", "search=a+b&kept", "/designs?search=a+b"},
		{"/designs", "search=kept", "/designs?search=kept"}, {"/today", "", "/today"}, {"/designs", "a=%zz", "/designs?a=%zz"},
		{"/orders/table", "taken=2&already=0&left=1", "/orders/table"},
	} {
		if got := unsaid(c.path, c.query); got != c.want {
			t.Errorf("%s?%s leads back to %s, want %s", c.path, c.query, got, c.want)
		}
	}
}

// placed are what an address says of where one is, and not that something was done.
var placed = []string{"machine", "work", "next", "wrong", "wait", "token", "design", "line", "evidence"}

// Every way on from a form says something that is known: where one goes, or what was done, which
// the way back from an Undo leaves out.
func TestWhatAFormsWayOnSaysIsKnown(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	on, parameter := regexp.MustCompile(`\b(see|seeOr|seeIf)\(|return .*"[^"]*\?[a-z]+=`), regexp.MustCompile(`[?&]([a-z]+)=`)
	met := 0
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		for line := range strings.Lines(string(b)) {
			if !on.MatchString(line) {
				continue
			}
			for _, m := range parameter.FindAllStringSubmatch(line, -1) {
				if met++; !slices.Contains(saysDone, m[1]) && !slices.Contains(placed, m[1]) {
					t.Errorf("%s: is %s= something done, which is not so any more once it is taken back? %s", f, m[1], strings.TrimSpace(line))
				}
			}
		}
	}
	if met < 12 {
		t.Errorf("only %d are met", met)
	}
}
