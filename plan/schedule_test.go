package plan

import (
	"math"
	"strings"
	"testing"
)

func TestTheGapIsTheLatenessThatMightBeSaved(t *testing.T) {
	for _, c := range []struct{ lateness, bound, want float64 }{{0, 0, 0}, {0, -1, 0}, {100, 60, 0.4}, {100, 0, 1}, {100, 100, 0}, {100, 100.5, 0}} {
		s := Schedule{Totals: Totals{Lateness: c.lateness}, Bound: c.bound}
		if got := s.Gap(); got != c.want {
			t.Errorf("lateness %v, no plan below %v: gap %v, want %v", c.lateness, c.bound, got, c.want)
		}
	}
}

func TestASetUpNeedNotWaitForTheGoods(t *testing.T) {
	for _, c := range []struct{ setup, release, setupFrom, from float64 }{{0, 0, 0, 0}, {0, 1000, 1000, 1000}, {100, 1000, 0, 1000}, {100, 50, 0, 100}} {
		p, _ := one(math.Inf(1))
		p.Machines[0].Setup.Job = c.setup
		p.Jobs[0].Design, p.Jobs[0].Release = "a", c.release
		l := must(t, p, Options{Moves: 10}).Lots[0]
		if l.SetupFrom != c.setupFrom || l.From != c.from || l.Setup != c.setup || l.To != c.from+3600 {
			t.Errorf("%+v: %+v", c, l)
		}
		if l.Pinned || l.Running {
			t.Errorf("a free lot is pinned or running: %+v", l)
		}
	}
	p, _ := one(math.Inf(1))
	p.Jobs[0].Pin = &Pin{Start: 40}
	if l := must(t, p, Options{Moves: 10}).Lots[0]; !l.Pinned || l.Running || l.From != 40 {
		t.Errorf("pinned: %+v", l)
	}
	p.Jobs[0].Pin.Running = true
	if l := must(t, p, Options{Moves: 10}).Lots[0]; !l.Pinned || !l.Running || l.From != 0 {
		t.Errorf("running: %+v", l)
	}
}

// What a machine makes of one job in one go is one lot, however the search cut it.
func TestLotsThatFollowEachOtherAreOne(t *testing.T) {
	// The large one may be shared, and so is cut; but b is busy for months.
	p := &Problem{Machines: []Machine{{ID: "a"}, {ID: "b", Free: 1e7}}, Jobs: []Job{
		{ID: "large", Quantity: 100, Due: math.Inf(1), Fits: []Fit{{0, 600, 2, 0}, {1, 600, 2, 0}}},
		{ID: "small", Quantity: 3, Due: math.Inf(1), Fits: []Fit{{0, 600, 2, 0}}},
	}}
	p.LotSeconds = 3600
	s := must(t, p, Options{Moves: 2000})
	if len(s.Lots) != 2 {
		t.Fatalf("%d lots: %+v", len(s.Lots), s.Lots)
	}
	for _, l := range s.Lots {
		want := Lot{Job: l.Job, Quantity: 100, Runs: 50, Work: 30000}
		if l.Job == 1 {
			want = Lot{Job: 1, Quantity: 3, Runs: 2, Work: 1200}
		}
		if l.Quantity != want.Quantity || l.Runs != want.Runs || l.Work != want.Work ||
			math.Abs(l.To-l.From-want.Work) > 1e-3 {
			t.Errorf("%+v, want %+v", l, want)
		}
	}
	if s.Work != 31200 || s.MakeSpan != 31200 || s.Setup != 0 {
		t.Errorf("%+v", s.Totals)
	}
}

func TestAnEndAfterTheLastHoursIsSaidToBeAnEstimate(t *testing.T) {
	for _, c := range []struct {
		open float64
		said bool
	}{{3700, false}, {3600, false}, {3500, true}} {
		p, _ := one(math.Inf(1))
		p.Machines[0].Windows = []Window{{0, c.open, 1}}
		s := must(t, p, Options{Moves: 10})
		if said := len(s.Notes) == 1 && strings.Contains(s.Notes[0].Say.Raw(), "an estimate"); said != c.said {
			t.Errorf("an hour's work in %v s of hours: notes %v", c.open, s.Notes)
		}
	}
}

func TestKnownChangeoversAreThoseOfTheMachine(t *testing.T) {
	p := &Problem{Machines: []Machine{{ID: "a"}, {ID: "b"}},
		Jobs: []Job{{ID: "x", Quantity: 1, Due: math.Inf(1), Fits: []Fit{{1, 100, 1, 0}}}}}
	between := [][][]float64{{{0}}}
	for _, c := range []struct {
		first [][]float64
		want  float64
	}{{nil, 100}, {[][]float64{{30}}, 130}, {[][]float64{{30}, {70}}, 170}} {
		p.Changeover = &Changeover{Between: between, First: c.first}
		if s := must(t, p, Options{Moves: 10}); s.MakeSpan != c.want {
			t.Errorf("first set-ups %v: done after %v s, want %v", c.first, s.MakeSpan, c.want)
		}
	}
	// A matrix a machine: b's own.
	p.Jobs = append(p.Jobs, Job{ID: "y", Quantity: 1, Due: math.Inf(1), Fits: []Fit{{1, 100, 1, 0}}})
	p.Changeover = &Changeover{Between: [][][]float64{{{0, 500}, {500, 0}}, {{0, 7}, {7, 0}}}}
	if s := must(t, p, Options{Moves: 10}); s.MakeSpan != 207 {
		t.Errorf("two jobs with 7 s between: done after %v s", s.MakeSpan)
	}
}

// Two lots of one job that a hand brings together are one: their last runs, each with empty heads, too.
func TestLotsBroughtTogetherAreOne(t *testing.T) {
	p := &Problem{Machines: []Machine{{ID: "a", Rate: 1}, {ID: "b", Rate: 1}}, Weights: Weights{Lateness: 1, Money: 1},
		Jobs: []Job{{ID: "1", Quantity: 14, Due: 150, Weight: 1, Fits: []Fit{{0, 100, 12, 0}, {1, 100, 12, 0}}}}}
	s := &Schedule{Lots: []Lot{{Job: 0, Machine: 0, Quantity: 7}, {Job: 0, Machine: 1, Quantity: 7}}}
	d, err := NewDesk(p, s)
	if err != nil {
		t.Fatal(err)
	}
	if now := d.Schedule(); len(now.Lots) != 2 || now.Work != 200 || now.Lateness != 0 {
		t.Fatalf("%+v", now)
	}
	e, err := d.WhatIfMove(1, 0, 1)
	if err != nil || e.After.Work != 200 || e.After.Lateness != 50 { // 14 pieces: two runs of 12 heads
		t.Errorf("%+v, %v", e, err)
	}
	p.Jobs[0].Quantity = 10 // one run
	s = &Schedule{Lots: []Lot{{Job: 0, Machine: 0, Quantity: 5}, {Job: 0, Machine: 1, Quantity: 5}}}
	if d, err = NewDesk(p, s); err != nil {
		t.Fatal(err)
	}
	after, err := d.Move(1, 0, 1)
	if err != nil || len(after.Lots) != 1 || after.Lots[0].Runs != 1 || after.Lots[0].Work != 100 ||
		after.Lots[0].To != 100 || after.MakeSpan != 100 || after.Money != 100 || after.Lateness != 0 {
		t.Errorf("%+v, %v", after, err)
	}
}

// What is done of a running job is work no more, in the plan, its bound and its simulated courses; never is less than nothing left.
func TestWhatIsDoneOfARunningJobIsNotPlannedAgain(t *testing.T) {
	for done, want := range map[float64]float64{0: 1000, 300: 700, 2000: 0} {
		p := &Problem{Machines: []Machine{{}}, Jobs: []Job{
			{ID: "on", Quantity: 10, Due: 100, Weight: 1, Fits: []Fit{{Machine: 0, Run: 100, Pieces: 1}},
				Pin: &Pin{Machine: 0, Running: true, Done: done, Start: -1}},
			{ID: "next", Quantity: 1, Due: 100, Weight: 1, Fits: []Fit{{Machine: 0, Run: 50, Pieces: 1}}}}}
		s, err := Solve(t.Context(), p, Options{Seed: 1, Moves: 1000})
		if err != nil {
			t.Fatal(err)
		}
		late := max(0, want-100) + max(0, want+50-100)
		if ends := s.Ends(p); math.Abs(ends[0]-want) > .01 || math.Abs(ends[1]-want-50) > .01 || math.Abs(s.Lateness-late) > .1 {
			t.Errorf("%v s done: ends %v, %v s late; want %v and %v", done, ends, s.Lateness, want, late)
		}
		if s.Bound > s.Lateness+1e-6 || done == 0 && s.Bound < 900 {
			t.Errorf("%v s done: the bound is %v, the lateness %v", done, s.Bound, s.Lateness)
		}
		all, err := Promise(t.Context(), p, s, Uncertainty{}, PromiseOptions{Chance: .9})
		if err != nil || math.Abs(all[0].Promise-want) > .01 {
			t.Errorf("%v s done: promised %+v, %v", done, all, err)
		}
	}
	p := &Problem{Machines: []Machine{{}}, Jobs: []Job{{ID: "on", Quantity: 1, Fits: []Fit{{Machine: 0, Run: 1, Pieces: 1}},
		Pin: &Pin{Running: true, Done: -1}}}}
	if err := Check(p); err == nil || !strings.Contains(err.Error(), "-1 s of its work are done") {
		t.Errorf("less than nothing done: %v", err)
	}
}
