package act_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/plan"
)

// since is what changed since the kept plan, with what it does.
func (b *bench) since(t testing.TB) *ask.SinceAnswer {
	t.Helper()
	a, err := ask.Since(bg, b.Asked(), ask.SinceQuestion{Now: b.at, Effect: true})
	if err != nil || a == nil {
		t.Fatal(a, err)
	}
	return a
}

// Whatever a plan is made from: when it changes the plan says so by name, says
// what it does, and says nothing more once it is made anew.
func TestThePlanSaysWhatChangedSinceByName(t *testing.T) {
	said := func(a *ask.SinceAnswer) (all []string) {
		for _, c := range a.Changes {
			all = append(all, c.Say.Text(nil))
		}
		return all
	}
	for _, c := range []struct {
		what   string
		change func(t *testing.T, b *bench, o *book.Order)
		want   []string
		later  bool // a line ends later for it
		sooner bool
	}{
		{"a down day", func(t *testing.T, b *bench, _ *book.Order) {
			b.workshop(t, "[thread]", "[[down]]\nmachine = \"Gannet\"\nfrom = \"2026-03-02 07:00\"\nto = \"2026-03-04 15:30\"\n[thread]",
				"[thread]", "[[down]]\nmachine = \"Six Sisters\"\nfrom = \"2026-03-02 07:00\"\nto = \"2026-03-04 15:30\"\n[thread]")
		}, []string{"Gannet: down from Mon 2 Mar, 07:00 to Wed 4 Mar, 15:30",
			"Six Sisters: down from Mon 2 Mar, 07:00 to Wed 4 Mar, 15:30"}, true, false},
		{"a down time taken out", func(t *testing.T, b *bench, _ *book.Order) {
			b.workshop(t, "[[down]]\nmachine = \"Skipper\"\nfrom = \"2026-03-04 07:00\"\nto = \"2026-03-04 11:30\"\nwhy = \"yearly service\"", "")
		}, []string{"Skipper: no longer down from Wed 4 Mar, 07:00 to Wed 4 Mar, 11:30"}, false, false},
		{"a changed speed", func(t *testing.T, b *bench, _ *book.Order) {
			b.workshop(t, "speed = 900", "speed = 300")
		}, []string{"Gannet: set speed 900 → 300"}, true, false},
		{"a changed sheet", func(t *testing.T, b *bench, _ *book.Order) {
			m, err := b.Machines.Get(bg, b.m["Gannet"])
			if err != nil {
				t.Fatal(err)
			}
			if m.Sheet.MaxSpeed < 800 {
				t.Fatal("this test slows a machine down")
			}
			m.Sheet.MaxSpeed = 320
			if _, err := b.Machines.ChangeSheet(bg, m.ID, m.Version, string(m.Sheet.TOML()), "", ""); err != nil {
				t.Fatal(err)
			}
			b.workshop(t, "speed = 900\n", "speed = 300\n")
		}, []string{"Gannet: set speed 900 → 300", "the sheet of Gannet changed"}, true, false},
		{"changed hours", func(t *testing.T, b *bench, _ *book.Order) {
			b.workshop(t, "days = [\"mon\", \"tue\", \"wed\", \"thu\", \"fri\"]\nfrom = \"12:00\"",
				"days = [\"tue\", \"wed\", \"fri\"]\nfrom = \"12:00\"")
		}, []string{"the hours of Monday: 07:00 to 11:30, 12:00 to 15:30 → 07:00 to 11:30", "the operators of Monday: 2, 2 → 2",
			"the hours of Thursday: 07:00 to 11:30, 12:00 to 15:30 → 07:00 to 11:30", "the operators of Thursday: 2, 2 → 2"}, true, false},
		{"one operator", func(t *testing.T, b *bench, _ *book.Order) {
			b.workshop(t, "to = \"11:30\"\noperators = 2", "to = \"11:30\"\noperators = 1")
		}, []string{"the operators of Monday: 2, 2 → 1, 2", "the operators of Tuesday: 2, 2 → 1, 2",
			"the operators of Wednesday: 2, 2 → 1, 2", "the operators of Thursday: 2, 2 → 1, 2", "the operators of Friday: 2, 2 → 1, 2"}, true, false},
		{"a day off", func(t *testing.T, b *bench, _ *book.Order) {
			b.workshop(t, `["2026-03-09"]`, `["2026-03-09", "2026-03-02", "2026-03-03"]`)
		}, []string{"Mon 2 Mar is a day off", "Tue 3 Mar is a day off"}, true, false},
		{"set-up times", func(t *testing.T, b *bench, _ *book.Order) {
			b.workshop(t, "setup = { mean = 240", "setup = { mean = 3600")
		}, nil, true, false},
		{"heads and a speed that nobody had set", func(t *testing.T, b *bench, _ *book.Order) {
			b.workshop(t, "name = \"Six Sisters\"", "name = \"Six Sisters\"\nheads = 4", "sheet = \"../shop/skipper.toml\"", "sheet = \"../shop/skipper.toml\"\nspeed = 700")
		}, []string{"Skipper: set speed not given → 700", "Six Sisters: heads used all → 4"}, false, false},
		{"prices", func(t *testing.T, b *bench, _ *book.Order) {
			b.workshop(t, "labour_per_hour = ", "labour_per_hour = 1")
		}, []string{"the prices changed"}, false, false},
		{"an order's pieces", func(t *testing.T, b *bench, o *book.Order) {
			o.Lines[0].Quantity = 190
			if _, err := b.Orders.Change(bg, *o, ""); err != nil {
				t.Fatal(err)
			}
		}, []string{"order 1001: pieces 300 → 190"}, false, true},
		{"an order's day", func(t *testing.T, b *bench, o *book.Order) {
			o.Due = o.Due.Add(-3)
			if _, err := b.Orders.Change(bg, *o, ""); err != nil {
				t.Fatal(err)
			}
		}, []string{"order 1001: due Mon 16 Mar → Fri 13 Mar"}, false, false},
		{"a new order", func(t *testing.T, b *bench, _ *book.Order) {
			b.order(t, "gull-cap.dst", 40, "2026-03-20", book.Agreed)
		}, []string{"order 1003 is new"}, false, false},
		{"an order withdrawn", func(t *testing.T, b *bench, o *book.Order) {
			if _, err := b.Orders.Move(bg, o.ID, 0, book.Withdrawn, "", ""); err != nil {
				t.Fatal(err)
			}
		}, []string{"order 1001 is no longer to be sewn"}, false, false},
		{"a line more", func(t *testing.T, b *bench, o *book.Order) {
			o.Lines = append(o.Lines, book.OrderLine{DesignID: o.Lines[0].DesignID, Quantity: 12})
			if _, err := b.Orders.Change(bg, *o, ""); err != nil {
				t.Fatal(err)
			}
		}, []string{"order 1001: line 2 is new"}, false, false},
		{"a report", func(t *testing.T, b *bench, o *book.Order) {
			if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 60, Breaks: -1}, act.Recording{}, ""); err != nil {
				t.Fatal(err)
			}
		}, []string{"order 1001: pieces made 0 → 60", "reports from Gannet: 0 → 1"}, false, true},
		{"what is delivered is nothing to the plan", func(t *testing.T, b *bench, o *book.Order) {
			if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 60, Breaks: -1}, act.Recording{}, ""); err != nil {
				t.Fatal(err)
			}
			if _, _, err := b.Deliver(bg, book.HandOver{OrderID: o.ID, Line: 1, Pieces: 40}, 0, ""); err != nil {
				t.Fatal(err)
			}
		}, []string{"order 1001: pieces made 0 → 60", "reports from Gannet: 0 → 1"}, false, true},
		{"a line on its machine", func(t *testing.T, b *bench, o *book.Order) {
			if _, err := b.Start(bg, o.ID, 1, b.m["Gannet"], 20, "", ""); err != nil {
				t.Fatal(err)
			}
		}, []string{"order 1001: where it is put by hand, or whether it runs now, changed"}, false, false},
		{"a machine off the list", func(t *testing.T, b *bench, _ *book.Order) {
			if err := b.Machines.Remove(bg, b.m["Skipper"]); err != nil {
				t.Fatal(err)
			}
		}, []string{"Skipper was taken off the list of machines"}, false, false},
		{"a design off the list", func(t *testing.T, b *bench, o *book.Order) {
			if err := b.Designs.Remove(bg, o.Lines[0].DesignID); err != nil {
				t.Fatal(err)
			}
		}, []string{"the design ostrel-light was taken off the list"}, false, false},
	} {
		t.Run(c.what, func(t *testing.T) {
			b := fresh(t)
			o := b.order(t, "ostrel-light.dst", 300, "2026-03-16", book.Agreed)
			b.order(t, "larkess-ferry.dst", 200, "2026-03-16", book.Agreed)
			o, err := b.HoldLine(bg, o.ID, 1, b.m["Gannet"], time.Time{}, "")
			if err != nil {
				t.Fatal(err)
			}
			b.plan(t)
			if a := b.since(t); len(a.Changes) != 0 || a.Stale() || len(a.Lines) != 0 {
				t.Fatalf("nothing changed, and it says %q %q", said(a), a.Verdict.Text(nil))
			}
			b.at = b.at.Add(time.Minute)
			o.Note = "a note is not the plan's"
			if o, err = b.Orders.Change(bg, *o, ""); err != nil {
				t.Fatal(err)
			}
			if a := b.since(t); len(a.Changes) != 0 {
				t.Fatalf("a note was written, and it says %q", said(a))
			}
			c.change(t, b, o)
			a := b.since(t)
			if got := said(a); c.want != nil && !slices.Equal(got, c.want) || len(got) == 0 {
				t.Errorf("it says %q, want %q", got, c.want)
			}
			later, sooner := false, false
			for _, l := range a.Lines {
				later = later || !l.Was.IsZero() && l.Is.After(l.Was)
				sooner = sooner || l.Is.Before(l.Was) && !l.Is.IsZero()
			}
			if later != c.later && c.later || sooner != c.sooner && c.sooner {
				t.Errorf("later %v, sooner %v: %+v", later, sooner, a.Lines)
			}
			if !strings.Contains(a.Verdict.Text(nil), "since the plan was made") {
				t.Error(a.Verdict.Text(nil))
			}
			b.plan(t)
			if a := b.since(t); a.Stale() {
				t.Errorf("planned anew, and it still says %q", said(a))
			}
		})
	}
}

// The effect is the arithmetic of the plan: what it says of the plan left as it
// is comes true where the plan is made again with everything frozen.
func TestWhatChangesDoIsWhatThePlanThenSays(t *testing.T) {
	b := fresh(t)
	b.order(t, "ostrel-light.dst", 300, "2026-03-16", book.Agreed)
	b.plan(t)
	b.workshop(t, "[thread]", "[[down]]\nfrom = \"2026-03-02 07:00\"\nto = \"2026-03-03 16:00\"\n[thread]")
	a := b.since(t)
	if len(a.Lines) != 1 || a.Lines[0].Is.Sub(a.Lines[0].Was) < 47*time.Hour {
		t.Fatalf("two days are gone: %+v", a.Lines)
	}
	p := b.plan(t).Plan
	if d := p.Ends[0].End.Sub(a.Lines[0].Is).Abs(); d > time.Hour {
		t.Errorf("left as it is it ends at %v, planned anew at %v", a.Lines[0].Is, p.Ends[0].End)
	}
}

// A down time that is over may be taken off the list: that makes no plan stale, and a plan made again moves nothing for it.
func TestWhatIsOverMakesNoPlanStale(t *testing.T) {
	for _, c := range []struct {
		what  string
		at    time.Time
		stale bool
	}{
		{"while it lasts", time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC), true},
		{"the day after", time.Date(2026, 3, 5, 9, 0, 0, 0, time.UTC), false},
	} {
		b := fresh(t)
		b.order(t, "ostrel-light.dst", 300, "2026-03-16", book.Agreed)
		b.order(t, "whale-line.dst", 300, "2026-03-16", book.Agreed)
		b.plan(t)
		b.at = c.at
		b.workshop(t, "[[down]]\nmachine = \"Skipper\"\nfrom = \"2026-03-04 07:00\"\nto = \"2026-03-04 11:30\"\nwhy = \"yearly service\"", "")
		if a := b.since(t); a.Stale() != c.stale {
			t.Errorf("%s: stale %v: %+v", c.what, a.Stale(), a.Changes)
		}
		searched := false
		if _, err := b.MakePlan(bg, ask.PlanQuestion{Now: b.at, Seed: 1, Progress: func(plan.Progress) { searched = true }}, ""); err != nil {
			t.Fatal(err)
		}
		if searched != c.stale {
			t.Errorf("%s: made again it is searched: %v", c.what, searched)
		}
	}
}

// What is planned after the days that the hours are laid out for goes on at their average: the plan says so, does not where the days are
// enough, and is done about when it is with enough of them.
func TestAPlanBeyondTheHoursSaysSo(t *testing.T) {
	var done []time.Time
	for _, c := range []struct {
		days int
		says string
	}{
		{7, "Hours are laid out until Fri 6 Mar: what is planned after it goes on at their average, day and night"},
		{200, ""},
	} {
		b := fresh(t)
		b.workshop(t, "quote_valid_days = 30", fmt.Sprintf("quote_valid_days = 30\nplan_days = %d", c.days))
		b.order(t, "ostrel-light.dst", 3000, "2026-03-06", book.Agreed)
		a := b.plan(t)
		if got := a.Caveats.Text(nil); !strings.Contains(got, c.says) || (c.says == "") == strings.Contains(got, "laid out until") {
			t.Errorf("laid out for %d days, done %v: %q", c.days, a.Plan.Done, got)
		}
		done = append(done, a.Plan.Done)
	}
	if off := done[0].Sub(done[1]).Abs(); off > 4*24*time.Hour {
		t.Errorf("done %v by the average of a week, %v by all hours", done[0], done[1])
	}
}
