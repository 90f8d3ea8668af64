package pages_test

import (
	"fmt"
	"html"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/web"
	"needlepace/web/webtest"
)

// What is refused is told on the page that it was pressed on, with what was
// typed there.
// addresses are where a page leads with a query: its tables, its pictures.
var addresses = regexp.MustCompile(`href="([^"]*[?](?:[^"]*;)?(?:csv|picture)=[^"]*)"`)

func TestWhatIsRefusedIsToldWhereItWasPressed(t *testing.T) {
	a := webtest.NewSample(t, web.Options{})
	ctx := t.Context()
	design, err := a.Shop.Designs.Find(ctx, "gull-cap.dst")
	if err != nil {
		t.Fatal(err)
	}
	m, err := a.Shop.Machines.Find(ctx, "Gannet")
	if err != nil {
		t.Fatal(err)
	}
	quote, err := a.Shop.KeepQuote(ctx, ask.QuoteQuestion{Now: a.Shop.Now(), Order: "1006"}, nil, "")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Shop.MakePlan(ctx, ask.PlanQuestion{Now: a.Shop.Now(), Moves: 50}, ""); err != nil {
		t.Fatal(err)
	}
	plan, err := a.Shop.Plans.Last(ctx)
	if err != nil {
		t.Fatal(err)
	}
	lot := plan.Lots[0]
	at := fmt.Sprintf("%d/%d@%s", lot.Number, lot.Line, lot.MachineID)
	for _, c := range []struct{ path, form, title, says, kept string }{
		{"/orders/1001/state", "to=delivered&note=gone+already", "Order 1001", "cannot become delivered", `value="gone already"`},
		{"/orders/1001/state", "to=sewing&version=77", "Order 1001", "changed meanwhile", ""},
		{"/orders/1006/quotes/" + quote.ID + "/accept", "version=77", "Quote 1006-1", "somebody changed the order", ""},
		{"/orders/1006/quotes/" + quote.ID + "/accept", "", "Quote 1006-1", "version is missing", ""},
		{"/machines/" + m.ID + "/undo", "base=1", "Gannet", "nothing to undo", ""},
		{"/machines/" + m.ID + "/undo", "base=7", "Gannet", "", ""},
		{"/machines/" + m.ID + "/undo", "base=1&to=9", "Gannet", "no sheet version 9", ""},
		{"/plan/hold", "lot=none&to=" + m.ID + "&place=1", "Plan", "not where it was", ""},
		{"/plan/hold", "place=1&to=none&lot=" + url.QueryEscape(at), "Plan", "machine", ""},
		{"/plan/hold", "place=x&to=" + m.ID + "&lot=" + url.QueryEscape(at), "Plan", "marked", ""},
		{"/designs/" + design.ID + "/mend?machine=" + m.ID, "seconds=5000", "Audit of Gull over the swell", "up to 600 seconds", `value="5000"`},
		{"/designs/" + design.ID + "/mend?machine=" + m.ID, "seconds=long&keep_colours=1", "Audit of Gull over the swell", "give a number", `value="long"`},
		{"/designs/" + design.ID + "/mend?machine=" + m.ID, "format=pec&seconds=2", "Audit of Gull over the swell", "no .pec file can be written", `value="2"`},
		{"/designs/mend", "design=" + design.ID + "&machine=" + m.ID + "&format=svg&seconds=2", "Mend many designs", "no .svg file can be written", `value="2"`},
		{"/settings/accounts/none", "role=owner", "Settings", "", ""},
		{"/machines/" + m.ID + "/runs/none/remove", "", "Gannet", "", ""},
		{"/machines/" + m.ID + "/learn", "", "Gannet", "", ""},
	} {
		form, err := url.ParseQuery(c.form)
		if err != nil {
			t.Fatal(err)
		}
		status, body := a.Page(c.path, form)
		title, _, _ := strings.Cut(body[strings.Index(body, "<title>")+7:], "</title>")
		told, _, _ := strings.Cut(mainOf(body), `class="answer"`)
		if status != 422 || !strings.HasPrefix(title, c.title) || !strings.Contains(strings.ToLower(mainOf(body)), strings.ToLower(c.says)) ||
			!strings.Contains(body, `role="alert"`) || !strings.Contains(body, c.kept) {
			t.Errorf("%s %s: status %d, title %q, told %q; want %q and %q", c.path, c.form, status, title, told, c.says, c.kept)
		}
		for _, to := range addresses.FindAllStringSubmatch(body, -1) {
			if status, answer := a.Page(html.UnescapeString(to[1]), nil); status != 200 {
				t.Errorf("%s %s: its page leads to %s: %d, %.200s", c.path, c.form, to[1], status, mainOf(answer))
			}
		}
	}
	if status, body := a.Page("/orders/none/state", url.Values{"to": {"agreed"}}); status != 404 || !strings.Contains(body, "There is no order") {
		t.Errorf("an order that is not there: %d %.300s", status, mainOf(body))
	}
}
