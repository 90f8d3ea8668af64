package plan

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"
)

var ctx = context.Background()

func must(t testing.TB, p *Problem, o Options) *Schedule {
	t.Helper()
	s, err := Solve(ctx, p, o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestSameSeedSamePlan(t *testing.T) {
	p := shop(rand.New(rand.NewPCG(3, 3)), 200, 8, 0.9)
	a := must(t, p, Options{Moves: 50000, Seed: 5})
	b := must(t, p, Options{Moves: 50000, Seed: 5})
	if !reflect.DeepEqual(a, b) {
		t.Error("two runs with one seed differ")
	}
	c := must(t, p, Options{Moves: 50000, Seed: 6})
	if reflect.DeepEqual(a.Lots, c.Lots) {
		t.Error("another seed gives the very same plan: the seed is not used")
	}
}

// The plan holds what it must: every piece is planned once, machines do one
// thing at a time and within their hours, nothing starts before its goods.
func TestPlansAreFeasible(t *testing.T) {
	shared := 0
	for seed := range uint64(4) {
		t.Log("seed", seed)
		p := shop(rand.New(rand.NewPCG(5, seed)), 150, 9, 0.95)
		s := must(t, p, Options{Moves: 60000, Seed: seed})
		made := make([]int, len(p.Jobs))
		for m := range p.Machines {
			q := s.Queue(m)
			for i, l := range q {
				made[l.Job] += l.Quantity
				if l.Quantity <= 0 || l.SetupFrom > l.From+1e-6 || l.From > l.To {
					t.Fatalf("a lot out of order: %+v", l)
				}
				if i > 0 && l.SetupFrom < q[i-1].To-1e-3 {
					t.Fatalf("machine %d does two things at once: %+v after %+v", m, l, q[i-1])
				}
				if l.From < p.Jobs[l.Job].Release-1e-3 {
					t.Fatalf("lot before its goods: %+v", l)
				}
				if open := openTime(p.Machines[m].Windows, l.From, l.To); math.Abs(open-l.Work) > 0.01 &&
					l.To <= p.Machines[m].Windows[len(p.Machines[m].Windows)-1].To {
					t.Fatalf("lot works %v s in %v s of opening", l.Work, open)
				}
				f := p.Jobs[l.Job].fit(m)
				if f == nil {
					t.Fatalf("job %d does not fit on machine %d", l.Job, m)
				}
			}
		}
		for j := range p.Jobs {
			if made[j] != p.Jobs[j].Quantity {
				t.Fatalf("job %d: %d of %d pieces planned", j, made[j], p.Jobs[j].Quantity)
			}
			n := 0
			for _, l := range s.Lots {
				if l.Job == j {
					n++
				}
			}
			if n > 1 {
				shared++
			}
		}
		if s.Bound > s.Lateness {
			t.Errorf("bound %v above the lateness %v", s.Bound, s.Lateness)
		}
	}
	if shared == 0 {
		t.Error("no large order was shared by machines")
	}
}

func TestSearchImprovesOnTheStart(t *testing.T) {
	p := shop(rand.New(rand.NewPCG(8, 8)), 300, 10, 0.95)
	md := compile(p, split(p, defaultLotSeconds))
	st := newState(md)
	constructBest(md, st)
	start := st.value()
	s := must(t, p, Options{Moves: 200_000})
	if s.Cost > 0.7*start {
		t.Errorf("the search left cost %v of %v", s.Cost, start)
	}
}

func TestCancelledSearchGivesThePlanSoFar(t *testing.T) {
	p := shop(rand.New(rand.NewPCG(8, 8)), 300, 10, 0.9)
	c, cancel := context.WithCancel(ctx)
	calls := 0
	s, err := Solve(c, p, Options{Moves: 1 << 40, NoBound: true, Progress: func(Progress) {
		if calls++; calls == 2 {
			cancel()
		}
	}})
	if err != nil || s.Complete || len(s.Lots) == 0 {
		t.Errorf("cancelled: %v, complete %v, %d lots", err, s.Complete, len(s.Lots))
	}
}

func TestBadProblemsAreRefusedByName(t *testing.T) {
	ok := func() *Problem {
		return &Problem{Machines: []Machine{{ID: "bay 1"}},
			Jobs: []Job{{ID: "o1", Quantity: 1, Fits: []Fit{{0, 60, 1, 0}}}}}
	}
	for want, spoil := range map[string]func(p *Problem){
		"no machine to plan on":  func(p *Problem) { p.Machines = nil },
		"machine number 4":       func(p *Problem) { p.Jobs[0].Fits[0].Machine = 3 },
		"job o1: the weight":     func(p *Problem) { p.Jobs[0].Weight = math.NaN() },
		"used twice":             func(p *Problem) { p.Jobs = append(p.Jobs, p.Jobs[0]) },
		"for 0 pieces on":        func(p *Problem) { p.Jobs[0].Fits[0].Pieces = 0 },
		"working window 2":       func(p *Problem) { p.Machines[0].Windows = []Window{{0, 10, 1}, {5, 20, 1}} },
		"pinned to machine":      func(p *Problem) { p.Jobs[0].Pin = &Pin{Machine: -1} },
		"2 rows for 1 jobs":      func(p *Problem) { p.Changeover = &Changeover{Between: [][][]float64{{{0}, {0}}}} },
		"set-up times must be 0": func(p *Problem) { p.Machines[0].Setup.Cone = -1 },
	} {
		p := ok()
		spoil(p)
		if _, err := Solve(ctx, p, Options{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want an error with %q, got %v", want, err)
		}
	}
	if err := Check(ok()); err != nil {
		t.Error(err)
	}
}

func TestOneBadOrderDoesNotStopThePlan(t *testing.T) {
	p := &Problem{Machines: []Machine{{ID: "a"}, {ID: "b"}, {ID: "c", Windows: []Window{{-3600, -60, 1}}}}, Jobs: []Job{
		{ID: "none", Quantity: 0, Fits: []Fit{{0, 60, 1, 0}}},
		{ID: "nowhere", Quantity: 5},
		{ID: "pinned", Quantity: 5, Fits: []Fit{{0, 60, 1, 0}}, Pin: &Pin{Machine: 1, Start: -1}},
		{ID: "closed", Quantity: 5, Fits: []Fit{{2, 60, 1, 0}}},
		{ID: "past", Quantity: 5, Due: -100, Weight: 2, Fits: []Fit{{0, 60, 1, 0}}},
	}}
	s := must(t, p, Options{})
	if len(s.Unplaced) != 4 || len(s.Lots) != 1 || s.Lots[0].Job != 4 || s.Late != 1 || s.Lateness != 2*400 {
		t.Errorf("%+v", s)
	}
	if len(s.Notes) != 1 || !strings.Contains(s.Notes[0].Say.Raw(), "has passed") {
		t.Errorf("notes %v", s.Notes)
	}
	if s.Gap() != 0 {
		t.Errorf("one job alone cannot be earlier: gap %v, bound %v", s.Gap(), s.Bound)
	}
}

func TestRunningAndPinnedJobsStay(t *testing.T) {
	p := shop(rand.New(rand.NewPCG(2, 2)), 60, 4, 0.9)
	p.Jobs[7].Pin = &Pin{Machine: 2, Running: true}
	p.Jobs[9].Pin = &Pin{Machine: 1, Start: 7200}
	p.Jobs[11].Pin = &Pin{Machine: 3, Start: -1}
	for _, j := range []int{7, 9, 11} {
		p.Jobs[j].Fits = []Fit{{0, 300, 1, 0}, {1, 300, 1, 0}, {2, 300, 1, 0}, {3, 300, 1, 0}}
		p.Jobs[j].Release = 0
	}
	s := must(t, p, Options{Moves: 40000})
	if l := s.Queue(2)[0]; l.Job != 7 || l.Setup != 0 || l.From != 0 || !l.Running {
		t.Errorf("the running job is not first: %+v", l)
	}
	for _, l := range s.Lots {
		if l.Job == 9 && (l.Machine != 1 || math.Abs(l.From-7200) > 1) {
			t.Errorf("the pinned job is at %+v", l)
		}
		if l.Job == 11 && l.Machine != 3 {
			t.Errorf("the job pinned to machine 3 is on %d", l.Machine)
		}
	}
}

func TestSetupsAreWorthAvoidingOnlyByTheirSeconds(t *testing.T) {
	// Machine a has the cones on, machine b is much faster: b takes the job.
	p := &Problem{
		Machines: []Machine{{ID: "a", Loaded: []string{"red", "blue"}, Setup: SetupTimes{Cone: 60}},
			{ID: "b", Setup: SetupTimes{Cone: 60}}},
		Jobs: []Job{{ID: "o", Quantity: 10, Due: 100, Weight: 1, Cones: []string{"red", "blue"},
			Fits: []Fit{{0, 100, 1, 0}, {1, 50, 1, 0}}, MaxLots: 1}},
	}
	if s := must(t, p, Options{}); s.Lots[0].Machine != 1 || s.Lots[0].Cones != 2 || s.Lots[0].To != 620 {
		t.Errorf("%+v", s.Lots)
	}
}

func TestMovingByHandCostsWhatItSays(t *testing.T) {
	p := shop(rand.New(rand.NewPCG(4, 4)), 120, 6, 0.95)
	s := must(t, p, Options{Moves: 60000})
	d, err := NewDesk(p, s)
	if err != nil {
		t.Fatal(err)
	}
	if got := d.Schedule(); math.Abs(got.Cost-s.Cost) > 1e-3 || len(got.Lots) != len(s.Lots) {
		t.Fatalf("the desk has another plan: %+v for %+v", got.Totals, s.Totals)
	}
	rng := rand.New(rand.NewPCG(1, 1))
	moved, refused := 0, 0
	for range 300 {
		lot, m := rng.IntN(len(d.Schedule().Lots)), rng.IntN(len(p.Machines))
		place := rng.IntN(len(d.Schedule().Queue(m)) + 1)
		e, err := d.WhatIfMove(lot, m, place)
		if err != nil {
			refused++
			continue
		}
		job := d.Schedule().Lots[lot].Job
		before := d.Schedule().Cost
		after, err := d.Move(lot, m, place)
		if err != nil || math.Abs(after.Cost-before-e.Cost) > 1e-3 {
			t.Fatalf("the move was to cost %v and costs %v (%v)", e.Cost, after.Cost-before, err)
		}
		if want := slowCost(p, asQueues(p, after)); math.Abs(want.Cost-after.Cost) > 1e-2 {
			t.Fatalf("after the move the plan says %v, its queues come to %v", after.Cost, want.Cost)
		}
		if !slices.ContainsFunc(after.Queue(m), func(l Lot) bool { return l.Job == job }) {
			t.Fatalf("the lot of job %d is not on machine %d", job, m)
		}
		moved++
	}
	if moved < 100 || refused == 0 {
		t.Errorf("%d moved, %d refused: the test does not test", moved, refused)
	}
}

func TestReplanKeepsWhatNeedNotMove(t *testing.T) {
	p := shop(rand.New(rand.NewPCG(6, 6)), 200, 8, 0.8)
	s := must(t, p, Options{Moves: 200_000})
	old := Plan{p, s}
	same, err := Replan(ctx, old, p, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if same.Cost > s.Cost+1e-6 {
		t.Errorf("a re-plan of the same problem got worse: %v after %v", same.Cost, s.Cost)
	}
	rush := p.Jobs[3]
	rush.ID, rush.Name, rush.Due, rush.Weight, rush.Quantity = "rush", "", 4*3600, 5, 12
	q := withJob(p, rush)
	with, err := Replan(ctx, old, q, Options{})
	if err != nil {
		t.Fatal(err)
	}
	changes := Diff(old, Plan{q, with})
	added, moved := 0, 0
	for _, c := range changes {
		if c.Why.IsZero() {
			t.Errorf("no reason: %+v", c)
		}
		switch c.Kind {
		case Added:
			added++
		case Rerouted:
			moved++
		}
	}
	if added != 1 || moved > 20 {
		t.Errorf("one rush order: %d added, %d of 200 jobs on other machines", added, moved)
	}
	fresh := must(t, q, Options{Moves: 200_000})
	if with.Cost > 1.3*fresh.Cost+1000 {
		t.Errorf("the re-plan costs %v, a new plan %v", with.Cost, fresh.Cost)
	}
}

func TestDiffNamesTheMachineThatIsDown(t *testing.T) {
	p := shop(rand.New(rand.NewPCG(9, 9)), 60, 4, 0.8)
	s := must(t, p, Options{Moves: 60_000})
	q := withDown(p, 2, 3600, 3*86400, 0)
	again, err := Replan(ctx, Plan{p, s}, q, Options{})
	if err != nil {
		t.Fatal(err)
	}
	named := 0
	for _, c := range Diff(Plan{p, s}, Plan{q, again}) {
		if slices.Contains(c.From, "m2") && strings.Contains(c.Why.Raw(), "m2 is closed") {
			named++
		}
	}
	if named == 0 {
		t.Error("no change is put down to the machine that is down")
	}
	for _, l := range again.Queue(2) {
		if l.From > 3601 && l.From < 3*86400-1 {
			t.Errorf("a lot begins on the closed machine: %+v", l)
		}
	}
	if len(Diff(Plan{p, s}, Plan{p, s})) != 0 {
		t.Error("a plan differs from itself")
	}
}

// A job that left a machine which is closed for half an hour of its time left it for that; the hour that has gone by since the
// plan before was made is not closed.
func TestHalfAnHourClosedIsAReasonAndAnHourGoneByIsNone(t *testing.T) {
	open := []Window{{0, 86400, 1}}
	p := &Problem{Origin: time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC), Machines: []Machine{{ID: "m0", Windows: open}, {ID: "m1", Windows: open}},
		Jobs: []Job{{ID: "a", Quantity: 2, Due: 1e6, Weight: 1, Fits: []Fit{{0, 3600, 1, 0}, {1, 3600, 1, 0}}}}, Weights: DefaultWeights}
	on := func(m int) *Schedule {
		return &Schedule{Lots: []Lot{{Job: 0, Machine: m, Quantity: 2, Runs: 2, Work: 7200, To: 7200}}}
	}
	later := *p
	later.Origin = p.Origin.Add(time.Hour)
	for what, c := range map[string]struct {
		to     *Problem
		closed bool
	}{"half an hour closed": {withDown(p, 0, 1800, 3600, 0), true}, "closed after it": {withDown(p, 0, 7200, 9000, 0), false}, "an hour gone by": {&later, false}} {
		all := Diff(Plan{p, on(0)}, Plan{c.to, on(1)})
		if len(all) != 1 || strings.Contains(all[0].Why.Raw(), "is closed") != c.closed {
			t.Errorf("%s: %+v", what, all)
		}
	}
}

// Two machines that keep 0.8 of an operator each busy ask for 1.6: with one on
// duty they run at 1/1.6 of their pace, with two (or none said) at their own.
func TestOneOperatorFewerIsSlowerWhereTheyAreAskedFor(t *testing.T) {
	p := &Problem{
		Machines: []Machine{{ID: "a", Attention: .8}, {ID: "b", Attention: .8}},
		Jobs: []Job{
			{ID: "1", Quantity: 10, Due: math.Inf(1), Weight: 1, Fits: []Fit{{0, 100, 1, 0}}},
			{ID: "2", Quantity: 10, Due: math.Inf(1), Weight: 1, Fits: []Fit{{1, 100, 1, 0}}},
		},
		Crew: []Presence{{0, 1e6, 2}},
	}
	for _, c := range []struct {
		more, makeSpan float64
	}{{0, 1000}, {1, 1000}, {-.4, 1000}, {-1, 1600}, {-1.5, 3200}} {
		s := must(t, withOperators(p, c.more), Options{Moves: 100})
		if math.Abs(s.MakeSpan-c.makeSpan) > .01 {
			t.Errorf("with %+g operators all is done after %v s, want %v", c.more, s.MakeSpan, c.makeSpan)
		}
	}
	if p.Crew[0].Operators != 2 {
		t.Error("the what-if changed the problem itself")
	}
}

func TestAMoveThatCannotBeSaysWhy(t *testing.T) {
	p := &Problem{
		Machines: []Machine{{ID: "a"}, {ID: "b"}, {ID: "c", Windows: []Window{{-20, -10, 1}}}},
		Jobs: []Job{
			{ID: "fits", Quantity: 1, Due: math.Inf(1), Fits: []Fit{{0, 100, 1, 0}, {2, 100, 1, 0}}},
			{ID: "pinned", Quantity: 1, Due: math.Inf(1), Fits: []Fit{{0, 100, 1, 0}, {1, 100, 1, 0}},
				Pin: &Pin{Machine: 0, Start: -1}},
		},
	}
	s := must(t, p, Options{Moves: 100})
	d, err := NewDesk(p, s)
	if err != nil {
		t.Fatal(err)
	}
	for lot := range s.Lots {
		words := map[int]string{1: "machine b is none of the machines that can make job fits",
			2: "c has no working hours entered from now on"}
		if p.Jobs[s.Lots[lot].Job].ID == "pinned" {
			words = map[int]string{1: "job pinned is pinned to machine a; take the pin off",
				2: "job pinned is pinned to machine a; take the pin off"}
		}
		for m, want := range words {
			if _, err := d.WhatIfMove(lot, m, 0); err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("to %d: %v, want %q", m, err, want)
			}
		}
	}
}

func TestOneMoreOperatorHelpsWhereThereAreTooFew(t *testing.T) {
	p := shop(rand.New(rand.NewPCG(12, 1)), 60, 8, 0.9)
	c := Calendar{Shifts: []Shift{{To: clock(24, 0), Operators: 1}}}
	p.Crew = c.Presences(p.Origin, 60)
	few := must(t, p, Options{Moves: 60_000})
	more := must(t, withOperators(p, 1), Options{Moves: 60_000})
	enough := must(t, withOperators(p, 9), Options{Moves: 60_000})
	if !(more.MakeSpan < 0.8*few.MakeSpan) || enough.MakeSpan > more.MakeSpan*1.02 {
		t.Errorf("make-span with 1, 2, 10 operators for machines that ask for 2.4: %v %v %v", few.MakeSpan,
			more.MakeSpan, enough.MakeSpan)
	}
}

func TestEarliestDoesNotPushOthers(t *testing.T) {
	p := shop(rand.New(rand.NewPCG(13, 1)), 80, 6, 0.9)
	s := must(t, p, Options{Moves: 80_000})
	job := Job{ID: "new", Quantity: 24, Due: math.Inf(1), Design: "new",
		Fits: []Fit{{0, 500, 1, 0}, {2, 600, 6, 0}, {3, 700, 12, 0}}, MaxLots: 1}
	o, err := Earliest(p, s, job)
	if err != nil {
		t.Fatal(err)
	}
	if o.End <= 0 || len(o.Lots) != 1 || o.Others.After.Lateness > o.Others.Before.Lateness+24*3600 {
		t.Errorf("%+v", o)
	}
	if _, err := Earliest(p, s, Job{ID: "x", Quantity: 3}); err == nil {
		t.Error("a job that fits no machine got a date")
	}
}

// Move does what WhatIfMove asks about and gives the new plan. To keep the lot
// there in later plans, pin its job (Job.Pin).
func (d *Desk) Move(lot, machine, place int) (*Schedule, error) {
	c, err := d.change(lot, machine, place)
	if err != nil {
		return nil, err
	}
	if c != nil {
		d.s.apply(c)
		d.read()
	}
	return d.now, nil
}

// A plan that was not timed yet, as one is that an order was taken out of, gets the same offer as
// one that was put on a desk first.
func TestEarliestTimesAPlanThatLostAJob(t *testing.T) {
	for seed := range uint64(6) {
		p := shop(rand.New(rand.NewPCG(17, seed)), 60, 6, 0.9)
		s := must(t, p, Options{Moves: 20_000})
		gone := int(seed) * 7
		q := *p
		q.Jobs = slices.Delete(slices.Clone(p.Jobs), gone, gone+1)
		without := &Schedule{Complete: true}
		for _, l := range s.Lots {
			switch {
			case l.Job > gone:
				l.Job--
			case l.Job == gone:
				continue
			}
			without.Lots = append(without.Lots, Lot{Job: l.Job, Machine: l.Machine, Quantity: l.Quantity, From: l.From, To: l.To})
		}
		job := p.Jobs[gone]
		job.Due, job.Pin = math.Inf(1), nil
		d, err := NewDesk(&q, without)
		if err != nil {
			t.Fatal(err)
		}
		want, err := Earliest(&q, d.Schedule(), job)
		if err != nil {
			t.Fatal(err)
		}
		got, err := Earliest(&q, without, job)
		if err != nil {
			t.Fatal(err)
		}
		if got.End != want.End || got.Loose != 0 || !slices.Equal(got.Plan.Lots, want.Plan.Lots) || !slices.Equal(got.Before.Lots, want.Before.Lots) {
			t.Errorf("job %d: done at %v in %v; from a desk %v in %v", gone, got.End, got.Lots, want.End, want.Lots)
		}
		if ends := d.Schedule().Ends(&q); !slices.Equal(got.Before.Ends(&q), ends) {
			t.Errorf("without job %d the others end at %v, not %v", gone, got.Before.Ends(&q), ends)
		}
		without.Lots = slices.DeleteFunc(without.Lots, func(l Lot) bool { return l.Job == 3 || l.Job == 5 })
		if lost, err := Earliest(&q, without, job); err != nil || lost.Loose == 0 {
			t.Errorf("of a plan without two jobs nothing is said: %+v, %v", lost, err)
		}
	}
}

// One more order that costs the same anywhere on a machine stands behind what was planned before, whatever a sum
// of floats has in its last digits.
func TestOneMoreOrderStandsBehindWhatWasThere(t *testing.T) {
	rng := rand.New(rand.NewPCG(61, 1))
	for range 40 {
		p := &Problem{Machines: []Machine{{ID: "m", Windows: []Window{{0, 1e5, 1}}}}}
		job := func(id string) Job {
			return Job{ID: id, Design: id, Quantity: 1, Due: 1e5, Weight: 1, Fits: []Fit{{0, 1000 * rng.Float64(), 1, 0}}}
		}
		for _, id := range []string{"a", "b", "c", "d"} {
			p.Jobs = append(p.Jobs, job(id))
		}
		s := must(t, p, Options{Moves: 100, NoBound: true})
		o, err := Earliest(p, s, job("more"))
		if err != nil {
			t.Fatal(err)
		}
		if last := o.Plan.Lots[len(o.Plan.Lots)-1]; last.Job != len(p.Jobs) {
			t.Fatalf("%v stands behind it", o.With.Jobs[last.Job].ID)
		}
	}
}

// Of two jobs asked for together the one that only a slow machine can make takes it, and the other goes
// round it, whichever is named first.
func TestJobsAskedForTogetherLeaveEachOtherRoom(t *testing.T) {
	p := &Problem{Machines: []Machine{{ID: "fast"}, {ID: "slow"}}, LotSeconds: 60,
		Jobs: []Job{{ID: "was", Quantity: 1, Due: 1e6, Weight: 1, Fits: []Fit{{0, 50, 1, 0}}}}}
	s := must(t, p, Options{Moves: 100})
	wide := Job{ID: "wide", Quantity: 40, Due: math.Inf(1), Fits: []Fit{{0, 10, 1, 0}, {1, 10, 1, 0}}}
	narrow := Job{ID: "narrow", Quantity: 30, Due: math.Inf(1), Fits: []Fit{{1, 10, 1, 0}}}
	for _, jobs := range [][]Job{{wide, narrow}, {narrow, wide}} {
		o, err := Earliest(p, s, jobs...)
		if err != nil {
			t.Fatal(err)
		}
		// 750 s of work on two machines that both can be full: 375 s, 20 pieces of wide behind what was on the fast one.
		if o.End > 450 || len(o.Lots) < 2 || len(o.Others.Jobs) > 1 || len(o.Others.Jobs) == 1 && o.Others.Jobs[0].LateAfter > 0 {
			t.Errorf("%s first: done at %v in %+v", jobs[0].ID, o.End, o.Lots)
		}
		for i, j := range jobs {
			n := 0
			for _, l := range o.Lots {
				if l.Job == 1+i {
					n += l.Quantity
				}
			}
			if n != j.Quantity || !math.IsInf(o.With.Jobs[1+i].Due, 1) || o.With.Jobs[1+i].ID != j.ID {
				t.Errorf("%s has %d pieces of %d, due %v", j.ID, n, j.Quantity, o.With.Jobs[1+i].Due)
			}
		}
	}
}

// A day can be asked for of a job that runs: it stays on its machine and ends with what is left of it.
func TestAJobThatRunsIsAskedFor(t *testing.T) {
	p := &Problem{Machines: []Machine{{ID: "a"}, {ID: "b"}},
		Jobs: []Job{{ID: "was", Quantity: 1, Due: 1e6, Weight: 1, Fits: []Fit{{0, 50, 1, 0}}}}}
	s := must(t, p, Options{Moves: 100})
	o, err := Earliest(p, s, Job{ID: "on", Quantity: 4, Due: math.Inf(1), Fits: []Fit{{0, 100, 1, 0}}, Pin: &Pin{Machine: 0, Running: true}},
		Job{ID: "more", Quantity: 1, Due: math.Inf(1), Fits: []Fit{{1, 100, 1, 0}}})
	if err != nil {
		t.Fatal(err)
	}
	if o.End != 400 || len(o.Lots) != 2 || len(o.Before.Lots) != 1 || o.Before.Lots[0].From != 400 || len(o.Others.Jobs) != 0 {
		t.Errorf("done at %v in %+v; without it %+v; others %+v", o.End, o.Lots, o.Before.Lots, o.Others.Jobs)
	}
}

// What is shared between machines is a matter of the problem: an offer shares a job where a plan would.
func TestAnOfferSharesAJobAsAPlanDoes(t *testing.T) {
	for _, c := range []struct {
		seconds float64
		lots    int
	}{{1e6, 1}, {-1, 1}, {100, 2}} {
		p := &Problem{Machines: []Machine{{ID: "a"}, {ID: "b"}}, LotSeconds: c.seconds}
		job := Job{ID: "j", Quantity: 5000, Due: 25_000, Weight: 1, Fits: []Fit{{0, 10, 1, 0}, {1, 10, 1, 0}}}
		o, err := Earliest(p, &Schedule{}, job)
		if err != nil {
			t.Fatal(err)
		}
		p.Jobs = []Job{job}
		if s := must(t, p, Options{Moves: 1000}); len(o.Lots) != c.lots || len(s.Lots) != c.lots {
			t.Errorf("shared from %v s: offered in %d lots, planned in %d, want %d", c.seconds, len(o.Lots), len(s.Lots), c.lots)
		}
	}
}

// A job that another came before gives way where that is better for both.
func TestAJobGivesWayToAnotherOfItsOrder(t *testing.T) {
	p := &Problem{Machines: []Machine{{ID: "a"}, {ID: "b"}, {ID: "slow"}}}
	x := Job{ID: "x", Quantity: 1, Due: math.Inf(1), MaxLots: 1, Fits: []Fit{{0, 400, 1, 0}, {1, 390, 1, 0}}}
	y := Job{ID: "y", Quantity: 1, Due: math.Inf(1), MaxLots: 1, Fits: []Fit{{1, 300, 1, 0}, {2, 3000, 1, 0}}}
	for _, jobs := range [][]Job{{x, y}, {y, x}} {
		if o, err := Earliest(p, &Schedule{}, jobs...); err != nil || o.End != 400 {
			t.Errorf("%s first: done at %v, want 400; %v", jobs[0].ID, o.End, err)
		}
	}
}

// In drawn shops the lines of an order end alike whichever is named first.
func TestTheOrderOfLinesMeansNothing(t *testing.T) {
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(7, seed))
		p := shop(rand.New(rand.NewPCG(17, seed)), 20, 5, 0.9)
		s := must(t, p, Options{Moves: 3000, NoBound: true})
		var jobs []Job
		for k := range 2 + r.IntN(4) {
			j := p.Jobs[r.IntN(len(p.Jobs))]
			j.ID, j.Due, j.Pin, j.Quantity = fmt.Sprint("asked ", k), math.Inf(1), nil, j.Quantity*(1+r.IntN(6))
			jobs = append(jobs, j)
		}
		a, err := Earliest(p, s, jobs...)
		if err != nil {
			t.Fatal(err)
		}
		slices.Reverse(jobs)
		if b, err := Earliest(p, s, jobs...); err != nil || math.Abs(a.End-b.End) > 1 {
			t.Errorf("seed %d: %d lines end at %v, named the other way round at %v; %v", seed, len(jobs), a.End, b.End, err)
		}
	}
}
