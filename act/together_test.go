package act_test

import (
	"sync"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/plan"
	"needlepace/shop"
)

// A report that comes while the plan is made does not throw it away: it is made again, with it.
func TestAPlanTakesInWhatIsReportedWhileItIsMade(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "wheel-badge.dst", 60, "2026-03-06", book.Agreed)
	reported := 0
	q := ask.PlanQuestion{Now: b.at, Moves: 500_000, Progress: func(plan.Progress) {
		if reported++; reported > 1 {
			return
		}
		if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 11, Breaks: -1}, act.Recording{}, "Cleo"); err != nil {
			t.Error(err)
		}
	}}
	for i := range 12 { // enough to be searched for a while
		b.order(t, "gull-cap.dst", 24+i, "2026-03-06", book.Agreed)
	}
	a, err := b.Shop.MakePlan(bg, q, "Maud")
	if err != nil {
		t.Fatal(err)
	}
	if reported < 2 {
		t.Fatal("nothing was reported while the plan was made")
	}
	left := 0
	for _, l := range a.Plan.Lots {
		if l.OrderID == o.ID {
			left += l.Quantity
		}
	}
	if kept := b.lastPlan(t); left != 49 || kept.Version != 1 || kept.By != "Maud" {
		t.Errorf("the plan sews %d of 49 pieces left, and is version %d by %q", left, kept.Version, kept.By)
	}
}

// Two phones report on one order at once: all pieces count, each once, and a report that is sent twice at once is one.
func TestReportsThatComeAtOnceAllCount(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "wheel-badge.dst", 60, "2026-03-06", book.Agreed)
	const each = 4
	var all sync.WaitGroup
	for _, how := range []act.Recording{{}, {}, {Key: "abcdefghijklmnopqrst"}, {Key: "abcdefghijklmnopqrst"}} {
		all.Go(func() {
			for range each {
				r := book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 3, Breaks: -1}
				if _, err := b.Record(bg, r, how, "Cleo"); err != nil {
					t.Errorf("key %q: %v", how.Key, err)
				}
			}
		})
	}
	all.Wait()
	now, err := b.Orders.Get(bg, o.ID)
	if err != nil || now.Lines[0].Good != 3*(2*each+1) {
		t.Errorf("%d pieces of 27 are counted, %v", now.Lines[0].Good, err)
	}
	// Who decided by what they saw is told that it is another now.
	_, err = b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 1, Breaks: -1}, act.Recording{Saw: 1}, "Cleo")
	if shop.CodeOf(err) != shop.Conflict {
		t.Errorf("a report on version 1: %v", err)
	}
}
