package act_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/money"
	"needlepace/shop"
	"needlepace/words"
)

// A line that a partner makes stands on no machine, is priced on what the partner asks,
// and leaves with the other lines of its order where they leave together.
func TestALineThatAPartnerMakes(t *testing.T) {
	b := fresh(t)
	on := func(d int) words.Day { return words.NewDay(2026, 3, d) }
	cap, badge := b.designs["gull-cap.dst"], b.designs["wheel-badge.dst"]
	price := func(s string) money.Amount { return money.Amount{Dec: decimal.RequireFromString(s)} }
	o := &book.Order{Customer: "Quay", Weight: 1, Due: on(27), State: book.Agreed, Together: true, Lines: []book.OrderLine{
		{DesignID: cap, Quantity: 12}, {DesignID: badge, Quantity: 40, LinePieces: book.LinePieces{
			Partner: book.Partner{Name: "Netherby", Days: 10, Price: price("1.30")}}}}}
	o, notes, err := b.AddOrder(bg, *o, "Tam")
	if err != nil || !strings.Contains(strings.Join(notes, "; "), "line 2: Netherby makes it: it goes there Mon 2 Mar and is back Thu 12 Mar") {
		t.Fatalf("%v, notes %q", err, notes)
	}
	plan := func() (lots []string, ends []book.LineEnd, notes string) {
		t.Helper()
		p := b.plan(t).Plan
		for _, l := range p.Lots {
			lots = append(lots, l.Name)
		}
		for _, n := range p.Notes {
			notes += n.Why + "; "
		}
		return lots, p.Ends, notes
	}
	lots, ends, said := plan()
	if len(ends) != 2 || strings.Join(lots, " ") != "1001/1" {
		t.Fatalf("planned on machines: %v, ends %+v", lots, ends)
	}
	for _, e := range ends { // both leave with the later one
		if e.Day != on(12) || e.Late > 0 {
			t.Errorf("line %d leaves %s, %v s late", e.Line, e.Day, e.Late)
		}
	}
	if e := ends[1]; e.Partner != "Netherby" || !strings.Contains(said, "when this line is done; the line that waits for it: 1; day to promise: 12 Mar") {
		t.Errorf("line 2: %+v; the plan says %s", e, said)
	}

	// Priced on what the partner asks, with the shop's margin and step; never named on papers.
	q, err := ask.Quote(bg, b.Asked(), ask.QuoteQuestion{Now: b.at, Order: o.ID})
	if err != nil {
		t.Fatal(err)
	}
	w, _, err := b.Setups.Workshop(bg)
	if err != nil {
		t.Fatal(err)
	}
	l := &q.Lines[1]
	if want := w.Money.Price(decimal.RequireFromString("1.30")); !l.Price.Equal(want) || !l.Sum.Equal(want.Mul(decimal.NewFromInt(40))) ||
		len(l.On()) != 0 || len(l.Steps) != 1 {
		t.Errorf("line 2 costs %s each, wanted %s: %+v", l.Price, want, l)
	}
	if !strings.Contains(q.Caveats.Text(nil), "that day is the partner’s word") || strings.Contains(strings.Join(q.Notes, " "), "Netherby") {
		t.Errorf("caveats %s; notes %q", q.Caveats.Text(nil), q.Notes)
	}
	// Where the shop has no part in it no chance is said; the quote's paper does not tell that there is a partner.
	alone, _, err := b.AddOrder(bg, book.Order{Customer: "Quay", Weight: 1, Due: on(27), State: book.Requested, Lines: o.Lines[1:]}, "Tam")
	if err != nil {
		t.Fatal(err)
	}
	byWord, err := ask.Quote(bg, b.Asked(), ask.QuoteQuestion{Now: b.at, Order: alone.ID})
	if err != nil {
		t.Fatal(err)
	}
	if says := ask.QuoteDay(byWord.Quote).Text(nil); byWord.Chance != 0 || byWord.Promise != on(27) || !strings.HasPrefix(says, "Promise Fri 27 Mar, the day that is wanted. ") {
		t.Errorf("a partner alone: %v, %s, %s", byWord.Chance, byWord.Promise, says)
	}
	if q.Chance != .9 {
		t.Errorf("with a part of the shop's own the chance is %v", q.Chance)
	}
	// Another quantity of line 1 leaves line 2 in the sum.
	for _, s := range q.Lines[0].Steps {
		want := s.Price.Mul(decimal.NewFromInt(int64(s.Quantity))).Add(s.SetupFee).Add(l.Sum)
		if !s.Net.Equal(want) || s.Quantity == 12 && !s.Net.Equal(q.Net) {
			t.Errorf("with %d pieces of line 1 the quote is %s, wanted %s", s.Quantity, s.Net, want)
		}
	}

	// No machine, no run sheet, no part of the delivery before the last piece.
	if _, err := b.Start(bg, o.ID, 2, b.m["Gannet"], 0, "", ""); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("started here: %v", err)
	}
	if _, err := ask.RunSheet(bg, b.Asked(), ask.RunSheetQuestion{Now: b.at, Order: o.ID, Line: 2}); err == nil {
		t.Error("it has a run sheet")
	}
	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 12}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	if _, _, err := b.Deliver(bg, book.HandOver{OrderID: o.ID, Line: 1}, 0, ""); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("a part delivered: %v", err)
	}

	change := func(p book.Partner) (*book.Order, error) {
		t.Helper()
		now := orderNow(t, b, o.ID)
		now.Lines[1].Partner = p
		kept, _, err := b.ChangeOrder(bg, *now, "Tam")
		return kept, err
	}
	p := book.Partner{Name: "Netherby", Days: 10, Price: price("1.30"), Sent: on(3)}
	if _, err := change(p); err != nil {
		t.Fatal(err)
	}
	b.at = b.at.AddDate(0, 0, 13) // 15 March: it was to be back on the 13th
	if _, ends, said := plan(); len(ends) != 1 || ends[0].Day.Before(on(16)) || !strings.Contains(said, "was to be back from Netherby on 13 Mar 2026 and is not") {
		t.Errorf("overdue: %+v; %s", ends, said)
	}
	a, err := ask.Today(bg, b.Asked(), ask.TodayQuestion{Now: b.at})
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, x := range a.Watch {
		found = found || x.Kind == ask.WatchPartner && strings.Contains(x.Say.Text(nil), "was to be back Fri 13 Mar and is not")
	}
	if !found {
		t.Errorf("today: %+v", a.Watch)
	}
	p.Back = on(15)
	kept, err := change(p)
	if err != nil || kept.State != book.Sewn || kept.Lines[1].Good != 40 {
		t.Fatalf("back: %v, %+v", err, kept)
	}
	p.Back = words.Day{}
	if kept, err = change(p); err != nil || kept.State != book.Sewing || kept.Lines[1].Good != 0 {
		t.Errorf("not back after all: %v, %+v", err, kept)
	}
	for _, bad := range []book.Partner{{Days: 3}, {Name: "N"}, {Name: "N", Days: 3, Back: on(9)}, {Name: "N", Days: 3, Price: price("-1")}} {
		if _, err := change(bad); shop.CodeOf(err) != shop.Invalid {
			t.Errorf("%+v: %v", bad, err)
		}
	}
	history, err := b.Orders.History(bg, o.ID)
	if err != nil {
		t.Fatal(err)
	}
	for _, h := range history {
		if strings.Contains(h.What, "1.3") {
			t.Errorf("the history tells a price: %s", h.What)
		}
	}
	if c := b.since(t); strings.Contains(c.Verdict.Text(nil), "1.3") {
		t.Errorf("the plan's changes tell a price: %s", c.Verdict.Text(nil))
	}
}

// What a partner asks for nothing is not known: the line has no price, and the order none.
func TestAPartnerWithoutAPriceIsNotQuoted(t *testing.T) {
	b := fresh(t)
	o, _, err := b.AddOrder(bg, book.Order{Customer: "Quay", Weight: 1, State: book.Requested, Lines: []book.OrderLine{
		{DesignID: b.designs["gull-cap.dst"], Quantity: 12},
		{DesignID: b.designs["wheel-badge.dst"], Quantity: 40, LinePieces: book.LinePieces{Partner: book.Partner{Name: "Netherby", Days: 10}}}}}, "")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := ask.Quote(bg, b.Asked(), ask.QuoteQuestion{Now: b.at, Order: o.ID}); err == nil || !strings.Contains(err.Error(), "line 2 is made by Netherby: put in what Netherby asks") {
		t.Errorf("quoted without what the partner asks: %v", err)
	}
}

// What leaves together leaves with the least sure of its lines, whichever stands first.
func TestOneDeliveryIsAsSureAsItsLeastSureLine(t *testing.T) {
	for _, first := range []bool{true, false} {
		chances := func(together bool) (all []float64) {
			b := fresh(t)
			lines := []book.OrderLine{{DesignID: b.designs["wheel-badge.dst"], Quantity: 1500}, {DesignID: b.designs["gull-cap.dst"], Quantity: 12}}
			if !first {
				slices.Reverse(lines)
			}
			due := words.NewDay(2026, 3, 4)
			if _, _, err := b.AddOrder(bg, book.Order{Customer: "Quay", Weight: 1, Due: due, State: book.Agreed, Together: together, Lines: lines}, ""); err != nil {
				t.Fatal(err)
			}
			for _, e := range b.plan(t).Plan.Ends {
				all = append(all, e.OnTime)
			}
			return all
		}
		apart, one := chances(false), chances(true)
		if len(apart) != 2 || slices.Max(apart)-slices.Min(apart) < .3 {
			t.Fatalf("apart the lines are as sure as %v", apart)
		}
		if one[0] != one[1] || math.Abs(one[0]-slices.Min(apart)) > .1 {
			t.Errorf("in one delivery as sure as %v, apart %v", one, apart)
		}
	}
}
