package plan

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
)

// evenShop has many plans of one worth: machines that are alike, and jobs that take
// the same and are due on the same days, with risk and cost in the goal.
func evenShop(rng *rand.Rand, jobs, machines int) *Problem {
	p := &Problem{Weights: Weights{Lateness: 1, MakeSpan: 1e-3, Money: 360, Risk: 7200, Move: 360}}
	for m := range machines {
		p.Machines = append(p.Machines, Machine{ID: fmt.Sprint(m), Rate: 1. / 3600, Spread: .1, Scatter: 3,
			Setup: SetupTimes{Job: 300}})
	}
	for j := range jobs {
		job := Job{ID: fmt.Sprint(j), Quantity: 1 + rng.IntN(3), Weight: 1, Design: fmt.Sprint("d", rng.IntN(jobs)),
			Due: 86400 * float64(1+rng.IntN(4))}
		for m := range machines {
			job.Fits = append(job.Fits, Fit{m, 3600 * float64(1+j%2), 1, 0})
		}
		p.Jobs = append(p.Jobs, job)
	}
	return p
}

// A plan does not hang on the last digit of a spread or a price: of plans of equal worth
// it is the one where what is due first is done first.
func TestTheLastDigitOfASpreadMovesNothing(t *testing.T) {
	other := 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(55, seed))
		p := evenShop(rng, 8+rng.IntN(8), 1+rng.IntN(3))
		a := must(t, p, Options{Moves: 40_000, NoBound: true})
		q := *p
		q.Machines = slices.Clone(p.Machines)
		for m := range q.Machines {
			q.Machines[m].Spread *= 1 + (rng.Float64()-.5)*1e-14
			q.Machines[m].Rate *= 1 + (rng.Float64()-.5)*1e-15
		}
		b := must(t, &q, Options{Moves: 40_000, NoBound: true})
		same := len(a.Lots) == len(b.Lots)
		for i := range a.Lots {
			same = same && a.Lots[i].Job == b.Lots[i].Job && a.Lots[i].Machine == b.Lots[i].Machine
		}
		if !same {
			other++
		}
	}
	if other > 0 {
		t.Errorf("%d of 40 plans are others by the last digit of a number", other)
	}
}

// Where the order of two jobs makes no difference to the goal, the one due first is sewn
// first, and of those due at once the one that stands first in the problem; and a shared
// machine's number decides where no end does.
func TestOfEqualPlansWhatIsDueFirstIsFirst(t *testing.T) {
	for seed := range uint64(30) {
		rng := rand.New(rand.NewPCG(56, seed))
		p := &Problem{Machines: []Machine{{ID: "a"}}}
		for j := range 7 {
			p.Jobs = append(p.Jobs, Job{ID: fmt.Sprint(j), Quantity: 1, Weight: 1, Due: 86400 * float64(1+rng.IntN(3)),
				Fits: []Fit{{0, 3600 * float64(1+rng.IntN(3)), 1, 0}}})
		}
		s := must(t, p, Options{Moves: 3000, Seed: seed, NoBound: true})
		for i := 1; i < len(s.Lots); i++ {
			a, b := s.Lots[i-1].Job, s.Lots[i].Job
			if da, db := p.Jobs[a].Due, p.Jobs[b].Due; da > db || da == db && a > b {
				t.Errorf("seed %d: job %d due on day %v before %d due on day %v", seed, a, da/86400, b, db/86400)
			}
		}
	}
}
