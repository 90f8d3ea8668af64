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

// The form keeps the sample's days and the head of the papers; the order's page
// tells them, its run sheet warns, and neither page nor API begins the line.
func TestThePagesOfALineThatWaitsForItsApproval(t *testing.T) {
	a := webtest.NewSample(t, web.Options{})
	design, err := a.Shop.Designs.Find(t.Context(), "gull-cap.dst")
	if err != nil {
		t.Fatal(err)
	}
	machine := a.Machine("compact-8", "Whelk")
	day := func(n int) string { return a.Shop.Now().AddDate(0, 0, n).Format(time.DateOnly) }
	in := url.Values{"customer": {"Gull"}, "customer_address": {"Slipway 1\r\nPellsand"}, "purchase_order": {"LQ 88"}, "agreed": {"1"},
		"line[0].design": {design.ID}, "line[0].quantity": {"12"}, "line[0].approval_due": {day(9)},
		"line[0].sample_sent": {day(1)}}
	if status, body := a.Page("/orders", in); status != 303 {
		t.Fatalf("status %d: %s", status, body)
	}
	all := webtest.Into[struct{ Orders []*book.Order }](a.Send("GET", "/orders?search=LQ", nil).OK(200)).Orders
	if len(all) != 1 {
		t.Fatalf("%d orders are found by the customer's own number", len(all))
	}
	o := all[0]
	if l := o.Lines[0].Approval; l.Due.String() != day(9) || l.Sent.String() != day(1) || !l.Wanted() ||
		strings.Join(o.CustomerAddress, "|") != "Slipway 1|Pellsand" {
		t.Errorf("kept: %+v, %q", l, o.CustomerAddress)
	}
	at := fmt.Sprintf("/orders/%d", o.Number)
	says := func(path string, yes bool, what string) {
		t.Helper()
		status, body := a.Page(path, nil)
		if has := strings.Contains(html.UnescapeString(body), what); status != 200 || has != yes {
			t.Errorf("%s, status %d, says %q: %v", path, status, what, has)
		}
	}
	says(at, true, "The sample was sent")
	says(at, true, "their order LQ 88")
	says(at+"/change", true, "Slipway 1\nPellsand")
	says(at+"/record?line=1&machine="+machine, true, "its approval is expected")
	says(at+"/record?line=1&machine="+machine, false, at+"/start")
	says(at+"/runsheet?line=1&machine="+machine, true, "has not approved the sample")
	a.Send("POST", at+"/start", map[string]any{"line": 1, "machine": machine}).Fails(422, shop.Invalid, "not approved")

	in = url.Values{"version": {fmt.Sprint(o.Version)}, "customer": {"Gull"}, "line[0].line": {"1"}, "line[0].design": {design.ID},
		"line[0].quantity": {"12"}, "line[0].approval_due": {day(9)}, "line[0].approved": {day(0)}}
	if status, body := a.Page(at, in); status != 303 {
		t.Fatalf("status %d: %s", status, body)
	}
	says(at, true, "The sample is approved")
	says(at+"/runsheet?line=1&machine="+machine, false, "has not approved the sample")
	a.Send("POST", at+"/start", map[string]any{"line": 1, "machine": machine}).OK(200)
}
