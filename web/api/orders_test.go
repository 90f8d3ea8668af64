package api_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/api"
	"needlepace/web/webtest"
	"needlepace/words"
)

// An order from request to delivery by the API alone, every answer held
// against the description.
// orderOperations is a part of TestEveryOperation.
func orderOperations(t *testing.T) {
	a := webtest.NewSample(t, web.Options{})
	gannet, err := a.Shop.Machines.Find(t.Context(), "Gannet")
	if err != nil {
		t.Fatal(err)
	}
	six, err := a.Shop.Machines.Find(t.Context(), "Six Sisters")
	if err != nil {
		t.Fatal(err)
	}
	list := webtest.Into[api.OrderPage](a.Send("GET", "/orders?state=requested", nil).OK(200))
	if list.Total != 1 || list.Orders[0].State != book.Requested {
		t.Fatalf("the demo's week has %d requested orders", list.Total)
	}
	if a.Send("GET", "/plan", nil).OK(200); webtest.Into[api.PlanKept](a.Send("GET", "/plan", nil)).Plan != nil {
		t.Error("a plan before one was made")
	}
	a.Send("GET", "/plan/plan.ics", nil).Fails(404, shop.NotFound, "no plan yet")

	d, err := a.Shop.Designs.Find(t.Context(), "crew-names.dst")
	if err != nil {
		t.Fatal(err)
	}
	got := webtest.Into[api.OrderKept](a.Send("POST", "/orders", api.OrderNew{Customer: "Saltmere Chandlery", Lines: []api.OrderPart{{Design: d.ID, Quantity: 12, Placement: "left chest", Garment: "apron"}}}).OK(201))
	o := got.Order
	at := fmt.Sprintf("/orders/%d", o.Number)
	if k := webtest.Into[api.OrderKept](a.Send("GET", at, nil).OK(200)); k.Order.ID != o.ID || len(k.Notes) != 0 {
		t.Errorf("order %+v, notes %v", k.Order, k.Notes)
	}
	got = webtest.Into[api.OrderKept](a.Send("PUT", at, api.OrderNew{Customer: o.Customer, Base: o.Version, Lines: []api.OrderPart{{Line: 1, Design: d.ID, Quantity: 18, Placement: "left chest", Garment: "apron"}}}).OK(200))
	if l := got.Order.Lines[0]; l.Quantity != 18 || l.Garment != "apron" {
		t.Errorf("changed to %+v", l)
	}
	a.Send("PUT", at, api.OrderNew{Customer: o.Customer, Base: o.Version, Lines: []api.OrderPart{{Line: 1, Design: d.ID, Quantity: 5}}}).Fails(409, shop.Conflict, "changed meanwhile")

	rough := webtest.Into[book.Order](a.Send("POST", "/orders/rough", `{"width":60,"height":40,"quantity":12,"customer":"Netloft Company"}`).OK(201))
	if rough.Customer != "Netloft Company" || len(rough.Lines) != 0 {
		t.Errorf("a rough price is kept as %+v", rough)
	}
	filed := webtest.Into[book.Order](a.Send("POST", "/orders/"+rough.ID+"/rough", fmt.Sprintf(`{"rough":1,"design":%q,"base":%d}`, d.ID, rough.Version)).OK(200))
	if len(filed.Lines) != 1 || filed.Lines[0].Quantity != 12 {
		t.Errorf("the file that came makes %+v", filed.Lines)
	}
	a.Send("POST", "/orders/"+rough.ID+"/rough", `{"rough":7}`).Fails(404, shop.NotFound, "without a file")

	q := webtest.Into[book.Quote](a.Send("POST", at+"/quotes", api.QuoteNew{Chance: .9, Quantities: []int{12, 48}, Keep: true}).OK(200))
	if p := webtest.Into[ask.PromiseAnswer](a.Send("GET", at+"/promise", nil).OK(200)); p.Promise != q.Promise || p.Chance != q.Chance {
		t.Errorf("the day to promise is %s with a chance of %v, in the quote %s with %v", p.Promise, p.Chance, q.Promise, q.Chance)
	}
	if len(q.Lines) != 1 || len(q.Lines[0].Steps) != 3 || !q.Net.IsPositive() || q.Promise.IsZero() {
		t.Errorf("quote %+v", q)
	}
	if all := webtest.Into[api.QuotePage](a.Send("GET", at+"/quotes", nil).OK(200)); len(all.Quotes) != 1 || all.Quotes[0].Serial != q.Serial {
		t.Errorf("kept %+v", all)
	}
	for file, begins := range map[string]string{"quote.pdf": "%PDF-", "quote.xlsx": "PK", "quote.csv": "quote,customer"} {
		if r := a.Send("GET", at+"/quotes/"+q.ID+"/"+file, nil).OK(200); !bytes.HasPrefix(bytes.TrimPrefix(r.Body, []byte("\ufeff")), []byte(begins)) {
			t.Errorf("%s begins %.20q", file, r.Body)
		}
	}
	a.Send("GET", at+"/quotes/"+q.ID+"/quote.doc", nil).Fails(404, shop.NotFound, "quote.pdf")
	if o := webtest.Into[book.Order](a.Send("POST", at+"/state", api.OrderMove{To: "agreed"}).OK(200)); o.State != book.Agreed || o.Promised != q.Promise {
		t.Errorf("agreed: %s, promised %s, quoted %s", o.State, o.Promised, q.Promise)
	}

	told, _ := webtest.ResultOf[api.PlanTold](a.Finish(a.Send("POST", "/plan", api.PlanNew{}), "PlanTold"))
	if x := webtest.Into[ask.DearAnswer](a.Send("GET", "/plan/costs", nil).OK(200)); len(x.Rows)+x.Unquoted == 0 || len(x.Verdict) == 0 {
		t.Errorf("planned above cost: %+v", x)
	}
	if x := webtest.Into[ask.ThreadListAnswer](a.Send("GET", "/plan/thread", nil).OK(200)); len(x.Days) == 0 || x.Bobbin <= 0 {
		t.Errorf("thread to buy: %d days, %g m of bobbin thread", len(x.Days), x.Bobbin)
	}
	due := words.NewDay(2026, time.March, 6)
	parted := webtest.Into[api.OrderKept](a.Send("POST", "/orders", api.OrderNew{Customer: "Saltmere Chandlery",
		Lines: []api.OrderPart{{Design: d.ID, Quantity: 12, Garment: "apron", Deliveries: []book.Delivery{{Day: due, Pieces: 5}}}}}).
		OK(201)).Order
	came := webtest.Into[api.OrderKept](a.Send("POST", fmt.Sprintf("/orders/%d/garments", parted.Number),
		map[string]any{"line": 1, "due": due.String(), "came": due.String()}).OK(200))
	if l := came.Order.Lines[0].Deliveries; len(l) != 1 || l[0].Came != due {
		t.Errorf("garments that came: %+v", l)
	}

	var lot *book.PlanLot
	for i := range told.Plan.Lots {
		if told.Plan.Lots[i].Number == o.Number {
			lot = &told.Plan.Lots[i]
		}
	}
	if lot == nil {
		t.Fatal("the plan does not have the agreed order")
	}
	if x := webtest.Into[ask.TodayAnswer](a.Send("GET", "/today", nil).OK(200)); len(x.Machines) == 0 || len(x.Verdict) == 0 {
		t.Errorf("today: %+v", x)
	}
	left := fmt.Sprintf("/machines/%s/left?order=%d&at_stitch=", lot.MachineID, o.Number)
	if x := webtest.Into[ask.LeftAnswer](a.Send("GET", left+"100", nil).OK(200)); x.Seconds <= 0 || x.Number != o.Number || x.Stitch != 100 {
		t.Errorf("what is left: %+v", x)
	}
	a.Send("GET", left+"-1", nil).Fails(422, shop.Invalid, "stitches count from 1")
	a.Send("GET", left+"1000000", nil).Fails(422, shop.Invalid, "cannot stand at stitch 1,000,000")
	a.Send("GET", left+"x", nil).Fails(422, shop.Invalid, "whole number")
	if k := webtest.Into[api.PlanKept](a.Send("GET", "/plan", nil)); k.Plan.Version != told.Plan.Version || len(k.Changed) != 0 {
		t.Errorf("kept version %d, changed since %v", k.Plan.Version, k.Changed)
	}
	for file, begins := range map[string]string{"plan.ics": "BEGIN:VCALENDAR", "plan.xlsx": "PK", "plan.csv": "machine,order", "plan.svg": "<svg", "plan.png": "\x89PNG"} {
		if r := a.Send("GET", "/plan/"+file, nil).OK(200); !bytes.HasPrefix(bytes.TrimPrefix(r.Body, []byte("\ufeff")), []byte(begins)) {
			t.Errorf("%s begins %.20q", file, r.Body)
		}
	}
	other := gannet.ID
	if lot.MachineID == other {
		other = six.ID
	}
	cost := webtest.Into[ask.HandMove](a.Send("POST", "/plan/move", api.MoveAsked{Order: fmt.Sprint(o.Number), Line: 1, To: other, Place: 1}).OK(200))
	if len(cost.Lines) == 0 || cost.Lot.Number != o.Number {
		t.Errorf("moving moves nothing: %+v", cost)
	}
	a.Send("POST", at+"/hold", api.LineHold{Line: 1, Machine: other}).OK(200)
	told, _ = webtest.ResultOf[api.PlanTold](a.Finish(a.Send("POST", "/plan", api.PlanNew{}), "PlanTold"))
	for _, l := range told.Plan.Lots {
		if l.Number == o.Number && (l.MachineID != other || !l.Held) {
			t.Errorf("held on %s, planned on %s", other, l.MachineID)
		}
	}
	if len(told.Moved) == 0 {
		t.Error("an order was held elsewhere and nothing moved")
	}
	a.Send("POST", at+"/release", api.LineOnly{1}).OK(200)
	const stale = "changed since the plan was made."
	for _, file := range []string{"plan.ics", "plan.svg"} {
		text := string(a.Send("GET", "/plan/"+file, nil).OK(200).Body)
		if !strings.Contains(strings.ReplaceAll(text, "\r\n ", ""), stale) {
			t.Errorf("%s is of an older plan and does not say so", file)
		}
	}
	try, _ := webtest.ResultOf[api.PlanTold](a.Finish(a.Send("POST", "/plan/try", api.PlanTry{Rush: []api.RushOrder{{Order: fmt.Sprint(list.Orders[0].Number)}}, Operators: -1}), "PlanTold"))
	if len(try.Plan.Ends) != len(try.Before.Ends)+1 {
		t.Errorf("a rush order more: %d lines, %d before", len(try.Plan.Ends), len(try.Before.Ends))
	}
	fleet, _ := webtest.ResultOf[ask.HindsightAnswer](a.Finish(a.Send("POST", "/plan/fleet", map[string]any{"operators": 1, "without": other}), "Hindsight"))
	if len(fleet.Fleets) != 4 || fleet.Open == 0 || len(fleet.Verdict) == 0 {
		t.Errorf("another fleet: %+v", fleet)
	}
	a.Send("POST", "/plan/fleet", map[string]any{"months": 30}).Fails(422, shop.Invalid, "1 to 24")
	a.Send("POST", "/plan/try", api.PlanTry{}).Fails(422, shop.Invalid, "nothing is asked yet")

	r := webtest.Into[book.RunSheet](a.Send("GET", at+"/runsheet?machine="+other, nil).OK(200))
	if !strings.Contains(r.Since.Raw(), stale) {
		t.Errorf("the run sheet is of an older plan and says %q", r.Since.Raw())
	}
	if r.Quantity != 18 || !strings.HasSuffix(r.Page, fmt.Sprintf("/orders/%d/record?line=1&machine=%s", o.Number, other)) {
		t.Errorf("run sheet of %d pieces, page %s", r.Quantity, r.Page)
	}
	if pdf := a.Send("GET", at+"/runsheet.pdf?machine="+other+"&paper=Letter", nil).OK(200); !bytes.HasPrefix(pdf.Body, []byte("%PDF-")) {
		t.Errorf("%.20q", pdf.Body)
	}
	a.Send("GET", at+"/runsheet.pdf?paper=A3", nil).Fails(422, shop.Invalid, "A4 or Letter")

	a.Send("POST", at+"/start", api.LineOnMachine{Line: 1, Machine: other}).OK(200)
	one := 1
	rec := webtest.Into[api.RecordedAnswer](a.Send("POST", at+"/reports", api.ReportNew{Line: 1, Machine: other, Good: 10, Breaks: &one, Seconds: 3600}).OK(201))
	if rec.Order.State != book.Sewing || rec.Real != 360 || rec.Predicted <= 0 {
		t.Errorf("recorded %+v", rec)
	}
	a.Send("POST", at+"/state", api.OrderMove{To: "delivered"}).Fails(422, shop.Invalid, "cannot become delivered")
	if rec = webtest.Into[api.RecordedAnswer](a.Send("POST", at+"/reports", api.ReportNew{Line: 1, Machine: other, Good: 8}).OK(201)); rec.Order.State != book.Sewn {
		t.Errorf("all is sewn and the order is %s", rec.Order.State)
	}
	// A slip is taken back, a number corrected, a part delivered; the list tells all of it.
	over := a.Send("POST", at+"/reports", api.ReportNew{Line: 1, Machine: other, Good: 1})
	if over.Fails(422, shop.Invalid, "more than ordered"); !strings.Contains(string(over.Body), `"over"`) {
		t.Errorf("more than ordered has no key: %s", over.Body)
	}
	back := webtest.Into[book.Order](a.Send("POST", at+"/reports/2/undo", api.BackNew{Why: "a slip", Base: rec.Order.Version}).OK(200))
	if back.State != book.Sewing || back.Left() != 8 {
		t.Errorf("taken back: %+v", back)
	}
	a.Send("POST", at+"/reports/2/undo", api.BackNew{}).Fails(409, shop.Conflict, "already")
	rec = webtest.Into[api.RecordedAnswer](a.Send("PUT", at+"/reports/1", api.ReportNew{Machine: other, Good: 11, Breaks: &one, Seconds: 3600}).OK(200))
	if rec.Order.Lines[0].Good != 11 || rec.Report.Corrects == "" {
		t.Errorf("corrected: %+v", rec)
	}
	a.Send("PUT", at+"/reports/3", api.ReportNew{Machine: other, Good: 10, Base: 1}).Fails(409, shop.Conflict, "changed meanwhile")
	part := webtest.Into[api.Delivered](a.Send("POST", at+"/deliveries", api.DeliveryNew{Line: 1, Pieces: 5}).OK(201))
	if part.Order.Lines[0].Delivered != 5 || part.Order.State != book.Sewing {
		t.Errorf("delivered: %+v", part)
	}
	if o := webtest.Into[book.Order](a.Send("POST", at+"/deliveries/1/undo", api.BackNew{}).OK(200)); o.Lines[0].Delivered != 0 {
		t.Errorf("the delivery taken back: %+v", o)
	}
	if all := webtest.Into[api.DeliveryPage](a.Send("GET", at+"/deliveries", nil).OK(200)); len(all.Deliveries) != 1 || all.Deliveries[0].TakenBack == nil {
		t.Errorf("deliveries %+v", all)
	}
	if rec = webtest.Into[api.RecordedAnswer](a.Send("POST", at+"/reports", api.ReportNew{Line: 1, Machine: other, Good: 7}).OK(201)); rec.Order.State != book.Sewn {
		t.Errorf("all is sewn and the order is %s", rec.Order.State)
	}
	a.Send("POST", at+"/state", api.OrderMove{To: "delivered"}).OK(200)
	if all := webtest.Into[api.ReportPage](a.Send("GET", at+"/reports", nil).OK(200)); len(all.Reports) != 4 || all.Reports[1].Breaks != -1 || all.Reports[0].TakenBack == nil {
		t.Errorf("reports %+v", all.Reports)
	}
	if h := webtest.Into[api.OrderHistory](a.Send("GET", at+"/history", nil).OK(200)); len(h.Changes) < 9 || h.Changes[len(h.Changes)-1].What != "delivered (was sewn)" {
		t.Errorf("history %+v", h.Changes)
	}

	if after := webtest.Into[ask.AfterAnswer](a.Send("GET", "/after?by=machine", nil).OK(200)); after.By != "machine" || len(after.Rows)+after.Unquoted == 0 {
		t.Errorf("after the job: %+v", after)
	}
	if x := webtest.Into[ask.RoughAnswer](a.Send("GET", "/rough?width=80&height=60&kind=lettering", nil).OK(200)); x.Stitches.Mid <= 0 || len(x.Verdict) == 0 {
		t.Errorf("a price before there is a file: %+v", x)
	}
	a.Send("GET", "/rough?width=80", nil).Fails(422, shop.Invalid, "height")
	csv := "customer,design,quantity\nTable & Co,gull-cap.dst,3\n"
	if x := webtest.Into[ask.OrderTableAnswer](a.Send("POST", "/orders/table", map[string]any{"text": csv}).OK(200)); !x.Kept || x.Orders[0].Number == 0 {
		t.Errorf("orders of a table: %+v", x)
	}
	if x := webtest.Into[ask.OrderTableAnswer](a.Send("POST", "/orders/table", map[string]any{"text": csv, "try": true}).OK(200)); !x.Orders[0].Already {
		t.Errorf("the same table again: %+v", x)
	}
	a.Send("POST", "/orders/table", map[string]any{"text": "a,b\n1,2\n"}).Fails(422, shop.Invalid, "no column is the customer")
	a.Send("GET", "/after?by=moon", nil).Fails(422, shop.Invalid, "by")

	w := webtest.Into[api.WorkshopFile](a.Send("GET", "/workshop", nil).OK(200))
	if !w.Given || !w.Priced {
		t.Errorf("the demo's hours: %+v", w)
	}
	a.Send("PUT", "/workshop", api.WorkshopNew{TOML: w.TOML, Base: w.Version}).OK(200)
	a.Send("PUT", "/workshop", api.WorkshopNew{TOML: strings.Replace(w.TOML, `"Skipper"`, `"Nobody"`, 1)}).Fails(422, shop.Invalid, "the shop has no machine")
}

func TestOrdersWithBadInputSayWhatIsWrong(t *testing.T) {
	a := webtest.NewSample(t, web.Options{})
	d, err := a.Shop.Designs.Find(t.Context(), "gull-cap.dst")
	if err != nil {
		t.Fatal(err)
	}
	line := []api.OrderPart{{Design: d.ID, Quantity: 1}}
	for _, c := range []struct {
		in     any
		status int
		code   shop.Code
		words  string
	}{
		{api.OrderNew{Customer: "", Lines: line}, 422, shop.Invalid, "customer"},
		{api.OrderNew{Customer: "A"}, 422, shop.Invalid, "no design"},
		{api.OrderNew{Customer: "A", Lines: []api.OrderPart{{Design: d.ID}}}, 422, shop.Invalid, "quantity is 0"},
		{api.OrderNew{Customer: "A", Lines: []api.OrderPart{{Design: "nothing", Quantity: 1}}}, 404, shop.NotFound, "no design"},
		{api.OrderNew{Customer: "A", Due: "2020-01-01", Lines: line}, 422, shop.Invalid, "has passed"},
		{api.OrderNew{Customer: "A", Due: "soon", Lines: line}, 422, shop.Invalid, "is no day"},
		{`{"customer": 3}`, 400, "bad_request", "not the JSON"},
		{`{"cust`, 400, "bad_request", "not the JSON"},
	} {
		a.Send("POST", "/orders", c.in).Fails(c.status, c.code, c.words)
	}
	a.Send("GET", "/orders/999", nil).Fails(404, shop.NotFound, "no order 999")
	a.Send("GET", "/orders?sort=shoe", nil).Fails(422, shop.Invalid, "sort")
	a.Send("POST", "/orders/1001/state", api.OrderMove{To: "lost"}).Fails(422, shop.Invalid, "cannot become lost")
	a.Send("POST", "/orders/1001/reports", api.ReportNew{Line: 1, Machine: "none", Good: 1}).Fails(404, shop.NotFound, "machine")
	a.Send("POST", "/orders/1001/quotes", api.QuoteNew{Chance: 2}).Fails(422, shop.Invalid, "chance")
	a.Send("GET", "/orders/1001/promise?chance=2", nil).Fails(422, shop.Invalid, "chance")
	a.Send("POST", "/plan", api.PlanNew{FreezeHours: -1}).Fails(422, shop.Invalid, "the hours that stay")
	a.Send("POST", "/plan/move", api.MoveAsked{Order: "1001", Line: 1, To: "x"}).Fails(404, shop.NotFound, "no plan")
}
