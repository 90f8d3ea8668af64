package act_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// What is sewn is promised no more, and no quote is accepted from when sewing began.
func TestWhatIsSewnIsPromisedNoMore(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 10, "2026-03-20", book.Agreed)
	q, err := b.KeepOneQuote(o.ID, "")
	if err != nil {
		t.Fatal(err)
	}
	for _, state := range []string{"is sewing", "is sewn"} {
		if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 5, Breaks: -1}, act.Recording{}, ""); err != nil {
			t.Fatal(err)
		}
		if _, err := b.AcceptQuote(bg, o.ID, q.ID, 0, true, ""); shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), state) {
			t.Errorf("its quote accepted: %v, want that it %s", err, state)
		}
	}
	if _, err := ask.Promise(bg, b.Asked(), ask.PromiseQuestion{Now: b.at, Order: o.ID}); err == nil || !strings.Contains(err.Error(), "still to be sewn") {
		t.Errorf("a day for what is sewn: %v", err)
	}
}

// The hours of an order that is asked for on one machine are those that the plan has for it there, set-up and all.
func TestThePromisesHoursAreThePlans(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 30, "2026-03-20", book.Agreed)
	hours := func(q ask.PromiseQuestion) float64 {
		t.Helper()
		return b.promise(t, q).Hours
	}
	alone := hours(ask.PromiseQuestion{Order: o.ID, Machine: b.m["Gannet"]})
	if _, err := b.HoldLine(bg, o.ID, 1, b.m["Gannet"], time.Time{}, ""); err != nil {
		t.Fatal(err)
	}
	want, setup := 0.0, 0.0
	for _, l := range b.plan(t).Plan.Lots {
		want, setup = want+(l.Setup+l.Work)/3600, setup+l.Setup/3600
	}
	planned := hours(ask.PromiseQuestion{Order: o.ID, AsPlanned: true})
	if setup == 0 || math.Abs(alone-want) > setup/4 || math.Abs(planned-want) > setup/4 {
		t.Errorf("on Gannet %v h asked alone, %v h by the plan; on its machine it is %v h, of them set-up %v", alone, planned, want, setup)
	}
}

// What was promised before does not count as what is wanted; what cannot be sewn is said to be in no date; the latest day
// itself is in time.
func TestWhatADayToPromiseHangsOn(t *testing.T) {
	b := fresh(t)
	large := b.order(t, "wheel-badge.dst", 3000, "2026-03-03", book.Agreed)
	large.Promised = words.NewDay(2026, 4, 10)
	if _, _, err := b.ChangeOrder(bg, *large, ""); err != nil {
		t.Fatal(err)
	}
	if a := b.promise(t, ask.PromiseQuestion{Order: large.ID}); a.OnTime > .1 || !a.Promise.After(large.Due) {
		t.Errorf("3,000 pieces in two days: a chance of %v, promised %s", a.OnTime, a.Promise)
	}
	b.plan(t) // it is sure to meet the day that was told, which says nothing of the wanted one
	if a := b.promise(t, ask.PromiseQuestion{Order: large.ID, AsPlanned: true}); a.OnTime != -1 || a.Due != large.Due {
		t.Errorf("by the plan: the day %s that is wanted has a chance of %v", a.Due, a.OnTime)
	}

	c := fresh(t)
	last := c.order(t, "gull-cap.dst", 12, "2026-03-05", book.Requested)
	last.Latest = last.Due
	if _, _, err := c.ChangeOrder(bg, *last, ""); err != nil {
		t.Fatal(err)
	}
	q, err := c.KeepOneQuote(last.ID, "")
	if err != nil || q.Promise != last.Due {
		t.Fatalf("promised %s on its latest day: %v", q.Promise, err)
	}
	if k, err := c.AcceptQuote(bg, last.ID, q.ID, 0, false, ""); err != nil || k.Promised != last.Due {
		t.Errorf("accepted on its latest day: %v", err)
	}
}

// A line that no machine can sew is in no date, and that is said.
func TestALineThatNobodySewsIsInNoDate(t *testing.T) {
	b := fresh(t)
	b.workshop(t, "field = [400, 450]", "field = [100, 100]", "field = [500, 350]", "field = [120, 120]", "cap_frame = true", "cap_frame = false")
	o := b.lines(t, "2026-03-20", book.Agreed, book.OrderLine{DesignID: b.designs["gull-cap.dst"], Quantity: 12},
		book.OrderLine{DesignID: b.designs["harbour-jacket-back.dst"], Quantity: 12})
	a := b.promise(t, ask.PromiseQuestion{Order: o.ID})
	if s := a.Caveats.Text(nil); !strings.Contains(s, "Line 2") || !strings.Contains(s, "242.0 × 279.2 mm") || a.Promise.IsZero() {
		t.Errorf("promised %s, said %q", a.Promise, s)
	}
}

// A chance is one that courses can tell apart from never and always.
func TestAChanceThatCannotBePromised(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 12, "2026-03-20", book.Agreed)
	for chance, good := range map[float64]bool{.499: false, .5: true, .995: true, .996: false, 1: false, -.9: false, math.NaN(): false, 90: false} {
		a, err := ask.Promise(bg, b.Asked(), ask.PromiseQuestion{Now: b.at, Order: o.ID, Chance: chance})
		if good != (err == nil) || err != nil && !strings.Contains(err.Error(), "give 50 to 99.5") || good && a.Chance != chance {
			t.Errorf("a chance of %v: %v", chance, err)
		}
	}
}
