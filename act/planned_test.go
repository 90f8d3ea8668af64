package act_test

import (
	"context"
	"testing"

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
