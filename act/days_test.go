package act_test

import (
	"math"
	"needlepace/act"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/words"
)

// twoLines is an order of a long line and a short one.
func (b *bench) twoLines(t *testing.T, due string, state book.OrderState, shortFirst bool) *book.Order {
	t.Helper()
	day, err := words.ParseDay(due)
	if err != nil {
		t.Fatal(err)
	}
	lines := []book.OrderLine{{DesignID: b.designs["harbour-jacket-back.dst"], Quantity: 120},
		{DesignID: b.designs["gull-cap.dst"], Quantity: 2}}
	if shortFirst {
		slices.Reverse(lines)
	}
	o, _, err := b.AddOrder(bg, book.Order{Customer: "Pellsand", Due: day, Weight: 1, State: state, Lines: lines}, "")
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// An order is as likely in time, and as early done, as its last line.
func TestAnOrderWaitsForItsLastLine(t *testing.T) {
	for _, shortFirst := range []bool{false, true} {
		b := fresh(t)
		o := b.twoLines(t, "2026-03-04", book.Agreed, shortFirst)
		q := ask.PromiseQuestion{Now: b.at, Order: o.ID}
		a, err := ask.Promise(bg, b.Asked(), q)
		if err != nil {
			t.Fatal(err)
		}
		if a.OnTime > .5 || !a.Promise.After(o.Due) {
			t.Errorf("short line first %v: %v in time, promised %s", shortFirst, a.OnTime, a.Promise)
		}
		var last time.Time
		for _, e := range b.plan(t).Plan.Ends {
			if e.End.After(last) {
				last = e.End
			}
		}
		p, err := ask.Promise(bg, b.Asked(), ask.PromiseQuestion{Now: b.at, Order: o.ID, AsPlanned: true})
		if err != nil || p.Earliest.Before(words.Zone{}.Day(last)) || p.OnTime > .5 {
			t.Errorf("short line first %v: by the plan %s at the earliest, %v in time, %v; its last line ends %v",
				shortFirst, p.Earliest, p.OnTime, err, last)
		}
	}
}

// Who wants to be surer is promised a later day.
func TestASurerPromiseIsALaterDay(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "harbour-jacket-back.dst", 900, "", book.Requested)
	day := func(chance float64) words.Day {
		a, err := ask.Promise(bg, b.Asked(), ask.PromiseQuestion{Now: b.at, Order: o.ID, Chance: chance})
		if err != nil {
			t.Fatal(err)
		}
		return a.Promise
	}
	if even, sure := day(.5), day(.99); !sure.After(even) {
		t.Errorf("with a chance of 99 %% on %s, with 50 %% on %s", sure, even)
	}
}

// Nothing is sewn before its garments come, and then at once.
func TestSewingBeginsOnTheDayTheGoodsCome(t *testing.T) {
	b := fresh(t)
	b.workshop(t, `time_zone = "UTC"`, `time_zone = "America/New_York"`)
	o := book.Order{Customer: "Pellsand", Goods: words.NewDay(2026, 3, 5), Weight: 1, State: book.Agreed,
		Lines: []book.OrderLine{{DesignID: b.designs["gull-cap.dst"], Quantity: 4}}}
	if _, _, err := b.AddOrder(bg, o, ""); err != nil {
		t.Fatal(err)
	}
	p := b.plan(t).Plan
	if len(p.Lots) != 1 || p.Zone.Day(p.Lots[0].From) != o.Goods {
		t.Errorf("the goods come on %s; the plan has %+v", o.Goods, p.Lots)
	}
}

// An accepted quote promises its own day, not the one that was wished for.
func TestAnAcceptedQuotePromisesItsDay(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "harbour-jacket-back.dst", 120, "2026-03-03", book.Requested)
	q, err := b.KeepOneQuote(o.ID, "")
	if err != nil || q.Promise == q.Due {
		t.Fatalf("quoted for %s where %s is wanted, %v", q.Promise, q.Due, err)
	}
	after, err := b.AcceptQuote(bg, o.ID, q.ID, 0, false, "")
	if err != nil || after.Promised != q.Promise {
		t.Errorf("promised %+v, %v; the quote says %s", after, err, q.Promise)
	}
}

// A spoilt piece takes the machine as a good one does, and pieces beyond what
// the line asks for are told.
func TestARecordCountsGoodAndSpoiltPieces(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 10, "", book.Agreed)
	record := func(good, spoilt int) *book.Report {
		t.Helper()
		r := book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: good, Spoilt: spoilt, Breaks: -1,
			Seconds: 1200}
		got, err := b.Record(bg, r, act.Recording{Over: true}, "")
		if err != nil {
			t.Fatal(err)
		}
		if got.Real != 1200/float64(good+spoilt) {
			t.Errorf("%d pieces in 1,200 s: %v s each", good+spoilt, got.Real)
		}
		over := func(n string) bool { return strings.HasSuffix(n, "asks for: 3") }
		if slices.ContainsFunc(got.Notes, over) != (good == 5) {
			t.Errorf("%d good pieces: told is %q", good, got.Notes)
		}
		return &got.Report
	}
	mixed, good := record(4, 4), record(4, 0)
	if mixed.Stitches != 2*good.Stitches || good.Stitches == 0 || math.Abs(mixed.Predicted-2*good.Predicted) > 1e-6 {
		t.Errorf("8 pieces: %v stitches, %v s; 4 pieces: %v and %v", mixed.Stitches, mixed.Predicted, good.Stitches,
			good.Predicted)
	}
	record(5, 0) // two were left
}

// A run sheet asks for what is left, in the plan or out of it, and a run with
// empty heads takes as long as a full one.
func TestWhatIsLeftIsSewnInWholeRuns(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "ostrel-light.dst", 40, "", book.Agreed)
	on := b.m["Six Sisters"]
	record := func(good int) float64 {
		t.Helper()
		r := book.Report{OrderID: o.ID, Line: 1, MachineID: on, Good: good, Breaks: -1}
		got, err := b.Record(bg, r, act.Recording{Over: true}, "")
		if err != nil {
			t.Fatal(err)
		}
		return got.Report.Predicted
	}
	left := func(want int) {
		t.Helper()
		if r, err := b.MakeRunSheet(bg, o.ID, 1, on, 0); err != nil || r.Quantity != want {
			t.Errorf("a run sheet for %+v, %v; %d pieces are left", r, err, want)
		}
	}
	six, seven, twelve := record(6), record(7), record(12)
	if seven <= six*1.2 || seven >= twelve || math.Abs(twelve-2*six) > .01 {
		t.Errorf("6 pieces on 6 heads take %v s, 7 %v s and 12 %v s: the last run of 7 loads one piece", six, seven, twelve)
	}
	left(15)
	if _, err := b.Start(bg, o.ID, 1, on, 0, "", ""); err != nil {
		t.Fatal(err)
	}
	b.plan(t)
	record(6)
	left(9)
}

// A price on a machine is made from what that machine costs to have.
func TestAPriceIsMadeOfItsOwnMachinesCosts(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 12, "", book.Requested)
	cost := func(machine string) float64 {
		t.Helper()
		q, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: o.ID, Machine: b.m[machine]})
		if err != nil {
			t.Fatal(err)
		}
		return q.Lines[0].Cost.InexactFloat64()
	}
	gannet, skipper, sisters := cost("Gannet"), cost("Skipper"), cost("Six Sisters")
	b.workshop(t, "price = 5600", "price = 56000") // Skipper's
	if g, s, six := cost("Gannet"), cost("Skipper"), cost("Six Sisters"); s <= skipper || g != gannet || six != sisters {
		t.Errorf("with a dearer Skipper pieces cost %v, %v and %v; before %v, %v and %v", g, s, six, gannet, skipper, sisters)
	}
}
