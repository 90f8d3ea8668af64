package act_test

import (
	"strconv"
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// The customer has all of an order when all of it is sewn and handed over, not when all that is sewn is; nothing was
// handed over on a day that is to come.
func TestAnOrderIsDeliveredWhenAllOfItIs(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 30, "2026-03-20", book.Agreed)
	sew := func(n int) {
		t.Helper()
		if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: n, Breaks: -1}, act.Recording{}, ""); err != nil {
			t.Fatal(err)
		}
	}
	sew(20)
	ahead := book.HandOver{OrderID: o.ID, Line: 1, Day: words.NewDay(2026, 3, 3)}
	if _, _, err := b.Deliver(bg, ahead, 0, ""); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("handed over tomorrow: %v", err)
	}
	part, _, err := b.Deliver(bg, book.HandOver{OrderID: o.ID, Line: 1}, 0, "")
	if err != nil || part.State != book.Sewing || part.Lines[0].Delivered != 20 {
		t.Fatalf("20 of 30: %+v, %v", part, err)
	}
	sew(10)
	all, _, err := b.Deliver(bg, book.HandOver{OrderID: o.ID, Line: 1}, 0, "")
	if err != nil || all.State != book.Delivered {
		t.Errorf("30 of 30: %+v, %v", all, err)
	}
}

// Pieces that a report has made again are not, once it is taken back: of two that were spoilt on two days, one of each made again,
// one is left.
func TestPiecesMadeAgainGoWithTheirReport(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 30, "2026-03-20", book.Agreed)
	var last *book.Report
	for range 2 {
		x, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 5, Spoilt: 1, Again: 1, Breaks: -1}, act.Recording{}, "")
		if err != nil {
			t.Fatal(err)
		}
		last = &x.Report
	}
	if l := orderNow(t, b, o.ID).Lines[0]; l.Again != 2 || l.Spoilt != 2 {
		t.Fatalf("reported: %+v", l)
	}
	if _, err := b.TakeBack(bg, o.ID, last.ID, 0, "", ""); err != nil {
		t.Fatal(err)
	}
	if l := orderNow(t, b, o.ID).Lines[0]; l.Again != 1 || l.Spoilt != 1 || l.Good != 5 {
		t.Errorf("one taken back: made again %d, spoilt %d, good %d", l.Again, l.Spoilt, l.Good)
	}
}

// Asked in the middle of the day what a move would do, nothing that has not begun begins before then.
func TestAMoveBeginsNothingBeforeItIsAsked(t *testing.T) {
	b := fresh(t)
	first := b.order(t, "gull-cap.dst", 60, "2026-03-20", book.Agreed)
	second := b.order(t, "wheel-badge.dst", 24, "2026-03-20", book.Agreed)
	for id, m := range map[string]string{first.ID: "Gannet", second.ID: "Gannet"} {
		if _, err := b.HoldLine(bg, id, 1, b.m[m], time.Time{}, ""); err != nil {
			t.Fatal(err)
		}
	}
	p := b.plan(t)
	var other *book.Order
	for _, l := range p.Plan.Lots { // the one that the plan has second
		if l.From.After(b.at.Add(time.Hour)) {
			other = map[string]*book.Order{first.ID: first, second.ID: second}[l.OrderID]
		}
	}
	if other == nil {
		t.Fatal("nothing waits")
	}
	if _, err := b.Orders.Release(bg, other.ID, 1, ""); err != nil {
		t.Fatal(err)
	}
	now := b.at.Add(2 * time.Hour)
	move, err := ask.Move(bg, b.Asked(), ask.MoveQuestion{Now: now, Order: other.ID, Line: 1, To: b.m["Skipper"]})
	if err != nil {
		t.Fatal(err)
	}
	const run = 5*time.Minute + 55*time.Second // of a badge on Skipper, as the demo's quote has it
	pieces := time.Duration(other.Lines[0].Quantity)
	found := false
	for _, l := range move.Lines {
		if l.Name == strconv.Itoa(other.Number) {
			found = true
			if l.After.Before(now.Add(pieces * run)) {
				t.Errorf("%d pieces begun at %s cannot be done at %s", pieces, now, l.After)
			}
		}
	}
	if !found {
		t.Errorf("the line itself is not told: %+v", move.Lines)
	}
}

// Of 60 garments of which 20 come later, 30 are put on a machine: those are on it and no others, whichever delivery has them.
func TestAPartOnAMachineIsNoMoreThanWasPutThere(t *testing.T) {
	b := fresh(t)
	o, _, err := b.AddOrder(bg, book.Order{Customer: "C", Due: words.NewDay(2026, 3, 20), Weight: 1, State: book.Agreed, Lines: []book.OrderLine{{
		DesignID: b.designs["gull-cap.dst"], Quantity: 60,
		LinePieces: book.LinePieces{Deliveries: []book.Delivery{{Day: words.NewDay(2026, 3, 4), Pieces: 20}}}}}}, "")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Start(bg, o.ID, 1, b.m["Gannet"], 30, "", ""); err != nil {
		t.Fatal(err)
	}
	held, all := 0, 0
	for _, l := range b.plan(t).Plan.Lots {
		if all += l.Quantity; l.Held || l.Running {
			held += l.Quantity
		}
	}
	if held != 30 || all != 60 {
		t.Errorf("%d of %d pieces are held on Gannet, put there were 30 of 60", held, all)
	}
}

// A line in two colours that is on a machine is sewn there one colour after the other: after two hours of which nobody
// spoke it is done when it was to be done, and not two hours sooner for each colour.
func TestOneColourIsSewnAtATime(t *testing.T) {
	b := fresh(t)
	o := b.sized(t)
	if _, err := b.Start(bg, o.ID, 1, b.m["Skipper"], 0, "", ""); err != nil {
		t.Fatal(err)
	}
	end := func() (at time.Time, running int) {
		for _, l := range b.plan(t).Plan.Lots {
			if l.To.After(at) {
				at = l.To
			}
			if l.Running {
				running++
			}
		}
		return at, running
	}
	was, running := end()
	b.at = b.at.Add(2 * time.Hour)
	is, again := end()
	if d := is.Sub(was); running != 1 || again != 1 || d < -10*time.Minute || d > 10*time.Minute {
		t.Errorf("done at %s, two hours later at %s; on the machine are %d and %d lots", was, is, running, again)
	}
}

// Where garment colours of a line have other threads, cones are changed between them: that is set-up, and has its price.
func TestConesBetweenGarmentColoursHaveAPrice(t *testing.T) {
	b := fresh(t)
	b.workshop(t, "quote_valid_days", "set_up_as_fee = true\nquote_valid_days")
	o := b.sized(t)
	fee := func() decimal.Decimal {
		t.Helper()
		q, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: o.ID, Quantities: []int{90}})
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range q.Lines[0].Steps {
			if s.Quantity == 90 {
				return s.SetupFee
			}
		}
		t.Fatalf("no step of the order's own quantity: %+v", q.Lines[0].Steps)
		return decimal.Decimal{}
	}
	apart := fee()
	now := orderNow(t, b, o.ID)
	now.Lines[0].GarmentThreads = nil
	if _, _, err := b.ChangeOrder(bg, *now, ""); err != nil {
		t.Fatal(err)
	}
	if same := fee(); !apart.GreaterThan(same) {
		t.Errorf("set-up costs %s with other threads on white, %s with the same on all", apart, same)
	}
}

// Today tells who is late by the day that an order is promised now, not by that of the plan.
func TestTodayKnowsADayThatWasChangedSinceThePlan(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "wheel-badge.dst", 600, "2026-03-02", book.Agreed)
	b.plan(t)
	told := func() bool {
		for _, x := range b.today(t).Watch {
			if x.Kind == ask.WatchLate && x.Number == o.Number {
				return true
			}
		}
		return false
	}
	if !told() {
		t.Fatal("600 badges in a day, and it is not late")
	}
	now := orderNow(t, b, o.ID)
	now.Promised = words.NewDay(2026, 3, 20)
	if _, _, err := b.ChangeOrder(bg, *now, ""); err != nil {
		t.Fatal(err)
	}
	if told() {
		t.Error("promised for the 20th, and it is late by its day of before")
	}
	now = orderNow(t, b, o.ID)
	now.Promised = words.Day{}
	if _, _, err := b.ChangeOrder(bg, *now, ""); err != nil {
		t.Fatal(err)
	}
	if !told() {
		t.Error("promised no more, and it is not late by the day that is wanted")
	}
}
