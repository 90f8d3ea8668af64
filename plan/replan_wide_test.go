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

// A large order withdrawn leaves a hole: a wide change, also where the plan before no longer tells of its lots (what is left of a
// kept plan does not); a small one is none, nor is a day that went by as planned, nor a rush order that fills the hole.
func TestALargeOrderWithdrawnIsAWideChange(t *testing.T) {
	day := []Window{{0, 8 * 3600, 1}, {86400, 86400 + 8*3600, 1}, {2 * 86400, 2*86400 + 8*3600, 1}}
	hours := func(id string, n float64) Job {
		return Job{ID: id, Quantity: 1, Due: 3 * 86400, Weight: 1, Fits: []Fit{{0, n * 3600, 1, 0}}, Pin: &Pin{Start: -1}}
	}
	p := &Problem{Machines: []Machine{{ID: "a", Windows: day}, {ID: "b", Windows: day}}, Weights: DefaultWeights}
	p.Jobs = []Job{hours("small", 2), hours("large", 7), hours("last", 5), hours("waits", 1)}
	p.Jobs[3].Release = 2 * 86400
	rush := hours("rush", 6)
	rush.Due, rush.Weight = 0, 5
	old := &Schedule{Lots: []Lot{{Job: 0, Quantity: 1, To: 2 * 3600}, {Job: 1, Quantity: 1, From: 2 * 3600, To: 86400 + 3600}, {Job: 2, Quantity: 1, From: 86400 + 3600, To: 86400 + 6*3600}, {Job: 3, Quantity: 1, From: 2 * 86400, To: 2*86400 + 3600}}}
	without := func(lots []Lot, job int) []Lot {
		return slices.DeleteFunc(slices.Clone(lots), func(l Lot) bool { return l.Job == job })
	}
	later := *p
	later.Origin, later.Jobs = p.Origin.Add(2*time.Hour), p.Jobs[1:]
	later.Machines = []Machine{{ID: "a", Windows: []Window{{0, 6 * 3600, 1}, {22 * 3600, 30 * 3600, 1}}}, {ID: "b"}}
	for _, c := range []struct {
		what string
		lots []Lot
		to   *Problem
		wide bool
	}{
		{"nothing", old.Lots, p, false},
		{"a small order withdrawn", old.Lots, anotherJobs(p, func(j []Job) []Job { return j[1:] }), false},
		{"a large one", old.Lots, anotherJobs(p, func(j []Job) []Job { return append(j[:1:1], j[2:]...) }), true},
		{"a large one, its lot no longer told of", without(old.Lots, 1), anotherJobs(p, func(j []Job) []Job { return append(j[:1:1], j[2:]...) }), true},
		{"a large one, and a rush order there", old.Lots, anotherJobs(p, func(j []Job) []Job { return append(j[:1:1], rush, j[2], j[3]) }), false},
		{"two hours gone by as planned", without(old.Lots, 0), &later, false},
	} {
		before := Plan{p, &Schedule{Lots: c.lots}}
		_, left := fromSeeds(c.to, carry(before, c.to))
		if left.emptied(before) != c.wide {
			t.Errorf("%s: wide is %v", c.what, !c.wide)
		}
	}
}

// A machine that goes down, and a large order withdrawn, have the plan searched as long as a new one; a rush order, and nothing at all, have not.
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
	first := slices.DeleteFunc(slices.Clone(old.Schedule.Lots), func(l Lot) bool { return l.From > 8*3600 })
	large := slices.MaxFunc(first, func(a, b Lot) int { return int(a.Work - b.Work) }).Job
	withdrawn := moves(anotherJobs(p, func(jobs []Job) []Job { return slices.Delete(jobs, large, large+1) }))
	down, rushed, same := moves(withDown(p, 2, 86400, 2*86400, 0)), moves(rush), moves(p)
	if withdrawn != 16_000_000 {
		t.Errorf("%d moves after a large order was withdrawn", withdrawn)
	}
	if down != 16_000_000 || rushed > 6_000_000 || same > 6_000_000 || same == 0 {
		t.Errorf("%d moves with a machine down, %d after a rush, %d where nothing changed", down, rushed, same)
	}
}
