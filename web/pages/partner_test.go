package pages_test

import (
	"fmt"
	"html"
	"net/url"
	"strings"
	"testing"
	"time"

	"needlepace/book"
	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/webtest"
)

// The form keeps what is agreed with a partner; the order's page tells it and offers no
// run sheet of the line; nobody who may not see money reads what the partner asks.
func TestThePagesOfALineThatAPartnerMakes(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	a.Account("Olu", shop.Operator)
	a.SignIn("Ada")
	if err := a.Shop.LoadDemo(t.Context(), func(float64, string) {}); err != nil {
		t.Fatal(err)
	}
	design, err := a.Shop.Designs.Find(t.Context(), "gull-cap.dst")
	if err != nil {
		t.Fatal(err)
	}
	day := func(n int) string { return a.Shop.Now().AddDate(0, 0, n).Format(time.DateOnly) }
	in := url.Values{"customer": {"Gull"}, "agreed": {"1"}, "together": {"1"}, "purchase_order": {"LQ 88"},
		"line[0].design": {design.ID}, "line[0].quantity": {"12"}, "line[0].partner": {"Netherby"}, "line[0].partner_days": {"9"},
		"line[0].partner_price": {"13.77"}, "line[1].design": {design.ID}, "line[1].quantity": {"6"}}
	if status, body := a.Page("/orders", in); status != 303 {
		t.Fatalf("status %d: %s", status, body)
	}
	find := func() *book.Order {
		return webtest.Into[struct{ Orders []*book.Order }](a.Send("GET", "/orders?search=LQ", nil).OK(200)).Orders[0]
	}
	o := find()
	if p := o.Lines[0].Partner; p.Name != "Netherby" || p.Days != 9 || p.Price.String() != "13.77" || !o.Together {
		t.Fatalf("kept: %+v, together %v", p, o.Together)
	}
	at := fmt.Sprintf("/orders/%d", o.Number)
	a.Finish(a.Send("POST", "/plan", map[string]any{"moves": 1000}), "PlanTold")
	says := func(path, what string, yes bool) {
		t.Helper()
		status, body := a.Page(path, nil)
		if has := strings.Contains(html.UnescapeString(body), what); status != 200 || has != yes {
			t.Errorf("%s, status %d, says %q: %v", path, status, what, has)
		}
	}
	says(at, "Netherby makes it: it goes there", true)
	says(at, "all lines leave in one delivery", true)
	says(at, at+"/runsheet?line=1", false)
	says(at, at+"/record?line=1", false)
	says(at+"/change", "13.77", true)

	// Sent, then back: all its pieces are made.
	in.Set("version", fmt.Sprint(o.Version))
	in.Set("line[0].line", "1")
	in.Set("line[1].line", "2")
	in.Set("line[0].partner_sent", day(0))
	in.Set("line[0].partner_back", day(0))
	in.Del("agreed")
	if status, body := a.Page(at, in); status != 303 {
		t.Fatalf("status %d: %s", status, body)
	}
	if o = find(); o.Lines[0].Good != 12 || o.State != book.Sewing {
		t.Errorf("back: %d made, the order is %s", o.Lines[0].Good, o.State)
	}
	says(at, "Netherby made it; it is back", true)

	// A design without a file is kept with what was said, and its file takes its place.
	if status, body := a.Page("/orders/rough?width=88&height=94", url.Values{"width": {"88"}, "height": {"94"}, "customer": {"LQ rough"}, "quantity": {"40"}}); status != 303 {
		t.Fatalf("status %d: %s", status, body)
	}
	all := webtest.Into[struct{ Orders []*book.Order }](a.Send("GET", "/orders?search=rough", nil).OK(200)).Orders
	if len(all) != 1 || len(all[0].Roughs) != 1 || all[0].Roughs[0].Price == nil {
		t.Fatalf("kept: %+v", all)
	}
	x := all[0]
	rough := fmt.Sprintf("/orders/%d", x.Number)
	says("/orders", "no file yet", true)
	says(rough, "about", true)
	a.Send("POST", rough+"/state", map[string]any{"to": "agreed"}).Fails(422, shop.Invalid, "no stitch file yet")
	says(rough, "A piece was to cost about", true)
	a.SignIn("Olu")
	says(rough, "A piece was to cost about", false)
	if r := webtest.Into[struct{ Order book.Order }](a.Send("GET", rough, nil).OK(200)).Order.Roughs; len(r) != 1 || r[0].Price != nil {
		t.Errorf("an operator sees %+v", r)
	}
	a.SignIn("Ada")
	if status, body := a.Page(rough+"/rough", url.Values{"version": {"1"}, "rough": {"1"}, "design": {design.ID}}); status != 303 {
		t.Fatalf("status %d: %s", status, body)
	}
	says(rough, "it has 1,454 stitches; about", true)
	says(rough+"/quote", "Line 1, before there was a file: it has 1,454 stitches", true)
	a.SignIn("Olu")
	for _, path := range []string{"/orders?search=LQ", at, at + "/history", "/plan", "/today"} {
		if body := string(a.Send("GET", path, nil).OK(200).Body); strings.Contains(body, "13.77") {
			t.Errorf("%s tells an operator what the partner asks: %s", path, body)
		}
	}
	says(at, "13.77", false)
}
