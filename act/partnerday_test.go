package act_test

import (
	"testing"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/words"
)

// An order of which the shop sews a part in a day, and Netherby the other in ten, is done when Netherby's is back on
// Thursday 12 March and can leave the day after: no earlier day is promised, or said to have a chance, whatever is
// wanted and however the day is asked for.
func TestADayIsNotBeforeAPartnerIsBack(t *testing.T) {
	on := func(d int) words.Day { return words.NewDay(2026, 3, d) }
	for _, c := range []struct {
		what           string
		due            words.Day
		alone          bool
		promise, early words.Day
		surely         float64 // chance of the wanted day: 0, 1 or −1
	}{
		{"before it is back", on(10), false, on(13), on(13), 0},
		{"on the day it can leave", on(13), false, on(13), on(13), 1},
		{"after", on(20), false, on(20), on(13), 1},
		{"no day", words.Day{}, false, on(13), on(13), -1},
		{"the partner alone, before", on(10), true, on(13), on(13), 0},
		{"the partner alone, after", on(20), true, on(20), on(13), -1},
	} {
		for _, planned := range []bool{false, true} {
			b := fresh(t)
			b.workshop(t, "ready_by = ", "days_to_hand_over = 1\nready_by = ")
			o := &book.Order{Customer: "Quay", Weight: 1, Due: c.due, State: book.Agreed, Lines: []book.OrderLine{
				{DesignID: b.designs["gull-cap.dst"], Quantity: 12},
				{DesignID: b.designs["wheel-badge.dst"], Quantity: 40, LinePieces: book.LinePieces{Partner: book.Partner{Name: "Netherby", Days: 10}}}}}
			if c.alone {
				o.Lines = o.Lines[1:]
			}
			o, _, err := b.AddOrder(bg, *o, "")
			if err != nil {
				t.Fatal(err)
			}
			if planned {
				b.plan(t)
			}
			a, err := ask.Promise(bg, b.Asked(), ask.PromiseQuestion{Now: b.at, Order: o.ID, AsPlanned: planned})
			if err != nil {
				t.Fatal(err)
			}
			if a.Promise != c.promise || a.Earliest != c.early {
				t.Errorf("%s, by the kept plan %v: %s is promised, %s the earliest; wanted %s and %s", c.what, planned, a.Promise, a.Earliest, c.promise, c.early)
			}
			if known := a.OnTime >= 0; known != (c.surely >= 0) || known && (a.OnTime > .5) != (c.surely > .5) {
				t.Errorf("%s, by the kept plan %v: the chance of the wanted day is %v", c.what, planned, a.OnTime)
			}
		}
	}
}

// Lines that leave together have no chance to be in time where a partner's line is late by their word.
func TestLinesThatWaitForAPartnerHaveHisChance(t *testing.T) {
	b := fresh(t)
	for _, c := range []struct {
		due   int
		sure  bool
		alone bool
	}{{10, false, false}, {27, true, false}, {10, true, true}} {
		o := book.Order{Customer: "Quay", Weight: 1, Due: words.NewDay(2026, 3, c.due), State: book.Agreed, Together: !c.alone, Lines: []book.OrderLine{
			{DesignID: b.designs["gull-cap.dst"], Quantity: 12},
			{DesignID: b.designs["wheel-badge.dst"], Quantity: 40, LinePieces: book.LinePieces{Partner: book.Partner{Name: "Netherby", Days: 10}}}}}
		kept, _, err := b.AddOrder(bg, o, "")
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range b.plan(t).Plan.Ends {
			if e.OrderID == kept.ID && e.Line == 1 && (e.OnTime > .9) != c.sure {
				t.Errorf("due on the %dth, together %v: line 1 is in time with a chance of %v", c.due, o.Together, e.OnTime)
			}
		}
	}
}
