package plan

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"
)

// One or two jobs of 6 to 11 pieces on three machines of one or two heads, with money and risk in the goal as a shop
// has them: of all shares and orders none costs less. All are looked at here, by the price that brute reckons.
func TestSharesAreThoseOfBruteForce(t *testing.T) {
	rounds := uint64(40)
	if testing.Short() {
		rounds = 14
	}
	for round := range rounds {
		rng := rand.New(rand.NewPCG(77, round))
		n := 1 + int(round%2)
		p := small(rng, n, 3)
		p.Weights = Weights{Lateness: 1, MakeSpan: 0.001, Money: 180, Risk: 7200}
		for m := range p.Machines {
			p.Machines[m].Spread, p.Machines[m].Scatter, p.Machines[m].Rate = .1, 2, (0.5+rng.Float64())/3600
			p.Machines[m].Windows = nil
			p.Machines[m].Free = 0
		}
		for j := range p.Jobs {
			jb := &p.Jobs[j]
			jb.Quantity = 6 + rng.IntN(6)
			jb.Weight, jb.Release, jb.Cones, jb.Hoop = 1, 0, nil, ""
			jb.Fits = nil
			sum := 0.0
			for m := range 3 {
				run, pc := 200+float64(rng.IntN(300)), 1+rng.IntN(2)
				jb.Fits = append(jb.Fits, Fit{m, run, pc, 0})
				sum += float64(pc) / run
			}
			jb.Due = float64(jb.Quantity) / sum * float64(n) * (1.1 + rng.Float64())
		}
		best := 1e300
		var bq [][]part
		var rec func(j int, q [][]part)
		rec = func(j int, q [][]part) {
			if j == len(p.Jobs) {
				var per func(m int, cur [][]part)
				per = func(m int, cur [][]part) {
					if m == 3 {
						if c := slowCost(p, cur).Cost; c < best {
							best = c
							bq = append([][]part{}, cur...)
						}
						return
					}
					per(m+1, append(cur[:m:m], q[m]))
					if len(q[m]) == 2 {
						per(m+1, append(cur[:m:m], []part{q[m][1], q[m][0]}))
					}
				}
				per(0, nil)
				return
			}
			Q := p.Jobs[j].Quantity
			for a := 0; a <= Q; a++ {
				for b := 0; a+b <= Q; b++ {
					x := [3]int{a, b, Q - a - b}
					nq := make([][]part, 3)
					for m := range 3 {
						nq[m] = append([]part{}, q[m]...)
						if x[m] > 0 {
							nq[m] = append(nq[m], part{job: j, quantity: x[m], lot: j*3 + m})
						}
					}
					rec(j+1, nq)
				}
			}
		}
		rec(0, make([][]part, 3))
		p.LotSeconds = 1
		s, err := Solve(context.Background(), p, Options{Moves: 200000, Seed: round})
		if err != nil {
			t.Fatal(err)
		}
		if gap := s.Cost/best - 1; gap > .001 || gap < -1e-6 {
			t.Errorf("round %d, %d jobs: %.2f, the least is %.2f: %v, have %v", round, n, s.Cost, best, bq, s.Lots)
		}
	}
}

// A large machine that has most of a rush order is down: the others share it anew, as a plan from nothing has it, though
// two lots were planned. What is in time keeps its shares, and so does what would gain less than a move is worth.
func TestALateOrderIsSharedAnew(t *testing.T) {
	day := []Window{{0, 40 * 3600, 1}}
	far := []Window{{100 * 3600, 140 * 3600, 1}}
	before := &Problem{LotSeconds: 3600, Weights: Weights{Lateness: 1, Money: .01, Risk: 3600, Move: 7200},
		Machines: []Machine{{ID: "a", Windows: day, Rate: 1}, {ID: "large", Windows: day, Rate: 1}, {ID: "b", Windows: far, Rate: 1}, {ID: "c", Windows: far, Rate: 1}},
		Jobs: []Job{{ID: "rush", Quantity: 200, Due: 6 * 3600, Weight: 1,
			Fits: []Fit{{0, 480, 1, 0}, {1, 480, 4, 0}, {2, 480, 1, 0}, {3, 480, 1, 0}}}}}
	old := must(t, before, Options{Moves: 20_000, NoBound: true})
	if len(old.Lots) != 2 || old.Late > 0 {
		t.Fatalf("the plan before has %+v", old.Lots)
	}
	now := *before
	now.Machines = slices.Clone(before.Machines)
	now.Machines[1].Windows, now.Machines[2].Windows, now.Machines[3].Windows = far, day, day
	for _, c := range []struct {
		what      string
		down      bool
		due, move float64
		lots      int
		hopeless  bool // another order on the machine that is down has been late for weeks
	}{{"late", true, 6, 7200, 3, false}, {"late beside what is later", true, 6, 7200, 3, true}, {"in time", true, 60, 7200, 2, false},
		{"late by days whatever is done", true, -100, 60, 2, false}, {"late by twenty minutes", false, 5, 60, 2, false}, {"late by less than a move is worth", false, 5, 7200, 2, false},
		{"late by days, and a move is dearer than they", true, 6, 1e6, 2, false}} {
		p := now
		if p.Machines = slices.Clone(now.Machines); !c.down {
			p.Machines[1].Windows = day
		}
		p.Jobs = slices.Clone(now.Jobs)
		p.Jobs[0].Due, p.Weights.Move = c.due*3600, c.move
		if c.hopeless {
			p.Jobs = append(p.Jobs, Job{ID: "hopeless", Quantity: 1, Due: -1000 * 3600, Weight: 10, Fits: []Fit{{1, 480, 1, 0}}})
		}
		s, err := Replan(ctx, Plan{before, old}, &p, Options{Moves: 20_000, NoBound: true})
		if err != nil {
			t.Fatal(err)
		}
		lots, end := 0, 0.0
		for _, l := range s.Lots {
			if l.Job == 0 {
				lots, end = lots+1, max(end, l.To)
			}
		}
		if lots != c.lots {
			t.Errorf("%s: %d lots, want %d: %+v", c.what, lots, c.lots, s.Lots)
		}
		// 200 pieces of 480 s on three machines: 67 of them are 8 h 56 min.
		if c.lots == 3 && end > 67*480+1 {
			t.Errorf("%s: all is sewn after %.1f h, three machines need 8.93", c.what, end/3600)
		}
	}
}

// Whether an order may be shared is measured on machines that can sew it in time: on the large one, which is down until after
// its day, it would take 5.8 h, on each of the others 23.2. Where the large one is open, or the order is small, one has it.
func TestWhatIsSharedIsMeasuredOnMachinesThatCanSewItInTime(t *testing.T) {
	for _, c := range []struct {
		what         string
		opens, due   float64 // h: the large machine, and the order's day
		pieces, lots int
		end          float64
		set          func(p *Problem)
	}{
		{"busy until after its day", 0, 14, 148, 2, 74 * 564, func(p *Problem) { p.Machines[0].Free = 30 * 3600 }},
		{"nothing is shared", 30, 14, 148, 1, 40*3600 - 1 + 148*564, func(p *Problem) { p.LotSeconds = -1 }},
		{"down until after its day", 30, 14, 148, 2, 74 * 564, nil}, {"open", 0, 14, 148, 1, 37 * 564, nil},
		{"its day has passed", 30, -5, 148, 2, 74 * 564, nil}, {"open, its day has passed", 0, -5, 148, 1, 37 * 564, nil},
		{"small", 30, 14, 20, 1, 20 * 564, nil},
	} {
		p := &Problem{LotSeconds: 8 * 3600, Weights: Weights{Lateness: 1, MakeSpan: .01}}
		for k, id := range []string{"large", "a", "b"} {
			p.Machines = append(p.Machines, Machine{ID: id, Windows: []Window{{0, 200 * 3600, 1}}})
			if k == 0 {
				p.Machines[0].Windows[0].From = c.opens * 3600
			}
		}
		p.Jobs = []Job{{ID: "1", Quantity: c.pieces, Due: c.due * 3600, Weight: 1, Fits: []Fit{{0, 564, 4, 0}, {1, 564, 1, 0}, {2, 564, 1, 0}}}}
		if c.set != nil {
			c.set(p)
		}
		s := must(t, p, Options{Moves: 20_000, NoBound: true})
		if len(s.Lots) != c.lots || s.MakeSpan > c.end+1 {
			t.Errorf("%s: %d lots, done after %.2f h; want %d, %.2f: %+v", c.what, len(s.Lots), s.MakeSpan/3600, c.lots, c.end/3600, s.Lots)
		}
	}
}

// The only order of a plan leaves a machine that went down, as one of many does.
func TestTheOnlyOrderLeavesAMachineThatIsDown(t *testing.T) {
	before := &Problem{Machines: []Machine{{ID: "a"}, {ID: "b"}}, Jobs: []Job{{ID: "1", Quantity: 10, Due: 5000, Weight: 1, MaxLots: 1, Fits: []Fit{{0, 100, 1, 0}, {1, 120, 1, 0}}}}}
	old := must(t, before, Options{Moves: 1000, NoBound: true})
	if old.Lots[0].Machine != 0 {
		t.Fatalf("it stands on the slower machine: %+v", old.Lots)
	}
	now, err := Replan(ctx, Plan{before, old}, withDown(before, 0, 0, 90_000, 1e6), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if now.Lots[0].Machine != 1 || now.MakeSpan != 1200 {
		t.Errorf("it waits for the machine: %+v", now.Lots)
	}
}

// Of many lots only shares of jobs that may be late are searched: one that is late by the plan, or in time with a chance that
// leaves a doubt.
func TestAJobWithADoubtIsNotFine(t *testing.T) {
	for _, c := range []struct {
		odds, done float64
		fine       bool
	}{{0, 90, true}, {.005, 90, true}, {.04, 90, false}, {.4, 90, false}, {0, 101, false}} {
		h := sharing{s: &state{md: &model{due: []float64{100, 100}}, odds: []float64{0, c.odds}, done: []float64{50, c.done}}}
		if got := h.fine([]int32{0, 1}); got != c.fine {
			t.Errorf("a lot that ends at %v of 100 and is late with a chance of %v: fine is %v", c.done, c.odds, got)
		}
	}
}

// What may go from a lot to another: all where it may, halves, quarters and so on, also in whole runs of either machine, and
// what makes the last run of either full.
func TestThePartsThatMayGoToAnotherLot(t *testing.T) {
	p := &Problem{Machines: []Machine{{ID: "six"}, {ID: "four"}}, Weights: DefaultWeights,
		Jobs: []Job{{ID: "a", Quantity: 35, Due: 1, Weight: 1, Fits: []Fit{{0, 10, 6, 0}, {1, 10, 4, 0}}}}}
	for _, c := range []struct {
		from, to int
		all      bool
		want     []int
	}{
		// 5 leave four runs of six, 2 make two of four; 14, 7, 3 and 1 are half and so on, 12 and 6 of them runs of six, 12 and 4 of four.
		{29, 6, true, []int{1, 2, 3, 4, 5, 6, 7, 12, 14, 29}},
		{29, 6, false, []int{1, 2, 3, 4, 5, 6, 7, 12, 14}},
		{2, 32, true, []int{1, 2}}, // a run of four is more than there is
		{1, 34, false, nil},
	} {
		md := compile(p, func(*Job, int) []int { return []int{c.from, c.to} })
		s := newState(md)
		s.set([][]int32{{0}, {1}})
		h := sharing{s: s}
		got := h.parts(0, 1, c.all)
		slices.Sort(got)
		if !slices.Equal(got, c.want) {
			t.Errorf("of %d pieces to a lot of %d may go %v, want %v", c.from, c.to, got, c.want)
		}
	}
}
