package act_test

import (
	"context"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/store/sqlite"
)

// Who only reads has the orders of the moment, remembered until something changes.
func TestPlannedOrdersAreThoseOfTheMoment(t *testing.T) {
	store, err := sqlite.Open(t.Context(), t.TempDir()+"/shop.db")
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close() //nolint:errcheck // a test's
	s := act.New(store, act.Options{Build: "test"})
	if err := s.LoadDemo(t.Context(), func(float64, string) {}); err != nil {
		t.Fatal(err)
	}
	count := func(ctx context.Context) int {
		all, err := s.Asked().Planned(ctx)
		if err != nil {
			t.Fatal(err)
		}
		return len(all)
	}
	was := count(shop.Reading(t.Context()))
	if was == 0 || count(shop.Reading(t.Context())) != was {
		t.Fatalf("%d orders are planned", was)
	}
	add := func(ctx context.Context) error {
		d, err := s.Designs.Find(ctx, "gull-cap.dst")
		if err != nil {
			return err
		}
		o, err := s.Orders.Add(ctx, book.Order{Customer: "Kiosk", Weight: 1, Lines: []book.OrderLine{{DesignID: d.ID, Quantity: 3}}}, "")
		if err == nil {
			_, err = s.Orders.Move(ctx, o.ID, o.Version, book.Agreed, "", "")
		}
		return err
	}
	if err := add(t.Context()); err != nil {
		t.Fatal(err)
	}
	if n := count(shop.Reading(t.Context())); n != was+1 {
		t.Errorf("after a change there are %d orders, want %d", n, was+1)
	}
}

// Hours begin when they begin, whatever fraction of a second it is when the plan is made: kept without its fraction, a
// day began at 06:59:59.9 and read 06:59.
func TestHoursBeginOnWholeMinutesWheneverThePlanIsMade(t *testing.T) {
	b := fresh(t)
	b.at = time.Date(2026, 3, 2, 5, 12, 33, 861_825_765, time.UTC)
	b.twoLines(t, "2026-03-20", book.Agreed, false)
	p := b.plan(t).Plan
	if p.From.Nanosecond() != 0 || len(p.Lots) == 0 {
		t.Errorf("the plan is of %d lots from %v", len(p.Lots), p.From)
	}
	for _, m := range p.Machines {
		for _, o := range m.Open {
			if o.From.Second() != 0 || o.From.Nanosecond() != 0 || o.To.Second() != 0 || o.To.Nanosecond() != 0 {
				t.Fatalf("%s may run from %v to %v", m.Name, o.From, o.To)
			}
		}
	}
}
