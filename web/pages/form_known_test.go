package pages_test

import (
	"bytes"
	"cmp"
	"fmt"
	"html"
	"image"
	"image/png"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/shop/accounts"
	"needlepace/shop/visits"
	"needlepace/trial"
	"needlepace/web"
	"needlepace/web/webtest"
	"needlepace/words"
)

var (
	formTag  = regexp.MustCompile(`(?s)<form([^>]*)>(.*?)</form>`)
	fieldTag = regexp.MustCompile(`<(?:input|select|textarea|button)[^>]*>`)
	linkTag  = regexp.MustCompile(`<a [^>]*href="(/[^"#]*)`)
	attrOf   = func(tag, name string) string {
		m := regexp.MustCompile(`\b` + name + `="([^"]*)"`).FindStringSubmatch(tag)
		if m == nil {
			return ""
		}
		return html.UnescapeString(m[1])
	}
)

// unreadForms are the forms whose fields go to something else than a page's decoder.
var unreadForms = map[string]string{
	"/sign-in": "read by the sessions", "/settings/logo": "a file", "/classes/evidence": "files", "/orders/table": "a file, or a table that was pasted", "/api/v1/designs": "files for the API",
	"POST /visits/import": "a file", "POST /visits/{visit}/files": "files", "POST /visits/{visit}/trials/{trial}/returns": "files",
	"POST /visits/{visit}/calls/{call}/entries": "files",
}

// sentForms are what the forms of a page send, by where they send it: an address
// and the names of its fields.
func sentForms(body string) map[string][]string {
	out := map[string][]string{}
	for _, m := range formTag.FindAllStringSubmatch(body, -1) {
		to := ""
		if attrOf(m[1], "method") == "post" {
			to = attrOf(m[1], "action")
		}
		var names []string
		for _, tag := range fieldTag.FindAllString(m[2], -1) {
			if attrOf(tag, "formmethod") == "post" {
				to = cmp.Or(attrOf(tag, "formaction"), attrOf(m[1], "action"))
			}
			if name := attrOf(tag, "name"); name != "" {
				names = append(names, name)
			}
		}
		if to != "" {
			out[to] = append(out[to], names...)
		}
	}
	return out
}

// Templates and decoders agree: every field of every form of every page that
// links lead to is decoded by what the form is sent to, and a field that is not
// is refused by its name.
func TestEveryFieldOfEveryFormIsDecoded(t *testing.T) {
	door := webtest.Door(t)
	a := webtest.New(t, web.Options{Door: door})
	a.Phone(door) // which opens it
	ctx := t.Context()
	seen, sent := map[string]bool{}, map[string]bool{}
	_, body := a.Page("/", nil)
	if names := sentForms(body)["/begin"]; len(names) == 0 {
		t.Error("the first page asks nothing")
	} else if status, _ := a.Page("/begin", url.Values{"no_such_field": {"1"}}); status == 400 {
		sent["POST /begin"] = true
	}
	if err := a.Shop.LoadDemo(ctx, func(float64, string) {}); err != nil {
		t.Fatal(err)
	}
	ada := a.Account("Ada", shop.Owner)
	if _, err := a.Shop.Accounts.SignIn(ctx, "Ada", webtest.Password, accounts.Browser{}); err != nil {
		t.Fatal(err)
	}
	if _, _, err := a.Shop.Accounts.MakeToken(ctx, ada, "till", shop.Operator, time.Now().AddDate(1, 0, 0)); err != nil {
		t.Fatal(err)
	}
	if status, body := a.Page("/settings/phones", url.Values{"name": {"Bay 2"}, "role": {"operator"}}); status != 303 && status != 200 {
		t.Fatalf("a phone: %d, %s", status, mainOf(body))
	}
	quote, err := a.Shop.KeepQuote(ctx, ask.QuoteQuestion{Now: a.Shop.Now(), Order: "1006"}, nil, "")
	if err != nil {
		t.Fatal(err)
	}
	// Orders with all that an order's page has forms for.
	orders, _, err := a.Shop.Orders.List(ctx, shop.OrderQuery{States: []book.OrderState{book.Agreed, book.Requested}})
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range orders {
		o.Lines[0].Deliveries = []book.Delivery{{Day: words.NewDay(2026, 3, 2), Pieces: 1}}
		if _, _, err := a.Shop.ChangeOrder(ctx, *o, ""); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := a.Shop.MakePlan(ctx, ask.PlanQuestion{Now: a.Shop.Now(), Moves: 50}, ""); err != nil {
		t.Fatal(err)
	}
	p, err := a.Shop.Plans.Last(ctx)
	if err != nil {
		t.Fatal(err)
	}
	lot := p.Lots[slices.IndexFunc(p.Lots, func(l book.PlanLot) bool { return l.Line == 2 })]
	m, err := a.Shop.Machines.Get(ctx, lot.MachineID)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Shop.Machines.ChangeSheet(ctx, m.ID, m.Version, string(m.Sheet.TOML()), "again", ""); err != nil {
		t.Fatal(err)
	}
	others, err := a.Shop.Classes.Evidence(ctx)
	if err != nil || len(others) < 2 {
		t.Fatalf("%d sheets of other shops: %v", len(others), err)
	}
	if _, _, err := a.Shop.KeepClass(ctx, act.Pooling{Evidence: []string{others[0].ID, others[1].ID}}); err != nil {
		t.Fatal(err)
	}
	design := lot.DesignID
	runs := []shop.Run{{DesignID: design, SetSpeed: 700, Seconds: 1125, Date: words.NewDay(2026, 3, 2)}}
	if _, err := a.Shop.Timings.AddRuns(ctx, m.ID, runs); err != nil {
		t.Fatal(err)
	}
	if _, err := a.Shop.Timings.AddHeard(ctx, &book.Heard{MachineID: m.ID, DesignID: design, Recording: "r", SetSpeed: 700, Stitches: 9}, runs); err != nil {
		t.Fatal(err)
	}
	move := url.Values{"to": {m.ID}, "place": {"1"}, "lot": {fmt.Sprintf("%d/%d@%s", lot.Number, lot.Line, lot.MachineID)}}
	part := book.Report{OrderID: lot.OrderID, Line: lot.Line, MachineID: lot.MachineID, Good: 2, Breaks: -1}
	if _, err := a.Shop.Record(ctx, part, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	if _, _, err := a.Shop.Deliver(ctx, book.HandOver{OrderID: lot.OrderID, Line: lot.Line, Pieces: 1}, 0, ""); err != nil {
		t.Fatal(err)
	}
	rough := ask.RoughQuestion{Width: 80, Height: 60}
	waits, err := a.Shop.KeepRough(ctx, act.RoughKeeping{RoughQuestion: rough, New: book.Order{Customer: "Quay", Weight: 1}}, "")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Shop.Lists.Keep(ctx, "", shop.List{Of: shop.ListOfDesigns, Name: "Small", Query: "sort=size"}); err != nil {
		t.Fatal(err)
	}
	record := fmt.Sprintf("/orders/%d/record?line=%d", lot.Number, lot.Line)
	pages := []string{"/", "/classes?evidence=" + others[0].ID, "/settings", "/settings/phones", "/time/new", "/plan/hours", "/plan/try", "/orders/new", "/sign-in", "/machines/" + m.ID + "/testpiece",
		"/designs/" + design + "/audit", "/designs/" + design + "/listen", "/designs/mend?design=" + design, "/plan?" + move.Encode(), "/orders/1006/quotes/" + quote.ID, record, fmt.Sprintf("/orders/%d", lot.Number), "/orders/rough?width=80&height=60", "/designs?sort=-size", "/designs?sort=size", fmt.Sprintf("/orders/%d", waits.Number), "/visits"}
	pages = append(pages, visitsWithAll(a, design)...)
	named := slices.Clone(pages) // each, though another of its kind was seen
	for len(pages) > 0 {
		path := pages[0]
		pages = pages[1:]
		req, err := http.NewRequest("GET", path, nil)
		if err != nil {
			t.Fatal(err)
		}
		kind := a.Server.Match(req)
		if seen[kind] && kind != "GET /plan" && !slices.Contains(named, path) || seen[path] || strings.HasPrefix(path, "/api/") || strings.HasPrefix(path, "/assets/") {
			continue
		}
		seen[kind], seen[path] = true, true
		status, body := a.Page(path, nil)
		if status != 200 || !strings.Contains(body, "<main") {
			continue
		}
		for _, l := range linkTag.FindAllStringSubmatch(body, -1) {
			pages = append(pages, html.UnescapeString(l[1]))
		}
		for to, names := range sentForms(body) {
			at, _, _ := strings.Cut(to, "?")
			req, err := http.NewRequest("POST", at, nil)
			if err != nil {
				t.Fatal(err)
			}
			route := a.Server.Match(req)
			unread := unreadForms[at] != "" || unreadForms[route] != ""
			if !strings.HasPrefix(route, "POST ") && !unread {
				t.Errorf("%s: a form is sent to %s, which is %q", path, to, route)
			}
			sent[route] = true
			if unread || len(names) == 0 {
				continue
			}
			form := url.Values{"no_such_field": {"1"}}
			for _, n := range names {
				form.Set(n, "1")
			}
			status, answer := a.Page(to, form)
			if want := `field "no_such_field", which`; status != 400 || !strings.Contains(html.UnescapeString(answer), want) {
				t.Errorf("%s, %s with %q: status %d, want %s in %.400s", path, to, names, status, want, mainOf(answer))
			}
		}
	}
	for _, r := range a.Server.Routes() {
		if r.Method == "POST" && !strings.HasPrefix(r.Path, "/api/") && !sent[r.Pattern()] && !slices.Contains(elsewhere, r.Pattern()) {
			t.Errorf("no page that was seen has a form for %s", r.Pattern())
		}
	}
}

// visitsWithAll has a visit with all that its pages have forms for, and one that is put away. It gives their
// pages, that of the first one's trial, and that on which it is graded.
func visitsWithAll(a *webtest.App, design string) []string {
	a.T.Helper()
	ctx := a.T.Context()
	must := func(err error) {
		a.T.Helper()
		if err != nil {
			a.T.Fatal(err)
		}
	}
	away, err := a.Shop.BeginVisit(ctx, "Quay", "a client", "")
	must(err)
	must(a.Shop.Visits.PutAway(ctx, away.ID, true))
	v, err := a.Shop.BeginVisit(ctx, "Bay", "a client", "")
	must(err)
	must(a.Shop.Visits.Put(ctx, v.ID, "", visits.File{Name: "notes/a.txt", As: []byte("seen")}))
	_, err = a.Shop.KeepTrial(ctx, v.ID, "bay", "", fmt.Appendf(nil, `name = "Bay"
cloth = "twill"
thread = "polyester"
needle = "75"
repeats = 2
place = [{name = "bay"}]
design = [{name = "gull", file = "shop:%s"}]
machine = [{name = "Ours", sheet = "compact-8", place = "bay", speed = 700}, {name = "Offer", sheet = "single-15-light", place = "bay", speed = 900}]
`, design), nil)
	must(err)
	var photo bytes.Buffer
	must(png.Encode(&photo, image.NewNRGBA(image.Rect(0, 0, 60, 40))))
	refused, err := a.Shop.TakeReturns(ctx, v.ID, "bay", "", []trial.Given{{Name: "bay-1.png", Bytes: photo.Bytes()},
		{Name: "bay.csv", Bytes: []byte("place,turn,time\nbay,1,10:20\nbay,2,9:57\nbay,3,10:21\nbay,4,9:56\n")}})
	must(err)
	if len(refused) > 0 {
		a.T.Fatal(refused)
	}
	call := fmt.Appendf(nil, `name = "Gull"
adviser = "Bay"
cloth = "twill"
thread = "polyester"
needle = "75"
design = [{name = "gull", file = "shop:%s"}]
`, design)
	for _, name := range []string{"gull", "shut"} {
		_, err = a.Shop.KeepCall(ctx, v.ID, name, "", call, nil)
		must(err)
	}
	page, err := a.Shop.Visits.OpenCallPage(ctx, v.ID, "gull", 0)
	must(err)
	at := "/visits/" + v.ID
	return []string{at, at + "/call", at + "/calls/gull", at + "/calls/shut", "/call/" + page.Code, "/visits/" + away.ID, at + "/trials/bay", at + "/trials/bay/grade?grader=Nan"}
}

// elsewhere is what is sent from pages that the walk does not reach. None of its
// forms has a field, but for the way back of work that is stopped, the place to
// go on to after signing in, and the code of a phone: they are read by name; and
// one's own password, which stands only where somebody is signed in
// (TestTheFormOfOnesOwnPassword in package web), and what leads to other shops (TestWhoWorksInSeveralShopsSignsInOnce).
var elsewhere = []string{
	"POST /phone", "POST /sign-in", "POST /sign-out", "POST /designs/{design}/restore", "POST /designs/{design}/mended",
	"POST /designs/mended",
	"POST /recordings/{recording}/keep", "POST /recordings/{recording}/drop", "POST /machines/{machine}/heard/{heard}/remove",
	"POST /machines/{machine}/learned", "POST /machines/{machine}/learned/{slip}", "POST /machines/{machine}/testpiece/keep", "POST /settings/logo/remove",
	"POST /demo", "POST /demo/out", "POST /work/{work}/stop", "POST /settings/sign-ins/password", "POST /settings/sign-ins/end", "POST /shops",
}
