package plan

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// six is a six-head machine beside two of one head, as shops have them.
func six() *Problem {
	return &Problem{
		Machines: []Machine{{ID: "six"}, {ID: "one"}, {ID: "other"}},
		Weights:  Weights{Lateness: 1, MakeSpan: 1e-3, Money: 7, Risk: 7200, Move: 360},
	}
}

// fits is a job that takes run seconds on all three machines of six.
func fits(run float64) []Fit { return []Fit{{0, run, 6, 0}, {1, run, 1, 0}, {2, run, 1, 0}} }

// A job that is shared is cut as its machines are fast: they end together.
func TestLotsAreAsLargeAsTheirMachinesAreFast(t *testing.T) {
	p := six()
	p.Weights.Risk = 0
	p.Jobs = []Job{{ID: "shirts", Quantity: 800, Due: 50_000, Weight: 1, Fits: fits(600)}}
	p.LotSeconds = 3600
	s := must(t, p, Options{Moves: 20_000})
	var first, last float64 = math.Inf(1), 0
	pieces := map[int]int{}
	for _, l := range s.Lots {
		first, last = min(first, l.To), max(last, l.To)
		pieces[l.Machine] += l.Quantity
	}
	// 800 pieces at (6 + 1 + 1)/600 a second are 60,000 s: 600, 100, 100.
	if len(pieces) != 3 || last-first > 1200 || pieces[0] < 594 || pieces[0] > 606 {
		t.Errorf("pieces by machine %v, ends %v to %v", pieces, first, last)
	}
}

// A machine that takes more than twenty times as long as the fastest gets no lot of a job, one that takes less may.
func TestAMachineFarSlowerGetsNoLot(t *testing.T) {
	p := six()
	for _, c := range []struct{ pace, machines float64 }{{.04, 2}, {.06, 3}} {
		j := Job{ID: "shirts", Quantity: 8000, Due: 1, Weight: 1, Fits: []Fit{{0, 100, 1, 0}, {1, 200, 1, 0}, {2, 100 / c.pace, 1, 0}}}
		p.Jobs = []Job{j}
		windows := staffed(p)
		if on := sharers(p, closedIn(windows), linesOf(windows), &j); len(on) != int(c.machines) {
			t.Errorf("with a machine at %v of the fastest's pace %d may share it", c.pace, len(on))
		}
	}
}

// Nothing is late by the plan either way: the order that may well be late is
// shared by machines that stand idle, and one that is sure is not.
func TestAnUnsureOrderIsShared(t *testing.T) {
	for _, c := range []struct {
		due    float64
		shared bool
	}{{93_000, true}, {300_000, false}} {
		p := six()
		for m := range p.Machines {
			p.Machines[m].Spread, p.Machines[m].Rate = .12, []float64{.012, .006, .006}[m]
			p.Machines[m].Setup.Job = 600
		}
		p.Jobs = []Job{{ID: "caps", Quantity: 900, Due: c.due, Weight: 1, Fits: fits(600), Design: "cap"}}
		p.LotSeconds = 8 * 3600
		s := must(t, p, Options{Moves: 20_000})
		on := map[int]bool{}
		for _, l := range s.Lots {
			on[l.Machine] = true
		}
		if (len(on) > 1) != c.shared || s.Late != 0 {
			t.Errorf("due at %v: on %d machines, %d late, risk %v", c.due, len(on), s.Late, s.Risk)
		}
	}
}

// Where no date hangs on it, work goes where it costs least; a due date goes
// before money.
func TestMoneyDecidesWhereNoDateDoes(t *testing.T) {
	p := six()
	p.Machines[0].Rate, p.Machines[1].Rate, p.Machines[2].Rate = .012, .012, .008
	p.Jobs = []Job{{ID: "a", Quantity: 1, Due: 100_000, Weight: 1, Fits: []Fit{{1, 1000, 1, 0}, {2, 1200, 1, 0}}}}
	s := must(t, p, Options{Moves: 2000})
	// 12.00 on one, 9.60 on the other.
	if s.Lots[0].Machine != 2 || math.Abs(s.Money-9.6) > 1e-9 {
		t.Errorf("planned on %d for %v", s.Lots[0].Machine, s.Money)
	}
	p.Jobs[0].Due = 1000
	if s := must(t, p, Options{Moves: 2000}); s.Lots[0].Machine != 1 || s.Late != 0 {
		t.Errorf("due at 1,000 s: planned on %d, %d late", s.Lots[0].Machine, s.Late)
	}
}

// The chance of the goal is the chance that courses of the plan have.
func TestTheGoalsChanceIsThatOfTheCourses(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 9))
	for range 6 {
		mach := Machine{ID: "m", Spread: .05 + .1*rng.Float64()}
		const lots, work, sd = 12, 3000.0, .08
		mach.Scatter = sd * math.Sqrt(work)
		p := &Problem{Machines: []Machine{mach}, Weights: Weights{Lateness: 1, Risk: 1}}
		for k := range lots {
			p.Jobs = append(p.Jobs, Job{ID: string(rune('a' + k)), Quantity: 1, Weight: 1, Fits: []Fit{{0, work, 1, 0}},
				Due: float64(k+1) * work * (1 + .2*rng.Float64()), Pin: &Pin{Machine: 0, Start: -1}})
		}
		s := must(t, p, Options{Moves: 1000})
		all, err := Promise(ctx, p, s, Uncertainty{
			Machine: func(_ int, u float64) float64 { return LogNormal(mach.Spread)(u) },
			Lot:     func(_, _ int, u float64) float64 { return LogNormal(sd)(u) },
		}, PromiseOptions{Chance: .9, Draws: 4000})
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, a := range all {
			sum += 1 - a.OnTime
		}
		if d := math.Abs(sum-s.Risk) / lots; d > .03 {
			t.Errorf("chances to be late sum up to %v in the goal, %v in courses", s.Risk, sum)
		}
	}
}

// A new plan of the same things stays; with a little time gone too.
func TestANewPlanOfTheSameThingsMovesNothing(t *testing.T) {
	for seed := range uint64(3) {
		p := shop(rand.New(rand.NewPCG(21, seed)), 200, 8, .95)
		s := must(t, p, Options{Moves: 60_000}) // far from the best there is
		again, err := Replan(ctx, Plan{p, s}, p, Options{Keep: true})
		if err != nil {
			t.Fatal(err)
		}
		if d := Diff(Plan{p, s}, Plan{p, again}); len(d) > 0 || again.Moved != 0 {
			t.Errorf("%d changes, the first: %+v", len(d), d[0])
		}
	}
}

// What a re-plan moves is worth it: the goal, with the moves charged, is lower than
// with nothing moved, and moves that the charge forbids are not made.
func TestMovesAreWorthWhatTheyAreCharged(t *testing.T) {
	count := func(move float64) (n int, gain float64) {
		p := shop(rand.New(rand.NewPCG(22, 1)), 120, 6, .9)
		p.Weights = Weights{Lateness: 1, MakeSpan: 1e-3, Setup: 1e-3, Work: 1e-4}
		s := must(t, p, Options{Moves: 30_000})
		q := *p
		q.Weights.Move = move
		rush := p.Jobs[7]
		rush.ID, rush.Due, rush.Weight = "rush", 9*3600, 4
		r := withJob(&q, rush)
		stay, err := Replan(ctx, Plan{p, s}, r, Options{Keep: true})
		if err != nil {
			t.Fatal(err)
		}
		with, err := Replan(ctx, Plan{p, s}, r, Options{Moves: 100_000})
		if err != nil {
			t.Fatal(err)
		}
		b, a := look(Plan{p, s}), look(Plan{r, with})
		for _, m := range moved(b, a) {
			if m {
				n++
			}
		}
		return n, stay.Cost - with.Cost
	}
	free, gain := count(0)
	some, gainSome := count(2000)
	none, gainNone := count(1e12)
	if gain < 0 || gainSome < -1e-6 || gainNone < -1e-6 {
		t.Errorf("a re-plan is worse than staying: %v, %v, %v", gain, gainSome, gainNone)
	}
	if none != 0 || some >= free || some == 0 {
		t.Errorf("moved free %d, at 2,000 s each %d, at no price %d", free, some, none)
	}
}

// What begins at once is charged whole, what begins a shift of eight hours later half, and so on down to a tenth; what is held
// by hand nothing, on its machine or on another.
func TestALaterJobIsChargedLess(t *testing.T) {
	p := &Problem{Machines: []Machine{{ID: "a"}, {ID: "b"}}, Weights: Weights{Lateness: 1, Move: 600}}
	for _, id := range []string{"0", "1", "2", "3", "4", "5", "held"} {
		p.Jobs = append(p.Jobs, Job{ID: id, Quantity: 1, Due: 1e6, Weight: 1, Fits: []Fit{{0, 8 * 3600, 1, 0}, {1, 8 * 3600, 1, 0}}})
	}
	p.Jobs[6].Pin = &Pin{Start: -1}
	md := compile(p, whole)
	s := newState(md)
	s.set([][]int32{{0, 1, 2, 3, 4, 5, 6}, nil})
	md.remember(s, func(int) bool { return true })
	want := []float64{1, .5, .25, .125, .1, .1, 0}
	for lot, part := range want {
		last := int32(-1)
		if got := md.old.charge(1, int32(lot), &last); math.Abs(got-600*part) > 1e-9 {
			t.Errorf("lot %d on another machine is charged %v, want %v", lot, got, 600*part)
		}
	}
	for _, c := range []struct {
		queue []int32
		part  float64
	}{{[]int32{0, 1, 2}, 0}, {[]int32{1, 0, 2}, 1}, {[]int32{6, 0, 1}, 0}, {[]int32{2, 3, 1}, .5}} {
		last, sum := int32(-1), 0.0
		for _, lot := range c.queue {
			sum += md.old.charge(0, lot, &last)
		}
		if sum != 600*c.part {
			t.Errorf("%v in its queue is charged %v, want %v", c.queue, sum, 600*c.part)
		}
	}
}

// Scored with the charge for moves, a plan from nothing is not more than 1 % below
// one that is made from the plan before.
func TestAFreshStartDoesNotBeatTheWarmOne(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for seed := range uint64(4) {
		n, m := []int{40, 80, 200, 400}[seed], []int{3, 5, 8, 12}[seed]
		p := shop(rand.New(rand.NewPCG(31, seed)), n, m, .9)
		s := must(t, p, Options{})
		rush := p.Jobs[1]
		rush.ID, rush.Due, rush.Weight = "rush", 10*3600, 4
		q := withJob(withDown(p, 0, 0, 12*3600, 0), rush)
		warm, err := Replan(ctx, Plan{p, s}, q, Options{})
		if err != nil {
			t.Fatal(err)
		}
		fresh := must(t, q, Options{NoBound: true})
		if cost := scored(t, Plan{p, s}, q, fresh); warm.Cost > 1.01*cost {
			t.Errorf("%d jobs: warm %v, from nothing %v", n, warm.Cost, cost)
		}
	}
}

// A new plan of many lots, which two cores search, is seen to come to its end.
func TestProgressOfAReplanComesToItsEnd(t *testing.T) {
	p := shop(rand.New(rand.NewPCG(32, 1)), 160, 6, 1)
	s := must(t, p, Options{Moves: 1000, NoBound: true})
	var last Progress
	if _, err := Replan(ctx, Plan{p, s}, p, Options{Moves: 1_200_000, Progress: func(x Progress) { last = x }}); err != nil {
		t.Fatal(err)
	}
	if gone := float64(last.Moves) / float64(last.Of); gone < 0.7 || gone > 1 {
		t.Errorf("at the end it tells %d moves of %d", last.Moves, last.Of)
	}
}

// scored is the goal of a plan with its moves from the plan before charged.
func scored(t *testing.T, old Plan, p *Problem, s *Schedule) float64 {
	t.Helper()
	was := map[string]map[string]int{} // job → machine → place
	begins := map[string]float64{}
	for i, l := range old.Schedule.Lots {
		id := old.Problem.Jobs[l.Job].ID
		if was[id] == nil {
			was[id] = map[string]int{}
		}
		was[id][old.Problem.Machines[l.Machine].ID] = i
		begins[id] = l.From
	}
	moves := 0.0
	for m := range p.Machines {
		last := -1
		for _, l := range s.Queue(m) {
			id := p.Jobs[l.Job].ID
			if was[id] == nil {
				continue
			}
			part := max(.1, math.Exp2(-max(begins[id], 0)/28800))
			k, here := was[id][p.Machines[m].ID]
			switch {
			case !here, last > k:
				moves += part
			}
			if here {
				last = k
			}
		}
	}
	w := p.Weights.orDefault()
	return s.Cost + w.Move*moves
}

// Every reason is true: it names what changed, or the term that pays.
func TestWhyAJobMoved(t *testing.T) {
	two := func() *Problem {
		p := &Problem{Machines: []Machine{{ID: "a", Windows: []Window{{0, 1e6, 1}}}, {ID: "b", Windows: []Window{{0, 1e6, 1}}}},
			Weights: Weights{Lateness: 1, MakeSpan: 1e-3, Money: 1, Move: 10}, Crew: []Presence{{0, 1e6, 9}}}
		for _, id := range []string{"1", "2", "3"} {
			p.Jobs = append(p.Jobs, Job{ID: id, Name: "job " + id, Quantity: 10, Due: 5000, Weight: 1, Design: id,
				Fits: []Fit{{0, 100, 1, 0}, {1, 100, 1, 0}}})
		}
		p.Jobs[0].Pin, p.Jobs[1].Pin = &Pin{Machine: 0, Start: -1}, &Pin{Machine: 1, Start: -1}
		p.Jobs[2].Fits = p.Jobs[2].Fits[:1]
		return p
	}
	base := two()
	before := Plan{base, &Schedule{Lots: []Lot{
		{Job: 0, Machine: 0, Quantity: 10, Runs: 10, From: 0, To: 1000, Work: 1000},
		{Job: 2, Machine: 0, Quantity: 10, Runs: 10, From: 1000, To: 2000, Work: 1000},
		{Job: 1, Machine: 1, Quantity: 10, Runs: 10, From: 0, To: 1000, Work: 1000},
	}}}
	for _, c := range []struct {
		name, job, want string
		change          func(p *Problem)
	}{
		{"a rush order", "3", "job rush, which is new, comes before it on machine a", func(p *Problem) {
			p.Jobs = append(p.Jobs, Job{ID: "rush", Name: "job rush", Quantity: 5, Due: 100, Weight: 9, Design: "r",
				Fits: []Fit{{0, 100, 1, 0}}})
		}},
		{"longer runs before it", "3", "job 1 before it on machine a takes 17 min longer", func(p *Problem) {
			p.Jobs[0].Fits[0].Run = 200
		}},
		{"its own runs are longer", "3", "it takes 17 min longer on machine a", func(p *Problem) { p.Jobs[2].Fits[0].Run = 200 }},
		{"its own runs are shorter", "3", "it takes 8 min less on machine a", func(p *Problem) { p.Jobs[2].Fits[0].Run = 50 }},
		{"its own runs are longer where it was", "3", "it takes 1.7 h on machine a now, not 17 min", func(p *Problem) {
			p.Jobs[2].Fits[0].Run = 600
			p.Jobs[2].Fits = append(p.Jobs[2].Fits, Fit{1, 100, 1, 0})
		}},
		{"its own runs are a little longer", "3", "job rush, which is new", func(p *Problem) {
			p.Jobs = append(p.Jobs, Job{ID: "rush", Name: "job rush", Quantity: 5, Due: 100, Weight: 9, Design: "r", Fits: []Fit{{0, 100, 1, 0}}})
			p.Jobs[2].Fits[0].Run = 101
		}},
		{"its own runs are shorter, and yet it is later", "3", "job rush, which is new", func(p *Problem) {
			p.Jobs = append(p.Jobs, Job{ID: "rush", Name: "job rush", Quantity: 10, Due: 100, Weight: 9, Design: "r", Fits: []Fit{{0, 100, 1, 0}}})
			p.Jobs[2].Fits[0].Run = 50
		}},
		{"fewer pieces", "3", "its quantity changed from 10 to 8", func(p *Problem) { p.Jobs[2].Quantity = 8 }},
		{"the machine is closed", "3", "the hours of machine a changed", func(p *Problem) {
			p.Machines[0].Windows = []Window{{0, 500, 1}, {4500, 1e6, 1}}
		}},
		{"another machine is cheaper now", "3", "it costs less machine time and set-up", func(p *Problem) {
			p.Machines[0].Rate = 1
			p.Jobs[2].Fits = append(p.Jobs[2].Fits, Fit{1, 100, 1, 0})
		}},
		{"late where it was", "3", "less is late", func(p *Problem) {
			p.Jobs = append(p.Jobs, Job{ID: "rush", Name: "job rush", Quantity: 60, Due: 6000, Weight: 9, Design: "r",
				Fits: []Fit{{0, 100, 1, 0}}})
			p.Jobs[2].Fits = append(p.Jobs[2].Fits, Fit{1, 100, 1, 0})
		}},
		{"time went by and nothing was sewn", "3", "less is sewn on machine a by now than was planned", func(p *Problem) {
			p.Origin = base.Origin.Add(600e9)
			for i := range p.Jobs {
				p.Jobs[i].Due -= 600
			}
			for m := range p.Machines {
				p.Machines[m].Windows = []Window{{0, 1e6 - 600, 1}}
			}
		}},
		{"a part of it was sewn, and yet it is later", "3", "less is sewn on machine a by now than was planned", func(p *Problem) {
			p.Origin = base.Origin.Add(600e9)
			p.Jobs[2].Quantity = 8
			for i := range p.Jobs {
				p.Jobs[i].Due -= 600
			}
			for m := range p.Machines {
				p.Machines[m].Windows = []Window{{0, 1e6 - 600, 1}}
			}
		}},
		{"a little less was sewn, and the machine is down since", "3", "the hours of machine a changed", func(p *Problem) {
			p.Origin = base.Origin.Add(600e9)
			p.Jobs[0].Quantity = 6
			for i := range p.Jobs {
				p.Jobs[i].Due -= 600
			}
			for m := range p.Machines {
				p.Machines[m].Windows = []Window{{0, 100, 1}, {1100, 1e6 - 600, 1}}
			}
		}},
		{"much less was sewn, and the machine is down for a moment", "3", "less is sewn on machine a by now than was planned", func(p *Problem) {
			p.Origin = base.Origin.Add(600e9)
			p.Jobs[0].Quantity = 9
			for i := range p.Jobs {
				p.Jobs[i].Due -= 600
			}
			for m := range p.Machines {
				p.Machines[m].Windows = []Window{{0, 100, 1}, {200, 1e6 - 600, 1}}
			}
		}},
		{"fewer hands", "3", "machine a has less of the operators", func(p *Problem) {
			p.Machines[0].Attention, p.Machines[1].Attention = .5, .5
			p.Crew = []Presence{{0, 1e6, .5}}
		}},
	} {
		p := two()
		c.change(p)
		s, err := Replan(context.Background(), before, p, Options{Moves: 5000})
		if err != nil {
			t.Fatal(err)
		}
		changes := Diff(before, Plan{p, s})
		k := slices.IndexFunc(changes, func(x Change) bool { return x.Job == c.job })
		if k < 0 {
			t.Errorf("%s: job %s did not change: %+v", c.name, c.job, changes)
			continue
		}
		if !strings.Contains(changes[k].Why.Raw(), c.want) {
			t.Errorf("%s: %q, want %q", c.name, changes[k].Why.Raw(), c.want)
		}
	}
}

// Lots of one job become one where they follow each other on a machine, and only there.
func TestLotsThatFollowEachOtherBecomeOne(t *testing.T) {
	p := six()
	p.Jobs = []Job{{ID: "a", Quantity: 60, Due: 1e6, Weight: 1, Fits: fits(600)}, {ID: "b", Quantity: 6, Due: 1e6, Weight: 1, Fits: fits(600)}}
	cut := func(j *Job, _ int) []int {
		if j.ID == "a" {
			return []int{20, 20, 20}
		}
		return []int{6}
	}
	for _, c := range []struct {
		queue []int32 // lots 0 to 2 are of a, 3 is b
		want  []int
	}{{[]int32{0, 3, 1, 2}, []int{20, 6, 40}}, {[]int32{0, 1, 2, 3}, []int{60, 6}}, {[]int32{3, 0, 1, 2}, []int{6, 60}}, {[]int32{0, 1, 3, 2}, []int{40, 6, 20}}} {
		md := compile(p, cut)
		s := newState(md)
		s.set([][]int32{c.queue, nil, nil})
		s.join()
		var got []int
		runs := 0
		for _, l := range s.schedule().Lots {
			got = append(got, l.Quantity)
			runs += l.Runs - (l.Quantity+5)/6
		}
		if !slices.Equal(got, c.want) || runs != 0 {
			t.Errorf("queue %v: lots of %v, want %v; %d runs too many", c.queue, got, c.want, runs)
		}
	}
}
