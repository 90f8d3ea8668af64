package plan

import (
	"context"
	"math/rand/v2"
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
