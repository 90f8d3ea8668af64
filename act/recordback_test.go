package act_test

import (
	"strings"
	"sync"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// reported is an agreed order of 240 pieces with what was recorded on Gannet.
func reported(t *testing.T, b *bench, good, spoilt int, how act.Recording) (*book.Order, *act.Recorded, error) {
	t.Helper()
	o := b.order(t, "gull-cap.dst", 240, "", book.Agreed)
	r, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: good, Spoilt: spoilt,
		Breaks: 4, RunTimed: 500}, how, "Ida")
	return o, r, err
}

func TestMoreThanOrderedAsksFirst(t *testing.T) {
	b := fresh(t)
	o, _, err := reported(t, b, 500, 0, act.Recording{})
	if e := shop.ErrorOf(err); e == nil || e.Key != "over" || !strings.Contains(e.Text, "260 more than ordered") {
		t.Fatalf("500 of 240: %v", err)
	}
	if now, err := b.Orders.Get(bg, o.ID); err != nil || now.Version != o.Version || now.Lines[0].Good != 0 {
		t.Errorf("what was refused is kept: %+v, %v", now, err)
	}
	if _, r, err := reported(t, b, 500, 0, act.Recording{Over: true}); err != nil || r.Order.State != book.Sewn {
		t.Errorf("500 of 240 that are meant: %+v, %v", r, err)
	}
}

// An order that was sewn by a slip is open again, its list tells all, and
// nothing of the slip is learned.
func TestAReportIsTakenBackWithAllThatCameOfIt(t *testing.T) {
	b := fresh(t)
	o, r, err := reported(t, b, 500, 2, act.Recording{Over: true})
	if err != nil || r.Order.State != book.Sewn {
		t.Fatal(r, err)
	}
	before, err := b.Asked().Seen(bg)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.TakeBack(bg, o.ID, "1", r.Order.Version, strings.Repeat("x", 1001), "Tam"); err == nil || shop.ErrorOf(err).Key != "why" {
		t.Errorf("why, in 1,001 letters: %v", err)
	}
	now, err := b.TakeBack(bg, o.ID, "1", r.Order.Version, "it was another order", "Tam")
	if err != nil {
		t.Fatal(err)
	}
	if l := now.Lines[0]; now.State != book.Agreed || l.Good != 0 || l.Spoilt != 0 || l.Left() != 240 {
		t.Errorf("taken back: %+v", now)
	}
	all, err := b.Orders.Reports(bg, o.ID)
	if err != nil || len(all) != 1 || all[0].Good != 500 || all[0].TakenBack == nil || all[0].TakenBack.By != "Tam" ||
		all[0].TakenBack.Why != "it was another order" {
		t.Errorf("the list: %+v, %v", all, err)
	}
	if standing, err := b.Asked().Reports(bg); err != nil || len(standing) != 0 {
		t.Errorf("the plan still sees %+v, %v", standing, err)
	}
	seen, err := b.Asked().Seen(bg)
	if err != nil || before.Changed(seen) == "" || seen.Reports == before.Reports {
		t.Errorf("what was made from the reports is not stale: %v, %v", before, seen)
	}
	runs, err := b.Timings.Runs(bg, b.m["Gannet"])
	if err != nil || len(runs) != 1 || !runs[0].Ignored {
		t.Errorf("its run is still learned from: %+v, %v", runs, err)
	}
	h, err := b.Orders.History(bg, o.ID)
	if err != nil || !strings.Contains(h[len(h)-1].What, "report 1 taken back: line 1: 500 good, 2 spoilt; the order is "+
		"agreed (was sewn): it was another order") {
		t.Errorf("history: %+v, %v", h, err)
	}
	if _, err := b.TakeBack(bg, o.ID, "1", 0, "", ""); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("taken back twice: %v", err)
	}
	if _, err := b.TakeBack(bg, o.ID, "7", 0, "", ""); shop.CodeOf(err) != shop.NotFound {
		t.Errorf("a report that is not there: %v", err)
	}
}

func TestACorrectedReportStandsInThePlaceOfTheOldOne(t *testing.T) {
	b := fresh(t)
	o, r, err := reported(t, b, 240, 0, act.Recording{})
	if err != nil || r.Order.State != book.Sewn {
		t.Fatal(r, err)
	}
	new := r.Report
	new.Good, new.Spoilt, new.Again = 200, 6, 4
	out, err := b.Correct(bg, o.ID, r.Report.ID, new, act.Recording{Saw: r.Order.Version}, "Tam")
	if err != nil {
		t.Fatal(err)
	}
	l := out.Order.Lines[0]
	if out.Order.State != book.Sewing || l.Good != 200 || l.Spoilt != 6 || l.Again != 4 || l.Left() != 40 ||
		l.Rework() != 6 || l.Garments() != 2 {
		t.Errorf("corrected: %+v", out.Order)
	}
	if _, err := b.Correct(bg, o.ID, r.Report.ID, new, act.Recording{}, ""); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("the old one corrected again: %v", err)
	}
	if _, err := b.Correct(bg, o.ID, "2", new, act.Recording{Saw: r.Order.Version}, ""); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("by somebody who saw the order before: %v", err)
	}
	new.Again = 7
	if _, err := b.Correct(bg, o.ID, "2", new, act.Recording{}, ""); shop.ErrorOf(err) == nil ||
		shop.ErrorOf(err).Key != "again" {
		t.Errorf("more to sew again than were spoilt: %v", err)
	}
	all, err := b.Orders.Reports(bg, o.ID)
	if err != nil || len(all) != 2 || all[0].TakenBack == nil || all[1].Corrects != all[0].ID || all[1].Number != 2 {
		t.Errorf("the list: %+v, %v", all, err)
	}
	// What was spoilt is a lot of its own in the plan, and on the run sheet.
	p := b.plan(t).Plan
	pieces := map[bool]int{}
	for _, lot := range p.Lots {
		pieces[lot.Again] += lot.Quantity
	}
	if pieces[true] != 6 || pieces[false] != 34 || len(p.Ends) != 1 || p.Ends[0].Quantity != 40 {
		t.Errorf("the plan has %v, ends %+v", pieces, p.Ends)
	}
	sheet, err := ask.RunSheet(bg, b.Asked(), ask.RunSheetQuestion{Now: b.at, Order: o.ID, Line: 1})
	if err != nil || sheet.Again != 6 || sheet.Garments != 2 {
		t.Errorf("the run sheet: %+v, %v", sheet, err)
	}
}

// Of several who take back and correct the same report at once one comes
// through.
func TestOneOfSeveralTakesAReportBack(t *testing.T) {
	b := fresh(t)
	o, r, err := reported(t, b, 100, 0, act.Recording{})
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	var mu sync.Mutex
	done := 0
	for i := range 8 {
		wg.Go(func() {
			var err error
			if i%2 == 0 {
				_, err = b.TakeBack(bg, o.ID, "1", 0, "", "")
			} else {
				_, err = b.Correct(bg, o.ID, "1", r.Report, act.Recording{}, "")
			}
			mu.Lock()
			defer mu.Unlock()
			if err == nil {
				done++
			} else if shop.CodeOf(err) != shop.Conflict {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	now, err := b.Orders.Get(bg, o.ID)
	if err != nil || done != 1 || now.Version != r.Order.Version+1 || now.Lines[0].Good != 0 && now.Lines[0].Good != 100 {
		t.Errorf("%d came through: %+v, %v", done, now, err)
	}
}

func TestAnOrderThatIsSewingIsPartlyDelivered(t *testing.T) {
	b := fresh(t)
	o, r, err := reported(t, b, 100, 0, act.Recording{})
	if err != nil {
		t.Fatal(err)
	}
	for pieces, key := range map[int]string{101: "pieces", -1: "pieces"} {
		_, _, err := b.Deliver(bg, book.HandOver{OrderID: o.ID, Line: 1, Pieces: pieces}, 0, "")
		if e := shop.ErrorOf(err); e == nil || e.Key != key {
			t.Errorf("%d of 100: %v", pieces, err)
		}
	}
	now, d, err := b.Deliver(bg, book.HandOver{OrderID: o.ID, Line: 1, Pieces: 60, Note: "by bicycle"}, r.Order.Version, "Ida")
	if err != nil || now.State != book.Sewing || now.Lines[0].Delivered != 60 || d.Day.String() != "2026-03-02" || d.By != "Ida" {
		t.Fatalf("%+v %+v %v", now, d, err)
	}
	if _, _, err := b.Deliver(bg, book.HandOver{OrderID: o.ID, Line: 1}, r.Order.Version, ""); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("by somebody who saw the order before: %v", err)
	}
	if _, err := b.TakeBack(bg, o.ID, "1", 0, "", ""); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("a report whose pieces are delivered is taken back: %v", err)
	}
	if _, err = b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 140, Breaks: -1}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	now, _, err = b.Deliver(bg, book.HandOver{OrderID: o.ID, Line: 1}, 0, "")
	if err != nil || now.State != book.Delivered || now.Lines[0].Delivered != 240 {
		t.Fatalf("all delivered: %+v %v", now, err)
	}
	if _, err := b.TakeBackDelivery(bg, o.ID, "2", 0, strings.Repeat("x", 1001), "Tam"); err == nil || shop.ErrorOf(err).Key != "why" {
		t.Errorf("why, in 1,001 letters: %v", err)
	}
	if _, err := b.TakeBackDelivery(bg, o.ID, "2", now.Version-1, "", "Tam"); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("taken back by somebody who saw the order before: %v", err)
	}
	now, err = b.TakeBackDelivery(bg, o.ID, "2", now.Version, "not yet", "Tam")
	if err != nil || now.State != book.Sewn || now.Lines[0].Delivered != 60 {
		t.Errorf("taken back: %+v %v", now, err)
	}
	all, err := b.Orders.Deliveries(bg, o.ID)
	if err != nil || len(all) != 2 || all[0].TakenBack != nil || all[1].TakenBack == nil || all[1].Pieces != 180 {
		t.Errorf("the list: %+v %v", all, err)
	}
}

// An order may be entered after pieces of it were sewn; a day far before it is a slip of the year.
func TestADayOfAnotherYearIsASlip(t *testing.T) {
	b := fresh(t)
	o := b.twoLines(t, "2026-03-20", book.Agreed, false)
	for day, ok := range map[string]bool{"1999-01-01": false, "2025-02-28": false, "2025-03-01": true, "2026-02-27": true} {
		d, err := words.ParseDay(day)
		if err != nil {
			t.Fatal(err)
		}
		_, err = b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Day: d, Good: 1, Breaks: -1}, act.Recording{}, "")
		if (err == nil) != ok || err != nil && !strings.Contains(err.Error(), "check the year") {
			t.Errorf("pieces of %s: %v", day, err)
		}
	}
}

// An order that was moved to delivered whole keeps its reports: one taken back would leave pieces to sew of what the customer has.
func TestAReportOfADeliveredOrderStays(t *testing.T) {
	b := fresh(t)
	o, r, err := reported(t, b, 240, 0, act.Recording{})
	if err != nil || r.Order.State != book.Sewn {
		t.Fatal(r, err)
	}
	if _, err := b.Orders.Move(bg, o.ID, 0, book.Delivered, "", ""); err != nil {
		t.Fatal(err)
	}
	_, err = b.TakeBack(bg, o.ID, "1", 0, "", "")
	if shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), "delivered") {
		t.Errorf("taken back: %v", err)
	}
	if now, err := b.Orders.Get(bg, o.ID); err != nil || now.State != book.Delivered || now.Lines[0].Good != 240 {
		t.Errorf("%+v, %v", now, err)
	}
}
