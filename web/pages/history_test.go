package pages

import "testing"

func TestTheWayBackFromAnUndoSaysNothingDone(t *testing.T) {
	for _, c := range []struct{ path, query, want string }{
		{"/plan/hours", "kept=1", "/plan/hours"}, {"/orders/1001", "new=1", "/orders/1001"},
		{"/settings", "kept=1&part=logo", "/settings?part=logo"}, {"/designs", "search=a+b&kept", "/designs?search=a+b"},
		{"/designs", "search=kept", "/designs?search=kept"}, {"/today", "", "/today"}, {"/designs", "a=%zz", "/designs?a=%zz"},
	} {
		if got := unsaid(c.path, c.query); got != c.want {
			t.Errorf("%s?%s leads back to %s, want %s", c.path, c.query, got, c.want)
		}
	}
}
