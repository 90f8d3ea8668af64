package act_test

import (
	"math"
	"needlepace/act"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/machine"
	"needlepace/paper"
	"needlepace/shop"
	"needlepace/words"
)

func TestAQuoteAddsUp(t *testing.T) {
	b := fresh(t)
	o, _, err := b.AddOrder(bg, book.Order{Customer: "Gull", Due: words.NewDay(2026, 3, 20), Weight: 1, Lines: []book.OrderLine{
		{DesignID: b.designs["gull-cap.dst"], Quantity: 40, LineGoods: book.LineGoods{CapFrame: true}, Digitize: true},
		{DesignID: b.designs["chowder-patch.dst"], Quantity: 17},
	}}, "")
	if err != nil {
		t.Fatal(err)
	}
	for _, apart := range []bool{false, true} {
		if apart {
			b.workshop(t, "quote_valid_days = 30", "quote_valid_days = 30\nset_up_as_fee = true")
		}
		q, err := b.KeepOneQuote(o.ID, "Maud")
		if err != nil {
			t.Fatal(err)
		}
		sum := decimal.Zero
		for _, l := range q.Lines {
			if want := l.Price.Mul(decimal.NewFromInt(int64(l.Quantity))); !l.Sum.Equal(want) {
				t.Errorf("%d × %s is %s, not %s", l.Quantity, l.Price, want, l.Sum)
			}
			sum = sum.Add(l.Sum)
			own := false
			for i, s := range l.Steps {
				own = own || s.Quantity == l.Quantity
				// Price = cost / (1 − margin), rounded up to the price step of 0.05 (the workshop's 35 %).
				least := s.Cost.Div(decimal.RequireFromString("0.65"))
				if s.PriceOf > 0 || s.AtCost { // money's tests follow those
					if s.Price.LessThan(s.Cost) && !apart {
						t.Errorf("%d pieces at %s cost %s each", s.Quantity, s.Price, s.Cost)
					}
					continue
				}
				if !apart && (s.Price.LessThan(least) || s.Price.Sub(least).GreaterThanOrEqual(decimal.RequireFromString("0.05"))) {
					t.Errorf("%d pieces at %s cost %s each", s.Quantity, s.Price, s.Cost)
				}
				if apart {
					// Set-up asked for once, and not in the piece's price too: both together are
					// the cost with the margin, each rounded up to the price step.
					n := decimal.NewFromInt(int64(s.Quantity))
					over := s.Price.Mul(n).Add(s.SetupFee).Sub(least.Mul(n))
					most := decimal.RequireFromString("0.05").Mul(n.Add(decimal.NewFromInt(1)))
					if over.IsNegative() || over.GreaterThan(most) || !s.SetupFee.IsPositive() || !s.SetupFee.Equal(l.Steps[0].SetupFee) {
						t.Errorf("%d pieces at %s and %s once are %s over what they must bring", s.Quantity, s.Price, s.SetupFee, over)
					}
				} else if !s.SetupFee.IsZero() {
					t.Errorf("a fee of %s beside a price with the set-up in it", s.SetupFee)
				}
				if !s.Price.Mod(decimal.RequireFromString("0.05")).IsZero() {
					t.Errorf("%s is no multiple of the price step", s.Price)
				}
				if i > 0 && s.Price.GreaterThan(l.Steps[i-1].Price) {
					t.Errorf("%d pieces cost %s each, %d cost %s", s.Quantity, s.Price, l.Steps[i-1].Quantity, l.Steps[i-1].Price)
				}
			}
			if !own {
				t.Error("the order's own quantity is not among the steps")
			}
		}
		var fees []string
		for _, f := range q.Fees {
			sum = sum.Add(f.Amount)
			fees = append(fees, f.Name)
		}
		if want := map[bool]int{false: 1, true: 3}[apart]; len(fees) != want {
			t.Errorf("fees %q, want %d", fees, want)
		}
		if !q.Net.Equal(sum) || !q.Gross.Equal(q.Net.Add(q.Tax)) || !q.Gross.Equal(sum.Mul(decimal.RequireFromString("1.2")).Round(2)) {
			t.Errorf("lines and fees %s, net %s, tax %s, gross %s", sum, q.Net, q.Tax, q.Gross)
		}
		if q.Earliest.Before(words.NewDay(2026, 3, 2)) || q.Promise.Before(q.Earliest) || q.Promise != words.NewDay(2026, 3, 20) || q.OnTime < .9 {
			t.Errorf("earliest %s, promise %s, chance %v: what is wanted late can be promised as wanted", q.Earliest, q.Promise, q.OnTime)
		}
		p, err := paper.QuoteOf(bg, b.Asked(), q.Quote, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		if err := p.PDF(&strings.Builder{}, "A4"); err != nil {
			t.Error(err)
		}
	}
	kept, err := b.Plans.Quotes(bg, o.ID)
	if err != nil || len(kept) != 2 || kept[0].Serial != "1001-2" && kept[1].Serial != "1001-2" {
		t.Errorf("%d quotes kept, %v", len(kept), err)
	}
	after, err := b.Orders.Get(bg, o.ID)
	if err != nil || after.State != book.Quoted || after.Promised != words.NewDay(2026, 3, 20) {
		t.Errorf("the order after it: %+v, %v", after, err)
	}
}

func TestAWantedDayTooSoonIsNotPromised(t *testing.T) {
	b := fresh(t)
	b.order(t, "ostrel-light.dst", 3000, "2026-03-06", book.Agreed)
	b.plan(t)
	o := b.order(t, "harbour-jacket-back.dst", 120, "2026-03-03", book.Requested)
	q, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: o.ID})
	if err != nil {
		t.Fatal(err)
	}
	if !q.Promise.After(words.NewDay(2026, 3, 3)) || q.OnTime > .5 {
		t.Errorf("promised %s with a chance of %v for the wanted day", q.Promise, q.OnTime)
	}
	after, err := b.Orders.Get(bg, o.ID)
	if err != nil || after.State != book.Requested || !after.Promised.IsZero() {
		t.Errorf("a quote that was not kept changed the order: %+v, %v", after, err)
	}
	more, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: o.ID, Chance: .99})
	if err != nil || more.Promise.Before(q.Promise) {
		t.Errorf("99 %% gives %s, 90 %% gives %s; %v", more.Promise, q.Promise, err)
	}
}

func TestReportsMoveTheRatesAndOneSlipDoesNot(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "ostrel-light.dst", 5000, "", book.Agreed)
	rate := func() book.Rates {
		t.Helper()
		all, err := b.FloorRates(bg)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range all {
			if r.Machine.Name == "Gannet" {
				return r.Rates
			}
		}
		t.Fatal("no Gannet")
		return book.Rates{}
	}
	start := rate()
	if start.Pace != 1 || start.Breaks != .006 {
		t.Fatalf("without reports: %+v", start)
	}
	// A slip: one second for twenty pieces.
	slip, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 20, Breaks: 0, Seconds: 1}, act.Recording{}, "")
	if err != nil {
		t.Fatal(err)
	}
	if len(slip.Notes) == 0 || !strings.Contains(slip.Notes[0], "check the hours") {
		t.Errorf("a slip is not told of: %q", slip.Notes)
	}
	if r := rate(); r.Pace < .75 || r.Pace >= 1 {
		t.Errorf("one slip moved the pace to %v", r.Pace)
	}
	// Now true reports, each 20 % slower than predicted.
	perPiece := slip.Predicted
	for range 40 {
		if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 20, Breaks: -1, Seconds: 1.2 * 20 * perPiece}, act.Recording{}, ""); err != nil {
			t.Fatal(err)
		}
	}
	r := rate()
	if math.Abs(r.Pace-1.2) > .08 {
		t.Errorf("after forty reports 20 %% slow the pace is %v", r.Pace)
	}
	// One count of no breaks over 20 pieces moves the rate by the gamma posterior's mean:
	// (3 + 0) / (3/0.006 + sewn/1000).
	if want := 3 / (3/.006 + r.Sewn/1000); r.Counted != 0 || math.Abs(r.Breaks-want) > 1e-12 || r.Sewn == 0 {
		t.Errorf("breaks %v over %v stitches, want %v", r.Breaks, r.Sewn, want)
	}
}

// What the floor says of a machine's pace goes into whatever is asked of it: the
// plan's lots, the run sheet's runs and the quote's pieces all take so many
// times as long as before, and a piece costs more.
func TestASlowMachineTakesLongerInPlanRunSheetAndQuote(t *testing.T) {
	b := fresh(t)
	on := b.m["Gannet"]
	o := b.order(t, "ostrel-light.dst", 5000, "", book.Agreed)
	if _, err := b.Start(bg, o.ID, 1, on, 0, "", ""); err != nil {
		t.Fatal(err)
	}
	wanted := b.order(t, "gull-cap.dst", 40, "", book.Requested)
	type seen struct{ lot, run, piece, cost float64 }
	look := func() (s seen) {
		t.Helper()
		for _, l := range b.plan(t).Plan.Lots {
			if l.OrderID == o.ID && l.MachineID == on {
				s.lot = l.Work / float64(l.Runs)
			}
		}
		r, err := b.MakeRunSheet(bg, o.ID, 1, on, 12)
		if err != nil {
			t.Fatal(err)
		}
		q, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: wanted.ID, Machine: on})
		if err != nil {
			t.Fatal(err)
		}
		if q.Lines[0].Machine != "Gannet" {
			t.Fatalf("asked for a price on Gannet, costed on %s", q.Lines[0].Machine)
		}
		return seen{s.lot, r.Cycle, q.Lines[0].Piece, q.Lines[0].Cost.InexactFloat64()}
	}
	before := look()
	for range 5 {
		r := book.Report{OrderID: o.ID, Line: 1, MachineID: on, Good: 60, Breaks: -1, Seconds: 60 * 1.4 * before.lot}
		if _, err := b.Record(bg, r, act.Recording{}, ""); err != nil {
			t.Fatal(err)
		}
	}
	rates, err := b.FloorRates(bg)
	if err != nil {
		t.Fatal(err)
	}
	pace := 0.0
	for _, r := range rates {
		if r.Machine.ID == on {
			pace = r.Pace
		}
	}
	if pace < 1.1 {
		t.Fatalf("reports that took 1.4 times as long make a pace of %v", pace)
	}
	after := look()
	for what, ratio := range map[string]float64{
		"a run of the plan": after.lot / before.lot, "a run of the run sheet": after.run / before.run,
		"a piece of the quote": after.piece / before.piece,
	} {
		if math.Abs(ratio-pace) > 1e-6 {
			t.Errorf("the pace is %v, but %s takes %v times as long as before", pace, what, ratio)
		}
	}
	if after.cost <= before.cost {
		t.Errorf("a piece cost %v, on the slower machine %v", before.cost, after.cost)
	}
	// The pace is the machine's: a new name keeps it, another clock begins anew.
	change := func(do func(*machine.Sheet)) float64 {
		m, err := b.Machines.Get(bg, on)
		if err != nil {
			t.Fatal(err)
		}
		sheet := *m.Sheet
		do(&sheet)
		if _, err := b.Machines.ChangeSheet(bg, on, m.Version, string(sheet.TOML()), "", ""); err != nil {
			t.Fatal(err)
		}
		all, err := b.FloorRates(bg)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range all {
			if r.Machine.ID == on {
				return r.Pace
			}
		}
		return 0
	}
	if got := change(func(s *machine.Sheet) { s.Name, s.SD = "Petrel", nil }); got != pace {
		t.Errorf("renamed, its pace is %v, it was %v", got, pace)
	}
	if got := change(func(s *machine.Sheet) { s.MaxSpeed -= 100 }); got != 1 {
		t.Errorf("with another clock its pace is %v, want 1", got)
	}
}

// Half an hour before midnight by UTC it is the next day in Auckland: a shop
// there quotes, records and takes quotes on its own day.
func TestTodayIsTheShopsDay(t *testing.T) {
	b := fresh(t)
	b.workshop(t, `time_zone = "UTC"`, `time_zone = "Pacific/Auckland"`)
	b.at = time.Date(2026, 3, 2, 23, 30, 0, 0, time.UTC)
	today := words.NewDay(2026, 3, 3)
	o := b.order(t, "gull-cap.dst", 4, "2026-05-20", book.Requested)
	q, err := b.KeepOneQuote(o.ID, "")
	if err != nil {
		t.Fatal(err)
	}
	if q.Day != today || q.Valid != today.Add(30) {
		t.Errorf("quoted on %s, valid to %s; the shop's day is %s", q.Day, q.Valid, today)
	}
	b.at = time.Date(2026, 4, 2, 11, 30, 0, 0, time.UTC) // 3 April, 00:30 there
	if _, err := b.AcceptQuote(bg, o.ID, q.ID, 0, false, ""); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("a quote valid to %s on the day after: %v", q.Valid, err)
	}
	b.at = b.at.Add(-24 * time.Hour)
	if _, err := b.AcceptQuote(bg, o.ID, q.ID, 0, false, ""); err != nil {
		t.Errorf("a quote valid to %s on that day: %v", q.Valid, err)
	}
	b.at = b.at.Add(-24 * time.Hour)
	r := book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 1, Breaks: -1}
	done, err := b.Record(bg, r, act.Recording{}, "")
	if err != nil || done.Report.Day != words.NewDay(2026, 4, 1) {
		t.Errorf("recorded on %+v, %v; the shop's day is 1 April", done, err)
	}
}

func TestWhatIfKeepsNothing(t *testing.T) {
	b := fresh(t)
	for i, f := range []string{"ostrel-light.dst", "gull-cap.dst", "saltmere-oars.dst", "whale-line.dst"} {
		b.order(t, f, 100+50*i, "2026-03-06", book.Agreed)
	}
	first := b.plan(t).Plan
	from, to := "2026-03-02 07:00", "2026-03-04 15:30"
	a, err := b.TryPlan(bg, ask.PlanQuestion{Seed: 1, Moves: 3000, NoBound: true, Down: []book.DownTime{{Machine: "Six Sisters", From: from, To: to}}})
	if err != nil {
		t.Fatal(err)
	}
	down, err := time.Parse("2006-01-02 15:04", to)
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range a.Plan.Lots {
		if l.Machine == "Six Sisters" && l.SetupFrom.Before(down) {
			t.Errorf("%s is sewn on the machine that is down, from %v", l.Name, l.SetupFrom)
		}
	}
	if len(a.Moved) == 0 || a.Plan.Done.Before(a.Before.Done) {
		t.Errorf("a machine less for three days moved %d lines and ends %v, before %v", len(a.Moved), a.Plan.Done, a.Before.Done)
	}
	for _, m := range a.Moved {
		if m.Why == "" {
			t.Errorf("%s moved and nobody knows why", m.Name)
		}
	}
	rush := b.order(t, "harbour-jacket-back.dst", 12, "2026-03-03", book.Requested)
	priority := 50.0
	a, err = b.TryPlan(bg, ask.PlanQuestion{Seed: 1, Moves: 3000, NoBound: true, Rush: []ask.Rush{{Order: rush.ID, Priority: &priority}}, Operators: 1})
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, e := range a.Plan.Ends {
		found = found || e.OrderID == rush.ID
	}
	if !found {
		t.Error("the rush order is not in the plan that was tried")
	}
	last, err := b.Plans.Last(bg)
	if err != nil || last.Version != first.Version || len(last.Lots) != len(first.Lots) {
		t.Errorf("trying kept a plan: %v", err)
	}
	if o, err := b.Orders.Get(bg, rush.ID); err != nil || o.State != book.Requested {
		t.Errorf("trying changed the order: %+v, %v", o, err)
	}
	if _, err := b.MakePlan(bg, ask.PlanQuestion{Operators: 1}, ""); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("a what-if was kept as the plan: %v", err)
	}
	if _, err := b.TryPlan(bg, ask.PlanQuestion{Operators: -2}); err == nil || !strings.Contains(err.Error(), "nobody is left") {
		t.Errorf("two operators fewer of two: %v", err)
	}
}

func TestAMoveByHandCostsWhatThePlanSays(t *testing.T) {
	b := fresh(t)
	var orders []*book.Order
	for i, f := range []string{"ostrel-light.dst", "saltmere-oars.dst", "chowder-patch.dst"} {
		orders = append(orders, b.order(t, f, 120+30*i, "2026-03-04", book.Agreed))
	}
	if _, err := b.MoveCost(bg, orders[0].ID, 1, "", b.m["Gannet"], -1); shop.CodeOf(err) != shop.NotFound {
		t.Errorf("a move without a plan: %v", err)
	}
	p := b.plan(t).Plan
	l := p.Lots[0]
	same, err := b.MoveCost(bg, l.OrderID, l.Line, l.MachineID, l.MachineID, 0)
	if err != nil {
		t.Fatal(err)
	}
	if len(same.Lines) != 0 || same.LateHours != 0 {
		t.Errorf("a lot put where it is costs %+v", same)
	}
	slow, err := b.MoveCost(bg, l.OrderID, l.Line, l.MachineID, b.m["Skipper"], -1)
	if err != nil {
		t.Fatal(err)
	}
	// What a move adds is what is there after it and was not before.
	for what, x := range map[string][3]float64{
		"late hours":    {slow.LateHours, slow.After.LateHours, slow.Before.LateHours},
		"machine hours": {slow.MachineHours, slow.After.WorkHours, slow.Before.WorkHours},
		"set-up hours":  {slow.SetupHours, slow.After.SetupHours, slow.Before.SetupHours},
	} {
		if math.Abs(x[0]-(x[1]-x[2])) > 1e-9 {
			t.Errorf("%s: %v after, %v before, told is %v", what, x[1], x[2], x[0])
		}
	}
	// Hold it there: the plan then has it on that machine, and the plan made for the same
	// moment is no better than the move, which is one of the plans it may choose.
	if _, err := b.HoldLine(bg, l.OrderID, l.Line, b.m["Skipper"], time.Time{}, ""); err != nil {
		t.Fatal(err)
	}
	after := b.plan(t)
	for _, k := range after.Plan.Lots {
		if k.OrderID == l.OrderID && (k.MachineID != b.m["Skipper"] || !k.Held) {
			t.Errorf("held on Skipper, planned on %s", k.Machine)
		}
	}
	if after.Plan.LateHours > slow.After.LateHours+.01 {
		t.Errorf("the plan with the hold is %v hours late, the move alone %v", after.Plan.LateHours, slow.After.LateHours)
	}
	why := ""
	for _, m := range after.Moved {
		if strings.HasPrefix(m.Name, l.Name+" ") {
			why = m.Why
		}
	}
	if !strings.Contains(why, "pinned by hand") {
		t.Errorf("why it moved: %q", why)
	}
}

// What was agreed keeps its day until another quote is accepted, and none is whose day has passed.
func TestAQuoteMovesNoAgreedDayAndPromisesNoneThatPassed(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 24, "2026-03-04", book.Requested)
	q, err := b.KeepOneQuote(o.ID, "")
	if err != nil {
		t.Fatal(err)
	}
	if o, err = b.AcceptQuote(bg, o.ID, q.ID, 0, false, ""); err != nil || o.Promised != words.NewDay(2026, 3, 4) {
		t.Fatal(o.Promised, err)
	}
	b.at = b.at.Add(3 * 24 * time.Hour) // the day after
	later, err := b.KeepOneQuote(o.ID, "")
	if err != nil {
		t.Fatal(err)
	}
	k, err := b.Orders.Get(bg, o.ID)
	if err != nil || k.Promised != o.Promised || !later.Promise.After(o.Promised) {
		t.Errorf("promised %s, then %s by a quote for %s: %v", o.Promised, k.Promised, later.Promise, err)
	}
	if _, err := b.AcceptQuote(bg, o.ID, q.ID, 0, false, ""); shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), "has passed") {
		t.Errorf("a day that has passed is promised: %v", err)
	}
	if k, err = b.AcceptQuote(bg, o.ID, later.ID, 0, false, ""); err != nil || k.Promised != later.Promise {
		t.Errorf("accepted: %s, %v", k.Promised, err)
	}
}

// A day that other orders have taken since is said before it is promised, and by what day it could be now; who
// accepts it all the same has it promised, and the history says so.
func TestAcceptingSaysWhereItsDayCanNoLongerBeKept(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 500, "2026-03-04", book.Requested)
	q, err := b.KeepOneQuote(o.ID, "")
	if err != nil {
		t.Fatal(err)
	}
	if sure, err := b.QuoteNow(bg, o, q.Quote); err != nil || !sure.IsZero() {
		t.Fatalf("nothing else is there, and it is said to be %s, not %s (%v)", sure, q.Promise, err)
	}
	rush := b.order(t, "gull-cap.dst", 1200, "2026-03-04", book.Agreed)
	b.plan(t)
	sure, err := b.QuoteNow(bg, o, q.Quote)
	if err != nil || !sure.After(q.Promise) {
		t.Fatalf("with order %d in the plan it could be on %s; the quote has %s (%v)", rush.Number, sure, q.Promise, err)
	}
	if _, err := b.AcceptQuote(bg, o.ID, q.ID, 0, false, ""); shop.CodeOf(err) != shop.Conflict || !strings.Contains(err.Error(), sure.Text(nil)) {
		t.Errorf("accepted without a word: %v", err)
	}
	k, err := b.AcceptQuote(bg, o.ID, q.ID, 0, true, "")
	if err != nil || k.Promised != q.Promise || k.State != book.Agreed {
		t.Fatalf("accepted all the same: %+v, %v", k, err)
	}
	if h, err := b.Orders.History(bg, o.ID); err != nil || !strings.Contains(h[len(h)-1].What+h[0].What, "the first sure day is "+sure.Text(nil)) {
		t.Errorf("its history: %+v, %v", h, err)
	}
}

// What an earlier version kept, a promised day after the latest, does not hinder other changes.
func TestAnOrderKeptWithAPromisedDayAfterItsLatestCanBeChanged(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 12, "2026-03-04", book.Agreed)
	o.Latest, o.Promised = words.NewDay(2026, 3, 5), words.NewDay(2026, 3, 19)
	if _, err := b.Orders.Change(bg, *o, ""); err == nil {
		t.Fatal("it can be promised after its latest day")
	}
	o.Version++
	if err := b.orders.ChangeOrder(bg, o, book.Change{OrderID: o.ID, Version: o.Version, At: b.at, What: "as an earlier version kept it"}); err != nil {
		t.Fatal(err)
	}
	if o, err := b.Orders.Get(bg, o.ID); err != nil || !o.Promised.After(o.Latest) {
		t.Fatal(o, err)
	}
	o, err := b.Orders.Get(bg, o.ID)
	if err != nil {
		t.Fatal(err)
	}
	o.Note = "hello"
	if o, err = b.Orders.Change(bg, *o, ""); err != nil {
		t.Fatalf("a note: %v", err)
	}
	o.Latest = words.NewDay(2026, 3, 6)
	if _, err := b.Orders.Change(bg, *o, ""); err == nil {
		t.Error("another latest day, before the promised one too, is kept")
	}
}
