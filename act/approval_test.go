package act_test

import (
	"strings"
	"testing"
	"time"

	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// A line that waits for its customer's approval is planned from the day on which
// that is expected, does not begin before it is there, and moves with it.
func TestALineWaitsForItsApproval(t *testing.T) {
	b := fresh(t)
	on := func(d int) words.Day { return words.NewDay(2026, 3, d) }
	o := b.order(t, "gull-cap.dst", 40, "2026-03-27", book.Agreed)
	begins := func() (first words.Day, notes string) {
		t.Helper()
		p := b.plan(t).Plan
		at := time.Time{}
		for _, l := range p.Lots {
			if at.IsZero() || l.From.Before(at) {
				at = l.From
			}
		}
		for _, n := range p.Notes {
			notes += n.Why + "; "
		}
		return p.Zone.Day(at), notes
	}
	change := func(a book.Approval) error {
		t.Helper()
		now, err := b.Orders.Get(bg, o.ID)
		if err != nil {
			t.Fatal(err)
		}
		now.Lines[0].Approval = a
		_, _, err = b.ChangeOrder(bg, *now, "Tam")
		return err
	}
	if day, _ := begins(); day != on(2) {
		t.Fatalf("without a sample it begins %s", day)
	}
	if err := change(book.Approval{Due: on(11), Sent: on(3)}); err != nil {
		t.Fatal(err)
	}
	if day, _ := begins(); day != on(11) {
		t.Errorf("approval is expected on 11 March, it begins %s", day)
	}
	_, err := b.Start(bg, o.ID, 1, b.m["Gannet"], 0, "", "")
	if shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), "not approved") {
		t.Errorf("begun before it is approved: %v", err)
	}
	notes, err := b.OrderNotes(bg, orderNow(t, b, o.ID))
	if said := strings.Join(notes.Lines(), "; "); err != nil || !strings.Contains(said, "the sample was sent Tue 3 Mar; its approval is expected Wed 11 Mar") {
		t.Errorf("the order's notes: %s, %v", said, err)
	}
	// The day passes without a word: tomorrow at the earliest, and the plan says so.
	b.at = b.at.AddDate(0, 0, 10)
	if day, notes := begins(); day != on(13) || !strings.Contains(notes, "was to be approved on 11 Mar 2026") {
		t.Errorf("it begins %s: %s", day, notes)
	}
	if err := change(book.Approval{Due: on(11), Sent: on(3), Given: on(12)}); err != nil {
		t.Fatal(err)
	}
	if day, notes := begins(); day != on(12) || notes != "" {
		t.Errorf("approved, it begins %s: %s", day, notes)
	}
	if _, err := b.Start(bg, o.ID, 1, b.m["Gannet"], 0, "", ""); err != nil {
		t.Errorf("approved: %v", err)
	}
	for _, a := range []book.Approval{{Sent: on(3)}, {Due: on(11), Sent: on(5), Given: on(4)}} {
		if err := change(a); shop.CodeOf(err) != shop.Invalid {
			t.Errorf("%+v: %v", a, err)
		}
	}
	history, err := b.Orders.History(bg, o.ID)
	if err != nil || !strings.Contains(history[len(history)-2].What, "approved 12 Mar 2026 (was no day)") {
		t.Errorf("history: %+v, %v", history, err)
	}
}

// What stands on the customer's papers is nothing that a plan is made from.
func TestAnAddressLeavesThePlanAsItIs(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 40, "2026-03-27", book.Agreed)
	b.plan(t)
	o = orderNow(t, b, o.ID)
	o.CustomerAddress, o.PurchaseOrder = []string{"Quay 1"}, "LQ 7"
	if _, _, err := b.ChangeOrder(bg, *o, "Tam"); err != nil {
		t.Fatal(err)
	}
	if a := b.since(t); len(a.Changes) > 0 {
		t.Errorf("changed since the plan: %+v", a.Changes)
	}
	o = orderNow(t, b, o.ID)
	o.Lines[0].Approval.Due = words.NewDay(2026, 3, 11)
	if _, _, err := b.ChangeOrder(bg, *o, "Tam"); err != nil {
		t.Fatal(err)
	}
	if a := b.since(t); len(a.Changes) != 1 {
		t.Errorf("a sample to be approved changed %+v", a.Changes)
	}
}

func orderNow(t *testing.T, b *bench, id string) *book.Order {
	t.Helper()
	o, err := b.Orders.Get(bg, id)
	if err != nil {
		t.Fatal(err)
	}
	return o
}
