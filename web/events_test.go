package web

import (
	"context"
	"sync/atomic"
	"testing"
	"time"

	"needlepace/shop"
)

// TestManyReadersAreOneLook: however many pages stand open, the database is asked by one,
// and by nobody once all are gone.
func TestManyReadersAreOneLook(t *testing.T) {
	var looks, orders atomic.Int64
	h := &changes{look: func(context.Context) (shop.Revision, error) {
		looks.Add(1)
		return shop.Revision{Orders: orders.Load()}, nil
	}}
	const readers = 200
	var wakes []chan struct{}
	var leaves []func()
	for range readers {
		wake, leave, ok := h.join()
		if !ok {
			t.Fatal("a reader is refused")
		}
		wakes, leaves = append(wakes, wake), append(leaves, leave)
	}
	orders.Store(1)
	for _, wake := range wakes {
		select {
		case <-wake:
		case <-time.After(5 * time.Second):
			t.Fatal("a reader is not woken")
		}
	}
	if n := looks.Load(); n > 30 {
		t.Errorf("%d looks for one change", n)
	}
	for _, leave := range leaves {
		leave()
	}
	for was := int64(-1); was != looks.Load(); time.Sleep(3 * lookEvery) {
		was = looks.Load()
	}
	h.end()
	if _, _, ok := h.join(); ok {
		t.Error("one may read after the end")
	}
	full := &changes{look: h.look}
	for range mostEvents {
		full.join()
	}
	if _, _, ok := full.join(); ok {
		t.Error("more than the most may read")
	}
	full.end()
}

// TestEventsAreOfWhatOneMaySee: kinds that changed, and of those only what the right is there for.
func TestEventsAreOfWhatOneMaySee(t *testing.T) {
	was := shop.Revision{Added: 1, Designs: 1, Machines: 1, Orders: 1, Reports: 1, Plans: 1, Setups: 1, Visits: 1}
	is := was
	is.Orders, is.Setups, is.Added, is.Visits = 2, 2, 2, 2
	may := func(role shop.Role) func(shop.Right) bool { return role.Has }
	for role, want := range map[shop.Role]string{shop.Operator: "[added orders]", shop.Planner: "[added orders setups visits]"} {
		if got := eventsOf(was, is, may(role)); text(got) != want {
			t.Errorf("%s is told of %v, want %s", role, got, want)
		}
	}
	if got := eventsOf(is, is, may(shop.Owner)); len(got) > 0 {
		t.Errorf("nothing changed, and %v is told", got)
	}
}

func text(all []string) string {
	out := "["
	for i, s := range all {
		if i > 0 {
			out += " "
		}
		out += s
	}
	return out + "]"
}
