package pages_test

import (
	"fmt"
	"html"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/webtest"
	"needlepace/words"
)

// Lists are sorted, narrowed down and kept.
func TestLists(t *testing.T) {
	a := webtest.NewSample(t, web.Options{})
	t.Run("by their heads", func(t *testing.T) { sortedByHeads(t, a) })
	t.Run("by state", func(t *testing.T) { narrowedByState(t, a) })
	t.Run("kept", func(t *testing.T) { listsAreKept(t, a) })
	t.Run("kept of what is no more", func(t *testing.T) { keptOfWhatIsNoMore(t, a) })
	t.Run("refused in their language", func(t *testing.T) { refusedInTheirs(t, a) })
}

var (
	headTag  = regexp.MustCompile(`(?s)<th role="columnheader"[^>]*>\s*<a href="([^"]*)">`)
	firstCol = regexp.MustCompile(`(?s)<tr role="row">.*?<th role="rowheader"[^>]*>\s*<a href="[^"]*">([^<]*)`)
)

// rowsOf are the first words of the rows of a page's list.
func rowsOf(body string) (out []string) {
	for _, m := range firstCol.FindAllStringSubmatch(body, -1) {
		out = append(out, html.UnescapeString(m[1]))
	}
	return out
}

// Every list is sorted by its heads, by its address alone: pressed once and once more it
// stands in two orders, one the other way round, and each says which.
func sortedByHeads(t *testing.T, a *webtest.App) {
	for at, heads := range map[string]int{"/designs": 5, "/orders": 6, "/machines": 4, "/compare": 2, "/floor": 2} {
		_, body := a.Page(at, nil)
		all := headTag.FindAllStringSubmatch(mainOf(body), -1)
		if len(all) != heads || strings.Count(body, "aria-sort=") != 1 {
			t.Errorf("%s: %d heads are pressed, want %d; %d say how it is sorted", at, len(all), heads, strings.Count(body, "aria-sort="))
		}
		usual := rowsOf(body)
		for _, h := range all {
			orders := map[string]bool{}
			to := at + html.UnescapeString(h[1])
			for range 2 {
				status, body := a.Page(to, nil)
				sorted := regexp.MustCompile(`aria-sort="(\w+)"[^>]*>\s*<a href="([^"]*)"`).FindStringSubmatch(body)
				got := rowsOf(body)
				if status != 200 || sorted == nil || len(got) != len(usual) {
					t.Fatalf("%s: status %d, %d rows of %d", to, status, len(got), len(usual))
				}
				orders[sorted[1]] = true
				to = at + html.UnescapeString(sorted[2])
			}
			if len(orders) != 2 {
				t.Errorf("%s by %s twice: %v", at, h[1], orders)
			}
		}
	}
	_, body := a.Page("/designs?sort=stitches", nil)
	up := rowsOf(body)
	_, body = a.Page("/designs?sort=-stitches", nil)
	down := rowsOf(body)
	slices.Reverse(down)
	if up[0] != "harbour-jacket-back.dst" || !slices.Equal(up, down) {
		t.Errorf("%q, backwards %q", up, down)
	}
	if status, body := a.Page("/orders?sort=colour", nil); status != 422 || !strings.Contains(body, "number or customer") {
		t.Errorf("an order that there is not: status %d, %.300s", status, mainOf(body))
	}
	// A table of an answer is sorted so too.
	machine, err := a.Shop.Machines.Find(t.Context(), "Skipper")
	if err != nil {
		t.Fatal(err)
	}
	var first []string
	known := regexp.MustCompile(`(?s)id="t-known".*?<th scope="col" class="sorted" aria-sort="(\w+)".*?<tbody>.*?<th[^>]*>([^<]*)`)
	for _, sorted := range []string{"known.constant", "-known.constant"} {
		_, body = a.Page("/machines/"+machine.ID+"?sorted="+sorted, nil)
		m := known.FindStringSubmatch(body)
		if m == nil {
			t.Fatal(sorted, regexp.MustCompile(`sorted=-?known\.\w+`).FindAllString(body, -1))
		}
		first = append(first, m[1]+" "+m[2])
	}
	// Unsorted it stands in parts: what is known of the machine itself in the open, first.
	_, body = a.Page("/machines/"+machine.ID, nil)
	own, shaft := strings.Index(body, `id="t-known-own"`), strings.Index(body, `id="t-known-shaft"`)
	if own < 0 || shaft < own || strings.LastIndex(body[:own], "<details") > strings.LastIndex(body[:own], "</details>") || strings.LastIndex(body[:shaft], "<details") < own {
		t.Errorf("what is known stands at %d, what is assumed of the shaft at %d", own, shaft)
	}
	if !strings.HasPrefix(first[0], "ascending") || !strings.HasPrefix(first[1], "descending") || first[0][9:] >= first[1][10:] {
		t.Errorf("%q", first)
	}
}

// Designs are narrowed down by state: what is in an open order, timed, warned of.
func narrowedByState(t *testing.T, a *webtest.App) {
	ctx := t.Context()
	_, all, err := a.Shop.Designs.List(ctx, shop.DesignQuery{})
	if err != nil {
		t.Fatal(err)
	}
	oars, machine := a.DemoDesign("saltmere-oars.dst"), a.Machine("compact-8", "Bay 9")
	if _, err := a.Shop.Timings.AddRuns(ctx, machine, []shop.Run{{DesignID: oars.ID, SetSpeed: 700, Seconds: 412, Date: words.NewDay(2026, 3, 2)}}); err != nil {
		t.Fatal(err)
	}
	n := map[string]int{}
	for _, s := range shop.DesignStates {
		page, total, err := a.Shop.Designs.List(ctx, shop.DesignQuery{State: s})
		if err != nil {
			t.Fatal(err)
		}
		n[s] = total
		_, body := a.Page("/designs?state="+s, nil)
		if got := len(rowsOf(body)); got != len(page) || total > 0 && !strings.Contains(body, fmt.Sprintf(`value="%s" selected`, s)) {
			t.Errorf("%s: the page has %d, the list %d", s, got, total)
		}
	}
	if n[shop.Timed]+n[shop.Untimed] != all || n[shop.Ordered] == 0 || n[shop.Ordered] == all || n[shop.Timed] != 1 {
		t.Errorf("of %d designs %v", all, n)
	}
}

// A list is kept under a name, opened by one press, renamed, taken away, each taken back.
func listsAreKept(t *testing.T, a *webtest.App) {
	send := func(at string, form url.Values, status int) string {
		t.Helper()
		got, body := a.Page(at, form)
		if got != status {
			t.Fatalf("%s: status %d, want %d: %.400s", at, got, status, mainOf(body))
		}
		return body
	}
	names := func() (out []string) {
		all, err := a.Shop.Lists.All(t.Context(), "")
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range all {
			out = append(out, l.Name)
		}
		return out
	}
	undo := func() {
		t.Helper()
		last, _, err := a.Shop.Changes.List(t.Context(), shop.Owner, shop.ChangeQuery{Limit: 1})
		if err != nil || last[0].Thing != "list" {
			t.Fatal(last, err)
		}
		if _, err := a.Shop.Changes.Undo(t.Context(), shop.Owner, last[0].ID); err != nil {
			t.Fatal(err)
		}
	}
	const query = "search=gull&sort=-size"
	if body := send("/designs?"+query, nil, 200); !strings.Contains(body, `action="/lists"`) {
		t.Error("a list that was asked for cannot be kept")
	}
	bad := send("/lists", url.Values{"of": {"designs"}, "query": {query}, "name": {" "}}, 422)
	if !strings.Contains(bad, "It is missing: something must stand here") || !strings.Contains(bad, `value="gull"`) {
		t.Errorf("without a name: %.600s", mainOf(bad))
	}
	send("/lists", url.Values{"of": {"designs"}, "query": {query}, "name": {"Gulls"}}, 303)
	send("/lists", url.Values{"of": {"designs"}, "query": {"state=timed"}, "name": {"GULLS"}}, 422)
	send("/lists", url.Values{"of": {"orders"}, "query": {"state=sewing"}, "name": {"Gulls"}}, 303)
	body := send("/designs?"+query, nil, 200)
	at := regexp.MustCompile(`action="(/lists/[0-9a-z]+)"`).FindStringSubmatch(body)
	if at == nil || !strings.Contains(body, `href="/designs?search=gull&amp;sort=-size" aria-current="page"`) {
		t.Fatalf("the kept list is not there: %.900s", mainOf(body))
	}
	send(at[1], url.Values{"of": {"designs"}, "query": {query}, "name": {"Large gulls"}}, 303)
	if got := names(); !slices.Equal(got, []string{"Large gulls", "Gulls"}) {
		t.Errorf("%q", got)
	}
	undo()
	send(at[1]+"/remove", url.Values{}, 303)
	if got := names(); !slices.Equal(got, []string{"Gulls"}) {
		t.Errorf("%q", got)
	}
	undo()
	if got := names(); !slices.Equal(got, []string{"Gulls", "Gulls"}) {
		t.Errorf("taken back: %q", got)
	}
	if _, err := a.Shop.Lists.Rename(t.Context(), "somebody", strings.TrimPrefix(at[1], "/lists/"), "mine"); shop.CodeOf(err) != shop.NotFound {
		t.Errorf("another's list: %v", err)
	}
}

// Why the floor's record was refused is said in the language that was chosen: what cannot
// be read, what makes no sense, and that something is marked.
func refusedInTheirs(t *testing.T, a *webtest.App) {
	order, machines := "/orders/1001/record", url.Values{}
	all, err := a.Shop.Machines.List(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	machines.Set("machine", all[0].ID)
	for _, c := range []struct {
		tag   string
		form  map[string]string
		wants []string
	}{
		{"es", map[string]string{"good": "0"}, []string{"No hay nada", "No se guard"}},
		{"pt", map[string]string{"good": "2", "from": "07:00"}, []string{"falta uma das horas"}},
		{"tr", map[string]string{"good": "x"}, []string{"bir tam sayı yazın"}},
		{"vi", map[string]string{"good": "9999"}, []string{"của đơn khác"}},
		{"en", map[string]string{"good": "x"}, []string{"give a whole number"}},
	} {
		form := url.Values{"machine": machines["machine"]}
		for k, v := range c.form {
			form.Set(k, v)
		}
		a.Page("/language", url.Values{"language": {c.tag}, "next": {"/"}})
		status, body := a.Page(order, form)
		for _, want := range c.wants {
			if body := html.UnescapeString(body); status != 422 || !strings.Contains(strings.ToLower(body), strings.ToLower(want)) {
				t.Errorf("%s: status %d, no %q in %.900s", c.tag, status, want, mainOf(body))
			}
		}
	}
}

// A kept list may ask for what there is no more, as one of an older version: its page says so, leads back to the list and
// lets it be taken away.
func keptOfWhatIsNoMore(t *testing.T, a *webtest.App) {
	for _, of := range []string{"designs", "orders"} {
		at := "/" + of + "?state=nonesuch"
		a.Page("/lists", url.Values{"of": {of}, "query": {"state=nonesuch"}, "name": {"Old"}})
		status, body := a.Page(at, nil)
		remove := regexp.MustCompile(`<form method="post" action="(/lists/\w+/remove[^"]*)"`).FindStringSubmatch(mainOf(body))
		if status != 422 || remove == nil || !strings.Contains(mainOf(body), `href="/`+of+`"`) {
			t.Errorf("%s: status %d: %s", at, status, mainOf(body))
			continue
		}
		a.Page(remove[1], url.Values{})
		if status, body = a.Page("/"+of, nil); status != 200 || strings.Contains(body, ">Old</a>") {
			t.Errorf("taken away: status %d", status)
		}
		if _, body = a.Page(at, nil); strings.Contains(body, "/remove") {
			t.Errorf("%s: it is not taken away", of)
		}
	}
}
