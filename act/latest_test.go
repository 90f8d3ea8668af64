package act_test

import (
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/paper"
	"needlepace/shop"
	"needlepace/words"
)

// A day after which an order is of no use: what the plan has later is told
// loudly, and is not promised.
func TestWhatIsDoneAfterItsLatestDayIsToldLoudly(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "harbour-jacket-back.dst", 400, "2026-03-04", book.Agreed)
	o.Latest = words.NewDay(2026, 3, 3)
	if _, err := b.Orders.Change(bg, *o, ""); shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), "before the due day") {
		t.Errorf("a latest day before the due day: %v", err)
	}
	o.Latest = words.NewDay(2026, 3, 5)
	if _, err := b.Orders.Change(bg, *o, ""); err != nil {
		t.Fatal(err)
	}
	if k, err := b.Orders.Get(bg, o.ID); err != nil || k.Latest != o.Latest {
		t.Fatalf("the latest day is not kept: %v", err)
	}
	a := b.plan(t)
	if late := a.Plan.TooLate(); len(late) != 1 || late[0].Latest != o.Latest {
		t.Fatalf("too late: %+v", late)
	}
	if said := a.Verdict[0].Text(nil); !strings.Contains(said, "after the latest day") {
		t.Errorf("the verdict begins with %q", said)
	}
	if said := a.Watch[0].Say.Text(nil); !strings.Contains(said, "after its latest day, Thu 5 Mar") {
		t.Errorf("to watch first: %q", said)
	}
	if _, err := b.KeepPromise(bg, o.ID, nil, ""); shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), "after its latest day") {
		t.Errorf("it is promised all the same: %v", err)
	}
	k, err := b.Orders.Get(bg, o.ID)
	if err != nil {
		t.Fatal(err)
	}
	k.Latest = words.NewDay(2026, 12, 1)
	if _, err := b.Orders.Change(bg, *k, ""); err != nil {
		t.Fatal(err)
	}
	if a := b.plan(t); len(a.Plan.TooLate()) != 0 || strings.Contains(a.Verdict.Text(nil), "latest") {
		t.Errorf("December is early enough: %s", a.Verdict.Text(nil))
	}
}

// To begin before the goods are there asks; what is on a machine and cannot run
// says why.
func TestABeginningBeforeTheGoodsAsks(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 40, "2026-03-20", book.Agreed)
	o.Goods = words.NewDay(2026, 3, 5)
	if _, err := b.Orders.Change(bg, *o, ""); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Start(bg, o.ID, 1, b.m["Gannet"], 0, "", ""); shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), "come on 5 Mar 2026") {
		t.Fatalf("it begins without goods: %v", err)
	}
	if _, err := b.GoodsHere(bg, o.ID, 1, "Tam"); err != nil {
		t.Fatal(err)
	}
	o, err := b.Start(bg, o.ID, 1, b.m["Gannet"], 0, "", "")
	if err != nil {
		t.Fatal(err)
	}
	if a := b.plan(t); len(a.Plan.Notes) != 0 {
		t.Errorf("it runs, and the plan says %+v", a.Plan.Notes)
	}
	// Somebody finds that they were the wrong ones: it stands on the machine.
	o.Goods = words.NewDay(2026, 3, 6)
	if _, err := b.Orders.Change(bg, *o, ""); err != nil {
		t.Fatal(err)
	}
	if a := b.plan(t); len(a.Plan.Notes) != 1 || !strings.Contains(a.Watch[len(a.Watch)-1].Say.Text(nil), "is on Gannet now, but its goods come only on 6 Mar 2026") {
		t.Errorf("%+v", a.Plan.Notes)
	}
	if _, err := b.GoodsHere(bg, o.ID, 1, ""); err != nil {
		t.Fatal(err)
	}
	b.workshop(t, "[thread]", "[[down]]\nmachine = \"Gannet\"\nfrom = \"2026-03-02 06:00\"\nto = \"2026-03-03 12:00\"\n[thread]")
	if a := b.plan(t); len(a.Plan.Notes) != 1 || !strings.Contains(a.Plan.Notes[0].Why, "down from Mon 2 Mar, 06:00 until Tue 3 Mar, 12:00: taken off") {
		t.Errorf("%+v", a.Plan.Notes)
	}
}

// A quote whose first day is after the latest day says so before all else, on its paper
// too, and promises nothing; taken as it is, it is refused.
func TestAQuoteAfterTheLatestDayPromisesNothing(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "wheel-badge.dst", 3000, "2026-03-04", book.Requested)
	o.Promised, o.Latest = words.NewDay(2026, 3, 4), words.NewDay(2026, 3, 5)
	if _, err := b.Orders.Change(bg, *o, ""); err != nil {
		t.Fatal(err)
	}
	q, err := b.KeepOneQuote(o.ID, "")
	if err != nil {
		t.Fatal(err)
	}
	if !q.Promise.IsZero() || !q.TooLate.After(o.Latest) || q.Latest != o.Latest {
		t.Errorf("it promises %q, the first day is %q", q.Promise, q.TooLate)
	}
	const told = "is after Thu 5 Mar, the latest day"
	if said := q.Verdict[0].Text(nil); !strings.Contains(said, "No day is promised") || !strings.Contains(said, told) {
		t.Errorf("first it says %q", said)
	}
	if all := q.Verdict.Text(nil); strings.Contains(all, "Promise") || !strings.Contains(all, "without tax") || !strings.Contains(all, "Earliest") {
		t.Errorf("it says %q", all)
	}
	on, err := paper.QuoteOf(bg, b.Asked(), q.Quote, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(on.Days) == 0 || !strings.Contains(on.Days[0].Text(nil), told) {
		t.Errorf("its paper says %q", on.Days.Text(nil))
	}
	if k, err := b.Orders.Get(bg, o.ID); err != nil || !k.Promised.IsZero() {
		t.Errorf("the order is promised %v (%v)", k.Promised, err)
	}
	p, err := ask.Promise(bg, b.Asked(), ask.PromiseQuestion{Now: b.at, Order: o.ID})
	if err != nil {
		t.Fatal(err)
	}
	if !p.Promise.IsZero() || p.TooLate != q.TooLate || !strings.Contains(p.Verdict[0].Text(nil), told) {
		t.Errorf("asked for the day alone: %q, %q: %s", p.Promise, p.TooLate, p.Verdict.Text(nil))
	}
	if _, err := b.AcceptQuote(bg, o.ID, q.ID, 0, false, ""); shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), "after the latest day") {
		t.Errorf("it is accepted: %v", err)
	}
	k, err := b.Orders.Get(bg, o.ID)
	if err != nil {
		t.Fatal(err)
	}
	k.Latest = q.TooLate // the customer can use it then
	if _, err := b.Orders.Change(bg, *k, ""); err != nil {
		t.Fatal(err)
	}
	if k, err = b.AcceptQuote(bg, o.ID, q.ID, 0, false, ""); err != nil || k.Promised != q.TooLate {
		t.Errorf("accepted, promised %v: %v", k, err)
	}
	// A day that was in time is so no more when the latest day comes nearer.
	o = b.order(t, "gull-cap.dst", 24, "2026-03-10", book.Requested)
	if q, err = b.KeepOneQuote(o.ID, ""); err != nil || q.Promise.IsZero() {
		t.Fatal(q.Promise, err)
	}
	if k, err = b.Orders.Get(bg, o.ID); err != nil {
		t.Fatal(err)
	}
	k.Due, k.Latest, k.Promised = words.NewDay(2026, 3, 2), words.NewDay(2026, 3, 3), words.Day{}
	if _, err := b.Orders.Change(bg, *k, ""); err != nil {
		t.Fatal(err)
	}
	if _, err := b.AcceptQuote(bg, o.ID, q.ID, 0, false, ""); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("accepted for %s: %v", q.Promise, err)
	}
}
