package act_test

import (
	"maps"
	"slices"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
)

// sharing are the pieces of an order in a plan by the machine that has them.
func sharing(p *book.Plan, order string) map[string]int {
	on := map[string]int{}
	for _, l := range p.Lots {
		if l.OrderID == order {
			on[l.MachineID] += l.Quantity
		}
	}
	return on
}

// A line that machines share by the plan goes on as planned where one of them begins, reports, stops: what is on it is a
// part of its own, and each machine still has its pieces.
func TestASharedLineGoesOnAsPlanned(t *testing.T) {
	t.Run("few first", func(t *testing.T) { goesOn(t, false) })
	t.Run("most first", func(t *testing.T) { goesOn(t, true) })
}

// goesOn has two of the machines that share a line begin, the one that has the most pieces first or the one that has the fewest, and the
// other of them report and stop.
func goesOn(t *testing.T, most bool) {
	b := fresh(t)
	o := b.order(t, "harbour-jacket-back.dst", 120, "2026-03-04", book.Agreed)
	b.order(t, "whale-line.dst", 30, "2026-03-06", book.Agreed)
	p := b.plan(t).Plan
	planned := sharing(p, o.ID)
	if len(planned) < 2 {
		t.Fatalf("the plan does not part the line: %v", planned)
	}
	on := slices.SortedFunc(maps.Keys(planned), func(a, b string) int { return planned[a] - planned[b] })
	first, last := on[0], on[len(on)-1]
	if most {
		first, last = last, first
	}
	same := func(what string, later time.Duration) *book.Plan {
		t.Helper()
		a := b.since(t)
		if len(a.Changes) == 0 {
			t.Errorf("%s: nothing changed", what)
		}
		for _, l := range a.Lines {
			if l.Order == o.Number && l.Is.Sub(l.Was) > later {
				t.Errorf("%s: %s is done %s, by the plan %s", what, l.Name, l.Is, l.Was)
			}
		}
		again, err := b.TryPlan(bg, ask.PlanQuestion{Seed: 1, Moves: 1, NoBound: true})
		if err != nil {
			t.Fatal(err)
		}
		is := sharing(again.Plan, o.ID)
		for m, n := range planned {
			if is[m] != n {
				t.Errorf("%s: %d pieces on a machine that has %d of them", what, is[m], n)
			}
		}
		for _, m := range again.Moved {
			if m.Kind == "added" || m.Kind == "removed" || m.Kind == "machine" {
				t.Errorf("%s: told as moved: %+v", what, m)
			}
		}
		return again.Plan
	}
	for _, m := range []string{first, last} {
		if _, err := b.Start(bg, o.ID, 1, m, 0, "", ""); err != nil {
			t.Fatal(err)
		}
		same("started", 5*time.Minute)
	}
	b.plan(t) // both parts are jobs of their own in it
	b.at = b.at.Add(time.Hour)
	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: last, Good: 6, Breaks: -1}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	planned[last] -= 6
	same("some sewn", 65*time.Minute)
	if _, err := b.Orders.Release(bg, o.ID, 1, ""); err != nil {
		t.Fatal(err)
	}
	same("let go", 90*time.Minute)
	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: first, Good: 12, Breaks: -1}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	planned[first] -= 12 // off its own part, though nobody said that it began again
	if most {            // as it goes on it is 18 h late: six pieces less on the one that has most, and it is in time
		planned[first], planned[last] = planned[first]-6, planned[last]+6
	}
	again := same("sewn unsaid", 90*time.Minute)
	for _, e := range again.Ends {
		if most && e.OrderID == o.ID && e.Late > 0 {
			t.Errorf("shared anew it is done %v, %v s late", e.End, e.Late)
		}
	}
}
