package plan

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

// A rush order of 24 pieces and nothing at all are small changes, in a shop with little to do too; a machine that is down for days is a wide one,
// and so are a hundred orders at once.
func TestWhichChangesAreWide(t *testing.T) {
	for _, load := range []float64{.5, .9, 1.1} {
		p := shop(rand.New(rand.NewPCG(41, 1)), 160, 6, load)
		s := must(t, p, Options{Moves: 200_000, NoBound: true})
		rush := p.Jobs[1]
		rush.ID, rush.Due, rush.Weight, rush.Release = "rush", 10*3600, 4, 0
		rush.Quantity = 24
		large := rush
		large.Quantity = 150
		many := *p
		for i := range 100 {
			j := p.Jobs[i]
			j.ID, j.Due, j.Release = j.ID+" again", 3*86400, 0
			many.Jobs = append(slices.Clip(many.Jobs), j)
		}
		type change struct {
			to   *Problem
			wide bool
		}
		changes := map[string]change{
			"nothing": {p, false}, "a rush order": {withJob(p, rush), false},
			"a machine down": {withDown(p, 3, 0, 5*86400, 0), true}, "a hundred orders": {&many, true},
		}
		if load > 1 { // where much is late already
			changes["a large rush order"] = change{withJob(p, large), false}
		}
		for what, c := range changes {
			_, left := fromSeeds(c.to, carry(Plan{p, s}, c.to))
			if left.wide(s.Lateness) != c.wide {
				t.Errorf("load %v, %s: wide %v; late by %.0f h, was by %.0f h", load, what, !c.wide, left.totals().Lateness/3600, s.Lateness/3600)
			}
		}
	}
}

// Whatever it does to lateness, a machine that is gone, down, back, that works other hours or takes longer is a wide change; an hour less, a little slower
// (reports move every pace), slower for one job or for what runs, or another job is none.
func TestAMachineThatIsAnotherIsAWideChange(t *testing.T) {
	p := shop(rand.New(rand.NewPCG(42, 1)), 160, 6, .6)
	s := must(t, p, Options{Moves: 2000, NoBound: true})
	down := withDown(p, 2, 86400, 2*86400, 0) // 16 hours of two shifts
	was := must(t, down, Options{Moves: 2000, NoBound: true})
	machines := func(change func(q *Problem)) *Problem {
		q := *p
		q.Machines, q.Jobs = slices.Clone(p.Machines), slices.Clone(p.Jobs)
		change(&q)
		return &q
	}
	slower := func(by float64, jobs int) *Problem {
		return machines(func(q *Problem) {
			for i := range q.Jobs[:jobs] {
				q.Jobs[i].Fits = slices.Clone(q.Jobs[i].Fits)
				for k := range q.Jobs[i].Fits {
					if q.Jobs[i].Fits[k].Machine == 1 {
						q.Jobs[i].Fits[k].Run *= by
					}
				}
			}
		})
	}
	running := &Schedule{Totals: s.Totals, Lots: slices.Clone(s.Lots)}
	for i := range running.Lots {
		running.Lots[i].Running = true
	}
	gone := machines(func(q *Problem) { q.Machines[5].ID = "another" })
	later := machines(func(q *Problem) { // all the same, a day later
		q.Origin = q.Origin.Add(24 * time.Hour)
		for m := range q.Machines {
			win := []Window{}
			for _, w := range q.Machines[m].Windows {
				if w.From -= 86400; w.From >= 0 {
					w.To -= 86400
					win = append(win, w)
				}
			}
			q.Machines[m].Windows = win
		}
	})
	for _, c := range []struct {
		what string
		old  Plan
		to   *Problem
		wide bool
	}{
		{"nothing", Plan{p, s}, p, false}, {"a day later", Plan{p, s}, later, false}, {"down for a day", Plan{p, s}, down, true}, {"back a day sooner", Plan{down, was}, p, true},
		{"an hour less", Plan{p, s}, withDown(p, 2, 3600, 7200, 0), false}, {"gone", Plan{p, s}, gone, true},
		{"slower by a quarter", Plan{p, s}, slower(1.25, len(p.Jobs)), true}, {"faster by a quarter", Plan{p, s}, slower(.8, len(p.Jobs)), true},
		{"slower by 3 %", Plan{p, s}, slower(1.03, len(p.Jobs)), false}, {"slower by a quarter for one job", Plan{p, s}, slower(1.25, 1), false},
		{"slower for what runs", Plan{p, running}, slower(1.25, len(p.Jobs)), false}, {"a job more", Plan{p, s}, withJob(p, Job{ID: "more", Quantity: 1, Fits: p.Jobs[0].Fits}), false},
	} {
		if got := reshaped(c.old, c.to); got != c.wide {
			t.Errorf("%s: wide %v", c.what, got)
		}
	}
	// On one machine: by hours and by a share of what it had.
	for _, c := range []struct {
		hours, by float64
		wide      bool
	}{{10, 1.2, false}, {200, 1.04, false}, {200, 1.06, true}, {10, 1.5, true}} {
		of := func(by float64) *Problem {
			return &Problem{Machines: []Machine{{ID: "a"}}, Jobs: []Job{{ID: "1", Quantity: 10, Fits: []Fit{{0, c.hours * 360 * by, 1, 0}}}}}
		}
		if got := reshaped(Plan{of(1), must(t, of(1), Options{Moves: 10, NoBound: true})}, of(c.by)); got != c.wide {
			t.Errorf("%v h of work take %v times as long: wide %v", c.hours, c.by, got)
		}
	}
}

// A machine that goes down has the plan searched as long as a new one; a rush order, and nothing at all, has not.
func TestAMachineThatGoesDownIsSearchedLonger(t *testing.T) {
	p := shop(rand.New(rand.NewPCG(42, 1)), 160, 6, .6)
	old := Plan{p, must(t, p, Options{Moves: 2000, NoBound: true})}
	moves := func(q *Problem) (of int64) {
		ctx, stop := context.WithCancel(t.Context())
		_, err := Replan(ctx, old, q, Options{Progress: func(p Progress) { of = p.Of; stop() }})
		if err != nil {
			t.Fatal(err)
		}
		return of
	}
	rush := withJob(p, Job{ID: "rush", Quantity: 1, Due: 1, Weight: 1000, Fits: p.Jobs[0].Fits})
	down, rushed, same := moves(withDown(p, 2, 86400, 2*86400, 0)), moves(rush), moves(p)
	if down != 16_000_000 || rushed > 6_000_000 || same > 6_000_000 || same == 0 {
		t.Errorf("%d moves with a machine down, %d after a rush, %d where nothing changed", down, rushed, same)
	}
}
