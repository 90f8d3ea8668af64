package ask_test

import (
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/shop"
	"needlepace/store/sqlite"
)

// Promises share the problem of all planned orders: what is sought for one is as if it were gathered for it alone,
// whether it is planned already or only asked for, and whoever asked before.
func TestWhatPromisesShareIsAsIfGatheredForEach(t *testing.T) {
	store, err := sqlite.Open(t.Context(), t.TempDir()+"/shop.db")
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close() //nolint:errcheck // a test's
	s := act.New(store, act.Options{Build: "test"})
	if err := s.LoadDemo(t.Context(), func(float64, string) {}); err != nil {
		t.Fatal(err)
	}
	if _, err := s.MakePlan(t.Context(), ask.PlanQuestion{Now: s.Now(), Seed: 1, NoBound: true, Moves: 1000}, ""); err != nil {
		t.Fatal(err)
	}
	kept, err := s.Plans.Last(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	l := &kept.Lots[len(kept.Lots)-1] // begun since: a part of its own now
	if _, err := s.Start(t.Context(), l.OrderID, l.Line, l.MachineID, 1, "", ""); err != nil {
		t.Fatal(err)
	}
	all, _, err := s.Orders.List(t.Context(), shop.OrderQuery{Limit: 100})
	if err != nil {
		t.Fatal(err)
	}
	planned, asked, stood := 0, 0, 0
	ctx := shop.Reading(t.Context())
	at := s.Now()
	for _, later := range []time.Duration{0, 75 * time.Hour, 75 * time.Hour} { // what is on a machine has been on it for a while
		for _, o := range all {
			switch {
			case o.State.Planned():
				planned++
			case o.State.Open():
				asked++
			default:
				continue
			}
			stands, err := ask.AlikeProblems(ctx, s.Asked(), at.Add(later), o)
			if err != nil {
				t.Errorf("order %d, %s: %v", o.Number, o.State, err)
			}
			if stands {
				stood++
			}
		}
	}
	if planned < 4 || asked < 2 || stood < 4 {
		t.Errorf("%d planned orders and %d others were tried; the plan that all share stood for %d of them", planned, asked, stood)
	}
}
