package ask

import (
	"testing"
	"time"

	"needlepace/book"
	"needlepace/plan"
)

// A machine that works all day, one line of ten runs of a minute. The line, its
// lot and the plan agree on whether it is late, from one second on.
func TestALineIsLateFromOneSecondAfterItsTime(t *testing.T) {
	begin := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	w, err := book.ParseWorkshop("w.toml", []byte("[[shift]]\nfrom = \"00:00\"\nto = \"24:00\"\noperators = 1\n"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		due  float64 // seconds after the beginning
		late float64
	}{{599, 1}, {600, 0}, {601, 0}, {599.7, 0}, {540, 60}} {
		o := &book.Order{ID: "a", Number: 1001, Lines: []book.OrderLine{{Line: 1, Quantity: 10}}}
		p := &problem{w: w, stations: []*station{{Machine: Machine{ID: "m", Name: "M"}, heads: 1}}, orders: []*book.Order{o}}
		p.Problem = &plan.Problem{Origin: begin, Machines: []plan.Machine{{
			ID: "m", Name: "M", Windows: []plan.Window{{From: 0, To: 86400, Rate: 1}},
		}}}
		p.add(plan.Job{
			ID: jobID(o, &o.Lines[0]), Name: "1001", Quantity: 10, Due: c.due, Weight: 1, Fits: []plan.Fit{{Run: 60, Pieces: 1}},
		}, jobOf{order: o, line: &o.Lines[0], on: []*lineOn{{}}})
		sc, err := plan.Solve(t.Context(), p.Problem, plan.Options{NoBound: true, Moves: 1})
		if err != nil {
			t.Fatal(err)
		}
		out := write(p, sc, &PlanQuestion{Now: begin, NoBound: true})
		if len(out.Ends) != 1 || !out.Ends[0].End.Equal(begin.Add(10*time.Minute)) {
			t.Fatalf("ends %+v", out.Ends)
		}
		lines := 0
		if c.late > 0 {
			lines = 1
		}
		if e := out.Ends[0]; e.Late != c.late || out.Lots[0].Late != (c.late > 0) || out.Late != lines {
			t.Errorf("due after %v s: the line is %v s late, its lot %v, the plan has %d; want %v s",
				c.due, e.Late, out.Lots[0].Late, out.Late, c.late)
		}
	}
}
