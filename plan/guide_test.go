package plan

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The guide prices a move as it prices the plan after it, and leaves no trace in the model.
func TestTheGuidePricesMovesAsPlans(t *testing.T) {
	for seed := range uint64(6) {
		p := shop(rand.New(rand.NewPCG(41, seed)), 60, 4, 1.1)
		if seed%2 == 1 {
			p = weighed(p)
		}
		md := compile(p, split(p, defaultLotSeconds))
		s := newState(md)
		constructBest(md, s)
		before := s.value()
		x := newSearch(md, s, newRand(seed))
		md.follow()
		s.reprice()
		if s.value() <= before {
			t.Errorf("seed %d: machine time costs nothing by the guide: %v, by the goal %v", seed, s.value(), before)
		}
		var c change
		priced := 0
		for range 3000 {
			x.propose(&c)
			if !s.legal(&c) {
				continue
			}
			was := s.value()
			d := s.price(&c, math.Inf(1))
			s.apply(&c)
			moved := s.value()
			s.reprice()
			if math.Abs(was+d-moved) > 1e-6*was || math.Abs(moved-s.value()) > 1e-6*was {
				t.Fatalf("seed %d, %+v: %v and %v, the plan after it %v, priced anew %v", seed, c, was, d, moved, s.value())
			}
			priced++
		}
		if priced < 500 {
			t.Errorf("seed %d: only %d moves priced", seed, priced)
		}
		md.unfollow()
		constructBest(md, s)
		if s.value() != before {
			t.Errorf("seed %d: %v by the goal after the guide, %v before it", seed, s.value(), before)
		}
	}
}

// By the guide a lot that is nearer to its due date costs less, also behind a weekend, where by the goal
// it costs the same but for the make-span.
func TestTheGuideHasASlopeOverAWeekend(t *testing.T) {
	p := &Problem{Machines: []Machine{{ID: "a", Windows: []Window{{0, 1000, 1}, {5000, 6000, 1}}}},
		Jobs:    []Job{{ID: "1", Quantity: 1, Due: 900, Weight: 1, Fits: []Fit{{0, 950, 1, 0}}}},
		Weights: Weights{Lateness: 1, MakeSpan: 1e-3}}
	// Working pace: 2,000 of 6,000 s, so a working second is 3 s.
	for _, c := range []struct{ run, goal, guide float64 }{
		{950, 50, 150}, {1001, 4101, 303}, {1101, 4201, 603},
	} {
		p.Jobs[0].Fits[0].Run = c.run
		md := compile(p, split(p, -1))
		s := newState(md)
		s.set([][]int32{{0}})
		near := func(got, want float64) bool { return math.Abs(got-want) < 1e-3 }
		if late := s.value() - 1e-3*s.span; !near(late, c.goal) {
			t.Errorf("%v s: %v by the goal, want %v", c.run, late, c.goal)
		}
		md.follow()
		s.reprice()
		if late := s.value() - 1e-3*s.span - guidePrice*c.run; !near(late, c.guide) {
			t.Errorf("%v s: %v by the guide, want %v", c.run, late, c.guide)
		}
	}
}
