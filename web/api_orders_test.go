package web

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"needlepace/shop"
)

// An order from request to delivery by the API alone, every answer held
// against the description.
func TestAnOrderFromRequestToDeliveryByTheAPI(t *testing.T) {
	a := newApp(t, Options{})
	if err := a.shop.LoadDemo(t.Context(), func(float64, string) {}); err != nil {
		t.Fatal(err)
	}
	gannet, err := a.shop.FindMachine(t.Context(), "Gannet")
	if err != nil {
		t.Fatal(err)
	}
	six, err := a.shop.FindMachine(t.Context(), "Six Sisters")
	if err != nil {
		t.Fatal(err)
	}
	list := into[orderPage](a.send("GET", "/orders?state=requested", nil).ok(200))
	if list.Total != 1 || list.Orders[0].State != shop.Requested {
		t.Fatalf("the demo's week has %d requested orders", list.Total)
	}
	if a.send("GET", "/plan", nil).ok(200); into[planKept](a.send("GET", "/plan", nil)).Plan != nil {
		t.Error("a plan before one was made")
	}
	a.send("GET", "/plan/plan.ics", nil).fails(404, shop.NotFound, "no plan yet")

	d, err := a.shop.FindDesign(t.Context(), "crew-names.dst")
	if err != nil {
		t.Fatal(err)
	}
	got := into[orderKept](a.send("POST", "/orders", orderNew{Customer: "Saltmere Chandlery", Lines: []orderPart{{Design: d.ID, Quantity: 12, Placement: "left chest", Garment: "apron"}}}).ok(201))
	o := got.Order
	at := fmt.Sprintf("/orders/%d", o.Number)
	if k := into[orderKept](a.send("GET", at, nil).ok(200)); k.Order.ID != o.ID || len(k.Notes) != 0 {
		t.Errorf("order %+v, notes %v", k.Order, k.Notes)
	}
	got = into[orderKept](a.send("PUT", at, orderNew{Customer: o.Customer, Base: o.Version, Lines: []orderPart{{Line: 1, Design: d.ID, Quantity: 18, Placement: "left chest", Garment: "apron"}}}).ok(200))
	if l := got.Order.Lines[0]; l.Quantity != 18 || l.Garment != "apron" {
		t.Errorf("changed to %+v", l)
	}
	a.send("PUT", at, orderNew{Customer: o.Customer, Base: o.Version, Lines: []orderPart{{Line: 1, Design: d.ID, Quantity: 5}}}).fails(409, shop.Conflict, "changed meanwhile")

	q := into[shop.Quote](a.send("POST", at+"/quotes", quoteNew{Chance: .9, Quantities: []int{12, 48}, Keep: true}).ok(200))
	if len(q.Lines) != 1 || len(q.Lines[0].Steps) != 3 || !q.Net.IsPositive() || q.Promise == "" {
		t.Errorf("quote %+v", q)
	}
	if all := into[quotePage](a.send("GET", at+"/quotes", nil).ok(200)); len(all.Quotes) != 1 || all.Quotes[0].Serial != q.Serial {
		t.Errorf("kept %+v", all)
	}
	for file, begins := range map[string]string{"quote.pdf": "%PDF-", "quote.xlsx": "PK", "quote.csv": "quote,customer"} {
		if r := a.send("GET", at+"/quotes/"+q.ID+"/"+file, nil).ok(200); !bytes.HasPrefix(bytes.TrimPrefix(r.body, []byte("\ufeff")), []byte(begins)) {
			t.Errorf("%s begins %.20q", file, r.body)
		}
	}
	a.send("GET", at+"/quotes/"+q.ID+"/quote.doc", nil).fails(404, shop.NotFound, "quote.pdf")
	if o := into[shop.Order](a.send("POST", at+"/state", orderMove{To: "agreed"}).ok(200)); o.State != shop.Agreed || o.Promised != q.Promise {
		t.Errorf("agreed: %s, promised %s, quoted %s", o.State, o.Promised, q.Promise)
	}

	told, _ := resultOf[planTold](a.finish(a.send("POST", "/plan", planNew{}), "PlanTold"))
	var lot *shop.PlanLot
	for i := range told.Plan.Lots {
		if told.Plan.Lots[i].Number == o.Number {
			lot = &told.Plan.Lots[i]
		}
	}
	if lot == nil {
		t.Fatal("the plan does not have the agreed order")
	}
	if k := into[planKept](a.send("GET", "/plan", nil)); k.Plan.Version != told.Plan.Version || len(k.Changed) != 0 {
		t.Errorf("kept version %d, changed since %v", k.Plan.Version, k.Changed)
	}
	for file, begins := range map[string]string{"plan.ics": "BEGIN:VCALENDAR", "plan.xlsx": "PK", "plan.csv": "machine,order", "plan.svg": "<svg", "plan.png": "\x89PNG"} {
		if r := a.send("GET", "/plan/"+file, nil).ok(200); !bytes.HasPrefix(bytes.TrimPrefix(r.body, []byte("\ufeff")), []byte(begins)) {
			t.Errorf("%s begins %.20q", file, r.body)
		}
	}
	other := gannet.ID
	if lot.MachineID == other {
		other = six.ID
	}
	cost := into[shop.HandMove](a.send("POST", "/plan/move", moveAsked{Order: fmt.Sprint(o.Number), Line: 1, To: other, Place: 1}).ok(200))
	if len(cost.Lines) == 0 || cost.Lot.Number != o.Number {
		t.Errorf("moving moves nothing: %+v", cost)
	}
	a.send("POST", at+"/hold", lineHold{Line: 1, Machine: other}).ok(200)
	told, _ = resultOf[planTold](a.finish(a.send("POST", "/plan", planNew{}), "PlanTold"))
	for _, l := range told.Plan.Lots {
		if l.Number == o.Number && (l.MachineID != other || !l.Held) {
			t.Errorf("held on %s, planned on %s", other, l.MachineID)
		}
	}
	if len(told.Moved) == 0 {
		t.Error("an order was held elsewhere and nothing moved")
	}
	a.send("POST", at+"/release", lineOnly{1}).ok(200)
	try, _ := resultOf[planTold](a.finish(a.send("POST", "/plan/try", planTry{Rush: []rushOrder{{Order: fmt.Sprint(list.Orders[0].Number)}}, Operators: -1}), "PlanTold"))
	if len(try.Plan.Ends) != len(try.Before.Ends)+1 {
		t.Errorf("a rush order more: %d lines, %d before", len(try.Plan.Ends), len(try.Before.Ends))
	}
	a.send("POST", "/plan/try", planTry{}).fails(422, shop.Invalid, "nothing to try")

	r := into[shop.RunSheet](a.send("GET", at+"/runsheet?machine="+other, nil).ok(200))
	if r.Quantity != 18 || !strings.HasSuffix(r.Page, fmt.Sprintf("/orders/%d/record?line=1&machine=%s", o.Number, other)) {
		t.Errorf("run sheet of %d pieces, page %s", r.Quantity, r.Page)
	}
	if pdf := a.send("GET", at+"/runsheet.pdf?machine="+other+"&paper=Letter", nil).ok(200); !bytes.HasPrefix(pdf.body, []byte("%PDF-")) {
		t.Errorf("%.20q", pdf.body)
	}
	a.send("GET", at+"/runsheet.pdf?paper=A3", nil).fails(422, shop.Invalid, "A4 or Letter")

	a.send("POST", at+"/start", lineOnMachine{Line: 1, Machine: other}).ok(200)
	one := 1
	rec := into[recordedAnswer](a.send("POST", at+"/reports", reportNew{Line: 1, Machine: other, Good: 10, Breaks: &one, Seconds: 3600}).ok(201))
	if rec.Order.State != shop.Sewing || rec.Real != 360 || rec.Predicted <= 0 {
		t.Errorf("recorded %+v", rec)
	}
	a.send("POST", at+"/state", orderMove{To: "delivered"}).fails(422, shop.Invalid, "cannot become delivered")
	if rec = into[recordedAnswer](a.send("POST", at+"/reports", reportNew{Line: 1, Machine: other, Good: 8}).ok(201)); rec.Order.State != shop.Sewn {
		t.Errorf("all is sewn and the order is %s", rec.Order.State)
	}
	a.send("POST", at+"/state", orderMove{To: "delivered"}).ok(200)
	if all := into[reportPage](a.send("GET", at+"/reports", nil).ok(200)); len(all.Reports) != 2 || all.Reports[1].Breaks != -1 {
		t.Errorf("reports %+v", all.Reports)
	}
	if h := into[orderHistory](a.send("GET", at+"/history", nil).ok(200)); len(h.Changes) < 9 || h.Changes[len(h.Changes)-1].What != "delivered (was sewn)" {
		t.Errorf("history %+v", h.Changes)
	}

	w := into[workshopFile](a.send("GET", "/workshop", nil).ok(200))
	if !w.Given || !w.Priced {
		t.Errorf("the demo's hours: %+v", w)
	}
	a.send("PUT", "/workshop", workshopNew{w.TOML}).ok(200)
	a.send("PUT", "/workshop", workshopNew{strings.Replace(w.TOML, `"Skipper"`, `"Nobody"`, 1)}).fails(422, shop.Invalid, "no machine of the shop")
}

func TestOrdersWithBadInputSayWhatIsWrong(t *testing.T) {
	a := newApp(t, Options{})
	if err := a.shop.LoadDemo(t.Context(), func(float64, string) {}); err != nil {
		t.Fatal(err)
	}
	d, err := a.shop.FindDesign(t.Context(), "gull-cap.dst")
	if err != nil {
		t.Fatal(err)
	}
	line := []orderPart{{Design: d.ID, Quantity: 1}}
	for _, c := range []struct {
		in     any
		status int
		code   shop.Code
		words  string
	}{
		{orderNew{Customer: "", Lines: line}, 422, shop.Invalid, "customer"},
		{orderNew{Customer: "A"}, 422, shop.Invalid, "no design"},
		{orderNew{Customer: "A", Lines: []orderPart{{Design: d.ID}}}, 422, shop.Invalid, "quantity is 0"},
		{orderNew{Customer: "A", Lines: []orderPart{{Design: "nothing", Quantity: 1}}}, 404, shop.NotFound, "no design"},
		{orderNew{Customer: "A", Due: "2020-01-01", Lines: line}, 422, shop.Invalid, "has passed"},
		{orderNew{Customer: "A", Due: "soon", Lines: line}, 422, shop.Invalid, "not a day"},
		{`{"customer": 3}`, 400, "bad_request", "not the JSON"},
		{`{"cust`, 400, "bad_request", "not the JSON"},
	} {
		a.send("POST", "/orders", c.in).fails(c.status, c.code, c.words)
	}
	a.send("GET", "/orders/999", nil).fails(404, shop.NotFound, "no order 999")
	a.send("GET", "/orders?sort=shoe", nil).fails(422, shop.Invalid, "sort")
	a.send("POST", "/orders/1001/state", orderMove{To: "lost"}).fails(422, shop.Invalid, "cannot become lost")
	a.send("POST", "/orders/1001/reports", reportNew{Line: 1, Machine: "none", Good: 1}).fails(404, shop.NotFound, "machine")
	a.send("POST", "/orders/1001/quotes", quoteNew{Chance: 2}).fails(422, shop.Invalid, "chance")
	a.send("POST", "/plan", planNew{FreezeHours: -1}).fails(422, shop.Invalid, "freeze_hours")
	a.send("POST", "/plan/move", moveAsked{Order: "1001", Line: 1, To: "x"}).fails(404, shop.NotFound, "no plan")
}
