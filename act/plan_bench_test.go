package act_test

import (
	"fmt"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/demo"
	"needlepace/machine"
	"needlepace/store/sqlite"
	"needlepace/words"
)

// large is a shop of so many machines with 50 agreed orders each, on the demo designs.
func large(b *testing.B, machines int) *act.Shop {
	b.Helper()
	store, err := sqlite.Open(bg, filepath.Join(b.TempDir(), "shop.db"))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { store.Close() })
	now := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	s := act.New(store, act.Options{Now: func() time.Time { return now }})
	classes := machine.Classes()
	for i := range machines {
		c := *classes[i%len(classes)]
		c.Name = fmt.Sprint("Bay ", i+1)
		if _, err := s.Machines.Add(bg, string(c.TOML()), "", ""); err != nil {
			b.Fatal(err)
		}
	}
	var designs []string
	for _, d := range demo.Designs() {
		content, err := d.Read()
		if err != nil {
			b.Fatal(err)
		}
		added, err := s.AddFile(bg, d.File, content)
		if err != nil {
			b.Fatal(err)
		}
		designs = append(designs, added[0].Design.ID)
	}
	for i := range 50 * machines {
		o := &book.Order{ID: fmt.Sprint("o", i), Customer: fmt.Sprint("Customer ", i), State: book.Agreed, Due: words.Zone{}.Day(now).Add(1 + i%40), Weight: 1 + float64(i%3), Made: now, Changed: now, Version: 1,
			Lines: []book.OrderLine{{Line: 1, DesignID: designs[i%len(designs)], Quantity: 12 + i%60, Threads: []string{}, Holds: []book.Hold{}}}}
		if err := store.AddOrder(bg, o, book.Change{OrderID: o.ID, Version: 1, At: now}); err != nil {
			b.Fatal(err)
		}
	}
	return s
}

// BenchmarkPlan2000 is the plan of 2,000 orders on 40 machines: from nothing
// (designs clocked already), made again, and the cost of one move.
func BenchmarkPlan2000(b *testing.B) {
	s := large(b, 40)
	start := time.Now()
	a, err := s.MakePlan(bg, ask.PlanQuestion{Now: s.Now(), Seed: 1, NoBound: true}, "")
	if err != nil {
		b.Fatal(err)
	}
	b.Logf("first plan, clocking included: %v; %d lots, %d late", time.Since(start), len(a.Plan.Lots), a.Plan.Late)
	b.Run("fresh", func(b *testing.B) {
		for b.Loop() {
			if _, err := s.MakePlan(bg, ask.PlanQuestion{Now: s.Now(), Seed: 1, Fresh: true}, ""); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("again", func(b *testing.B) {
		for b.Loop() {
			if _, err := s.MakePlan(bg, ask.PlanQuestion{Now: s.Now(), Seed: 1, NoBound: true}, ""); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("move", func(b *testing.B) {
		l := a.Plan.Lots[len(a.Plan.Lots)/2]
		for b.Loop() {
			if _, err := ask.Move(bg, s.Asked(), ask.MoveQuestion{Order: l.OrderID, Line: l.Line, From: l.MachineID, To: l.MachineID, Place: 1}); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("rush", func(b *testing.B) { rush(b, s) }) // last: the plan is another then
}

// BenchmarkRush500 is a rush order in a shop of 500 orders on 10 machines.
func BenchmarkRush500(b *testing.B) {
	s := large(b, 10)
	if _, err := s.MakePlan(bg, ask.PlanQuestion{Now: s.Now(), Seed: 1, NoBound: true}, ""); err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	rush(b, s)
}

// rush makes the plan anew after a rush order, as a user waits: read, planned, promised and kept.
func rush(b *testing.B, s *act.Shop) {
	user := func() time.Duration {
		var r syscall.Rusage
		if err := syscall.Getrusage(syscall.RUSAGE_SELF, &r); err != nil {
			b.Fatal(err)
		}
		return time.Duration(r.Utime.Nano())
	}
	from, n := user(), 0
	for i := 0; b.Loop(); i++ {
		n++
		o, err := s.Orders.Get(bg, fmt.Sprint("o", 7+i))
		if err != nil {
			b.Fatal(err)
		}
		o.Weight, o.Due = ask.RushPriority, words.Zone{}.Day(s.Now()).Add(2)
		if _, err := s.Orders.Change(bg, *o, ""); err != nil {
			b.Fatal(err)
		}
		if _, err := s.MakePlan(bg, ask.PlanQuestion{Now: s.Now(), Seed: 1, NoBound: true}, ""); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric((user()-from).Seconds()/float64(n), "user-s/op") // of both cores, whatever else runs beside it
}
