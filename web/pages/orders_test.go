package pages_test

import (
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/web"
	"needlepace/web/pages"
	"needlepace/web/webtest"
	"needlepace/words"
)

func TestPagesOfOrdersSayWhatIsWrong(t *testing.T) {
	a := webtest.NewSample(t, web.Options{})
	design, err := a.Shop.Designs.Find(t.Context(), "gull-cap.dst")
	if err != nil {
		t.Fatal(err)
	}
	form := func(pairs ...string) url.Values {
		v := url.Values{}
		for i := 0; i+1 < len(pairs); i += 2 {
			v.Set(pairs[i], pairs[i+1])
		}
		return v
	}
	for _, c := range []struct {
		path   string
		form   url.Values
		status int
		words  string
	}{
		{"/orders/none", nil, 404, "There is no order"},
		{"/orders/9999/quote", nil, 404, "There is no order 9999"},
		{"/orders/1001/quotes/none", nil, 404, "no such quote"},
		{"/orders/1001/record?line=7", nil, 404, "no line"},
		{"/orders/1001/runsheet?line=x", nil, 422, "whole number"},
		{"/orders/1001/runsheet?machine=none", nil, 404, "machine"},
		{"/orders?state=lost", nil, 422, "no state"},
		{"/orders?sort=shoe", nil, 422, "number or customer or plan"},
		{"/orders?page=two", nil, 422, "whole number"},
		{"/orders", form("customer", "", "line[0].design", design.ID, "line[0].quantity", "3"), 422, "customer"},
		{"/orders", form("customer", "A", "line[0].quantity", "3"), 422, "Choose its design"},
		{"/orders", form("customer", "A", "line[0].design", design.ID, "line[0].quantity", "three"), 422, "Give a whole number"},
		{"/orders", form("customer", "A", "due", "2020-02-02", "line[0].design", design.ID, "line[0].quantity", "3"), 422, "has passed"},
		{"/orders", form("customer", "A"), 422, "no design"},
		{"/orders/1001", form("customer", "A", "version", "99", "line[0].line", "1", "line[0].design", design.ID, "line[0].quantity", "3"), 422, "You both changed the same"},
		{"/orders/1001/state", form("to", "delivered"), 422, "cannot become delivered"},
		{"/orders/1006/quote?chance=150", nil, 200, "50 to 99.5"},
		{"/orders/1006/quote?steps=some", nil, 200, "Give whole numbers"},
		{"/orders/1001/record", form("line", "1", "good", "5"), 422, "on which machine"},
		{"/orders/1001/record", form("line", "1", "good", "-5", "machine", "x"), 422, "0 or more"},
		{"/orders/1001/record", form("line", "1", "good", "5", "machine", "x", "from", "09:00"), 422, "One of the times is missing"},
		{"/orders/1001/record", form("line", "1", "good", "5", "machine", "x", "from", "09:00", "to", "09:10", "pauses", "30"), 422, "leaves no time"},
		{"/orders/1001/start", form("line", "1", "machine", "x"), 422, "machine"},
		{"/plan/plan.ics", nil, 404, "no plan yet"},
		{"/plan/hold", form("lot", "x"), 422, "no plan yet"},
		{"/plan", form("freeze", "-1"), 422, "0 or more"},
		{"/plan/try", form(), 422, "Nothing is asked"},
		{"/plan/try", form("rush", "1001", "due", "soon"), 422, "no day"},
		{"/plan/hours", form("toml", "shift = 3"), 422, "shift"},
	} {
		status, body := a.Page(c.path, c.form)
		if status != c.status || !strings.Contains(body, c.words) {
			t.Errorf("%s %v: status %d, want %d with %q in %.500s", c.path, c.form, status, c.status, c.words, mainOf(body))
		}
	}
	if strings.Contains(a.Log.String(), "level=ERROR") {
		t.Errorf("bad input was logged as an error of ours")
	}
}

// mainOf is the main part of a page, for messages.
func mainOf(body string) string {
	_, rest, _ := strings.Cut(body, "<main")
	return rest
}

// An order outlives its design, and names that look like markup stay text.
func TestAnOrderOutlivesItsDesign(t *testing.T) {
	a := webtest.NewSample(t, web.Options{})
	design, err := a.Shop.Designs.Find(t.Context(), "gull-cap.dst")
	if err != nil {
		t.Fatal(err)
	}
	const odd = `<img src=x onerror=alert(1)>"`
	o, _, err := a.Shop.AddOrder(t.Context(), book.Order{Customer: odd, State: book.Agreed, Weight: 1, Lines: []book.OrderLine{{DesignID: design.ID, Quantity: 4, Placement: odd, Garment: odd, Threads: []string{odd}}}}, "")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Shop.MakePlan(t.Context(), ask.PlanQuestion{Now: a.Shop.Now(), Seed: 1}, ""); err != nil {
		t.Fatal(err)
	}
	paths := []string{"/orders", pages.OrderPath(o), pages.OrderPath(o) + "/change", pages.OrderPath(o) + "/quote", pages.OrderPath(o) + "/record", pages.OrderPath(o) + "/runsheet", "/plan", "/plan/try"}
	for _, p := range paths {
		if status, body := a.Page(p, nil); status != 200 || strings.Contains(body, "<img src=x") {
			t.Errorf("%s: status %d, or a name stands there as markup", p, status)
		}
	}
	if err := a.Shop.Designs.Remove(t.Context(), design.ID); err != nil {
		t.Fatal(err)
	}
	for _, p := range paths {
		if status, body := a.Page(p, nil); status >= 500 || status != 200 && p != pages.OrderPath(o)+"/runsheet" {
			t.Errorf("%s without its design: status %d %.300s", p, status, mainOf(body))
		}
	}
	if _, body := a.Page(pages.OrderPath(o), nil); !strings.Contains(body, "taken off the list of designs") || !strings.Contains(body, "4 × ") {
		t.Errorf("the order does not say that its design is gone: %.800s", mainOf(body))
	}
}

func TestAnOrderIsTakenFromTheDesignsPage(t *testing.T) {
	a := webtest.New(t, web.Options{})
	a.Machine("compact-8", "Bay")
	d, other := a.DemoDesign("gull-cap.dst"), a.DemoDesign("whale-line.dst")
	link := "/orders/new?design=" + d.ID
	if _, body := a.Page("/designs/"+d.ID, nil); !strings.Contains(body, `href="`+link+`"`) {
		t.Error("the design's page does not lead to an order for it")
	}
	status, body := a.Page(link, nil)
	if status != 200 || !strings.Contains(body, `<option value="`+d.ID+`" selected>`) || strings.Contains(body, `<option value="`+other.ID+`" selected>`) {
		t.Errorf("%d: the form of the new order does not have its design chosen", status)
	}
	if status, body := a.Page("/orders/new?design=none", nil); status != 404 || !strings.Contains(body, "no such design") {
		t.Errorf("an unknown design: %d %.300s", status, body)
	}
	if err := a.Shop.Designs.Remove(t.Context(), d.ID); err != nil {
		t.Fatal(err)
	}
	if _, body := a.Page("/designs/"+d.ID, nil); strings.Contains(body, link) {
		t.Error("a design that was taken off the list can be ordered")
	}
}

// Each day of the form goes where it says and comes back from there: the day
// that is wanted is not the day that was promised, nor that of the goods.
func TestTheDaysOfAnOrderStayApart(t *testing.T) {
	a := webtest.NewSample(t, web.Options{})
	o, err := a.Shop.Orders.Get(t.Context(), "1001")
	if err != nil {
		t.Fatal(err)
	}
	in := func(days int) string { return words.Zone{}.Day(a.Shop.Now()).Add(days).String() }
	form := url.Values{
		"customer": {o.Customer}, "version": {strconv.Itoa(o.Version)}, "due": {in(40)}, "promised": {in(45)}, "goods": {in(30)},
		"line[0].line": {"1"}, "line[0].design": {o.Lines[0].DesignID}, "line[0].quantity": {"7"},
	}
	if status, body := a.Page("/orders/1001", form); status != 303 {
		t.Fatalf("status %d, %.500s", status, mainOf(body))
	}
	if o, err = a.Shop.Orders.Get(t.Context(), "1001"); err != nil {
		t.Fatal(err)
	}
	if o.Due.String() != in(40) || o.Promised.String() != in(45) || o.Goods.String() != in(30) {
		t.Errorf("kept: due %s, promised %s, goods %s; sent were %v", o.Due, o.Promised, o.Goods, form)
	}
	_, body := a.Page("/orders/1001/change", nil)
	for name, day := range map[string]string{"due": in(40), "promised": in(45), "goods": in(30)} {
		field := regexp.MustCompile(`<input[^>]*name="` + name + `"[^>]*>`).FindString(body)
		if !strings.Contains(field, `value="`+day+`"`) {
			t.Errorf("the form shows %s as %q, want %s", name, field, day)
		}
	}
}

// Two people have an order's form open. What only one of them changes is kept, of each; what both change is shown side by side,
// and a second press has the second one's, and nothing of the first one's otherwise.
func TestTwoPeopleChangeAnOrder(t *testing.T) {
	a := webtest.NewSample(t, web.Options{})
	_, body := a.Page("/orders/1001/change", nil)
	first, second, third := typedInto(t, body, "/orders/1001"), typedInto(t, body, "/orders/1001"), typedInto(t, body, "/orders/1001")
	first.Set("line[0].quantity", "361")
	first.Set("note", "by lift")
	if status, body := a.Page("/orders/1001", first); status != 303 {
		t.Fatalf("the first: status %d, %s", status, mainOf(body))
	}
	second.Set("weight", "3")
	if status, body := a.Page("/orders/1001", second); status != 303 {
		t.Fatalf("the second: status %d, %s", status, mainOf(body))
	}
	kept := func(quantity int, weight float64, note, place string) {
		t.Helper()
		o, err := a.Shop.Orders.Get(t.Context(), "1001")
		if err != nil || o.Lines[0].Quantity != quantity || o.Weight != weight || o.Note != note || o.Lines[0].Placement != place {
			t.Fatalf("kept: %+v, %v", o, err)
		}
	}
	place := first.Get("line[0].placement")
	kept(361, 3, "by lift", place)
	third.Set("line[0].quantity", "350")
	third.Set("line[0].placement", "cuff")
	status, body := a.Page("/orders/1001", third)
	if status != 422 || !strings.Contains(body, "You both changed") || !strings.Contains(body, "Somebody else has kept meanwhile: 361") {
		t.Fatalf("the third: status %d, %s", status, mainOf(body))
	}
	kept(361, 3, "by lift", place)
	again := typedInto(t, body, "/orders/1001")
	if again.Get("weight") != "3" || again.Get("line[0].quantity") != "350" || again.Get("note") != "by lift" {
		t.Errorf("the form after the third: %v", again)
	}
	if status, body := a.Page("/orders/1001", again); status != 303 {
		t.Fatalf("pressed again: status %d, %s", status, mainOf(body))
	}
	kept(350, 3, "by lift", "cuff")
}

// In the list of an order's reports the number of one that stands leads to where it is corrected; of one taken back it does not.
func TestTheListOfReportsLeadsToTheirCorrection(t *testing.T) {
	a := webtest.NewSample(t, web.Options{})
	o, err := a.Shop.Orders.Get(t.Context(), "1001")
	if err != nil {
		t.Fatal(err)
	}
	six := ""
	all, err := a.Shop.Machines.List(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range all {
		if m.Name == "Six Sisters" {
			six = m.ID
		}
	}
	if _, err := a.Shop.Record(t.Context(), book.Report{OrderID: o.ID, Line: 1, MachineID: six, Good: 6, Breaks: -1}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	const to = `href="/orders/1001/record?correct=1"`
	if _, body := a.Page("/orders/1001", nil); !strings.Contains(body, to) {
		t.Errorf("no %s in the list of reports", to)
	}
	if status, body := a.Page("/orders/1001/record/1/undo", url.Values{"why": {"a slip"}}); status != 303 {
		t.Fatalf("taken back: status %d, %s", status, mainOf(body))
	}
	if _, body := a.Page("/orders/1001", nil); strings.Contains(body, to) {
		t.Error("a report that was taken back is still to be corrected")
	}
}

// A price before there is a file names the machines that it leaves out, with a way to their prices.
func TestARoughPriceLeadsToThePricesThatLack(t *testing.T) {
	a := webtest.NewSample(t, web.Options{})
	const asked = "/orders/rough?width=80&height=60&kind=badge&cover=half&colours=3&quantity=24"
	if _, body := a.Page(asked, nil); strings.Contains(body, "/plan/hours?price=") {
		t.Error("all machines have prices, and the page asks for some")
	}
	a.Machine("compact-8", "Whelk")
	if _, body := a.Page(asked, nil); !strings.Contains(body, `href="/plan/hours?price=Whelk"`) || !strings.Contains(body, "Priced without Whelk,") {
		t.Errorf("no way to the prices of Whelk: %s", mainOf(body))
	}
}
