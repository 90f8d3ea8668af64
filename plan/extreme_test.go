package plan

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Numbers at the edge of what Check lets through: no panic, nothing lost, no
// time that is no number.
func TestExtremeNumbersMakeAPlan(t *testing.T) {
	pick := func(rng *rand.Rand, v ...float64) float64 { return v[rng.IntN(len(v))] }
	for round := range uint64(80) {
		rng := rand.New(rand.NewPCG(31, round))
		p := small(rng, 1+rng.IntN(9), 1+rng.IntN(3))
		p.Weights = Weights{Lateness: pick(rng, 0, 1, 1e6), MakeSpan: pick(rng, 0, 1), Setup: pick(rng, 0, 1e-9),
			Work: pick(rng, 0, 5)}
		for i := range p.Machines {
			p.Machines[i].Free = pick(rng, -50, 0, 1e9)
			p.Machines[i].Attention = pick(rng, 0, 0.5, 40)
			if rng.IntN(3) == 0 {
				p.Machines[i].Windows = []Window{{pick(rng, -1e9, 0, 5), 5.0000001, pick(rng, 1e-9, 1)}}
			}
		}
		if rng.IntN(3) == 0 {
			p.Crew = []Presence{{0, 1000, pick(rng, 0, 1)}, {500, 2000, 1}}
		}
		for i := range p.Jobs {
			j := &p.Jobs[i]
			j.Due = pick(rng, -1e12, -1, 0, 1e12, math.Inf(1), math.NaN())
			j.Release = pick(rng, -1e9, 0, 1e9)
			j.Weight = pick(rng, 0, 1e-12, 1e9)
			j.Quantity = int(pick(rng, -3, 0, 1, 1e6))
			for k := range j.Fits {
				j.Fits[k].Run = pick(rng, 0, 1e-9, 1e7)
				j.Fits[k].Idle = 0
				j.Fits[k].Pieces = int(pick(rng, 1, 1e9))
			}
			if rng.IntN(4) == 0 {
				j.Pin = &Pin{Machine: rng.IntN(len(p.Machines)), Running: rng.IntN(2) == 0,
					Start: pick(rng, -1, 0, 1e9)}
			}
		}
		s := must(t, p, Options{Moves: 2000, Seed: round})
		made := map[int]int{}
		for _, l := range s.Lots {
			made[l.Job] += l.Quantity
			for _, v := range []float64{l.SetupFrom, l.From, l.To, l.Setup, l.Work} {
				if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
					t.Fatalf("round %d: lot %+v", round, l)
				}
			}
		}
		for _, u := range s.Unplaced {
			if u.Why.IsZero() {
				t.Fatal("left out without a reason")
			}
			made[u.Job] = p.Jobs[u.Job].Quantity
		}
		for i := range p.Jobs {
			if made[i] != p.Jobs[i].Quantity {
				t.Fatalf("round %d: job %d of %d pieces has %d planned (%+v; %+v)", round, i, p.Jobs[i].Quantity,
					made[i], p.Jobs[i], p.Jobs[i].Pin)
			}
		}
		if math.IsNaN(s.Cost) || math.IsNaN(s.Bound) || s.Bound < 0 || s.Gap() < 0 || s.Gap() > 1 {
			t.Fatalf("round %d: %+v bound %v", round, s.Totals, s.Bound)
		}
		again, err := Replan(ctx, Plan{p, s}, p, Options{Moves: 500})
		if err != nil || len(again.Unplaced) != len(s.Unplaced) {
			t.Fatalf("round %d: re-plan %v", round, err)
		}
		Diff(Plan{p, s}, Plan{p, again})
		if _, err := Promise(ctx, p, s, Uncertainty{}, PromiseOptions{Chance: 0.5, Draws: 3}); err != nil {
			t.Fatal(err)
		}
	}
}
