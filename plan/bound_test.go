package plan

import (
	"math/rand/v2"
	"testing"
)

// mixed is a small invented shop of one-head and six-head machines, some with
// calendars, and orders of which some may be shared.
func mixed(rng *rand.Rand) *Problem {
	p := &Problem{Weights: Weights{Lateness: 1}}
	heads := []int{1, 6, 1, 6, 2}[:2+rng.IntN(4)]
	for m := range heads {
		mach := Machine{ID: string(rune('a' + m)), Setup: SetupTimes{Job: float64(rng.IntN(900)), Cone: 30}}
		if rng.IntN(2) == 0 {
			for day := range 30 {
				from := float64(day)*86400 + float64(rng.IntN(8))*3600
				mach.Windows = append(mach.Windows, Window{from, from + 9*3600, []float64{1, 0.5}[rng.IntN(2)]})
			}
		}
		p.Machines = append(p.Machines, mach)
	}
	for j := range 2 + rng.IntN(12) {
		run := 300 + 900*rng.Float64()
		job := Job{ID: string(rune('A' + j)), Quantity: 1 + rng.IntN(200), Weight: float64(rng.IntN(3)),
			Due: 4 * 86400 * (rng.Float64() - 0.2), Cones: []string{string(rune('r' + rng.IntN(3)))}}
		if rng.IntN(4) == 0 {
			job.Release = 86400 * rng.Float64()
		}
		for m, h := range heads {
			if m == j%2 || rng.IntN(4) > 0 {
				job.Fits = append(job.Fits, Fit{Machine: m, Run: run * (0.9 + 0.3*rng.Float64()), Pieces: h})
			}
		}
		p.Jobs = append(p.Jobs, job)
	}
	return p
}

func TestBoundIsBelowEveryPlanOfMixedShops(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 9))
	late, shared, rounds := 0, 0, 120
	if testing.Short() {
		rounds = 25
	}
	for round := range rounds {
		p := mixed(rng)
		p.LotSeconds = 4 * 3600
		s := must(t, p, Options{Moves: 5_000, NoBound: true})
		md := compile(p, split(p, 4*3600))
		for i := range md.orders {
			if len(md.orders[i]) > 1 {
				shared++
			}
		}
		// An upper value far off must not lift the bound above a plan.
		if b := bound(ctx, md, 3*s.Lateness+1); b > s.Lateness*(1+1e-9)+1e-3 {
			t.Errorf("round %d: the bound %v is above the lateness %v of a plan", round, b, s.Lateness)
		}
		if s.Lateness > 0 {
			late++
		}
	}
	if late < rounds/3 || shared < rounds/3 {
		t.Errorf("only %d problems have lateness and %d jobs several lots", late, shared)
	}
}

// The bound that took all machines for the fastest was 0 here.
func TestBoundTellsSomethingOfMixedShops(t *testing.T) {
	for _, c := range []struct {
		load, share float64
	}{{1.1, 0.2}, {1.3, 0.45}, {1.6, 0.6}} {
		p := shop(rand.New(rand.NewPCG(3, 3)), 500, 10, c.load)
		s := must(t, p, Options{Moves: 500_000})
		if s.Bound < c.share*s.Lateness {
			t.Errorf("load %v: the bound is %.2f of the lateness, want %.2f", c.load, s.Bound/s.Lateness, c.share)
		}
	}
}

// The least set-up is what the bound counts: none behind a job of the same kind, and that of the machine where it
// is shortest. What is late at least is reckoned by hand.
func TestTheBoundTakesTheShortestSetUp(t *testing.T) {
	job := func(id string) Job {
		return Job{ID: id, Quantity: 1, Weight: 1, Design: "one", Fits: []Fit{{0, 100, 1, 0}}}
	}
	kind := &Problem{Weights: Weights{Lateness: 1}, Machines: []Machine{{ID: "a", Setup: SetupTimes{Job: 1000}}},
		Jobs: []Job{job("x"), job("y")}} // late by 1,000 + 100 s and 100 s more
	two := &Problem{Weights: Weights{Lateness: 1}, Machines: []Machine{{ID: "a"}, {ID: "b", Setup: SetupTimes{Job: 1000}}},
		Jobs: []Job{job("x")}}
	two.Jobs[0].Fits = append(two.Jobs[0].Fits, Fit{1, 100, 1, 0})
	for _, c := range []struct {
		p     *Problem
		least float64
	}{{kind, 1100 + 1200}, {two, 100}} {
		if b := bound(ctx, compile(c.p, whole), 3*c.least); b > c.least+1e-6 {
			t.Errorf("%d jobs: the bound is %v, a plan is late by %v", len(c.p.Jobs), b, c.least)
		}
	}
}
