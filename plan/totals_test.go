package plan

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The totals of a state are those of the plan that is written of it, whatever was moved.
func TestTotalsAreThoseOfTheWrittenPlan(t *testing.T) {
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 3))
		p := weighed(shop(rng, 60, 5, 1.1))
		s := must(t, p, Options{Moves: 2000, NoBound: true})
		seeds, err := seedsOf(p, s)
		if err != nil {
			t.Fatal(err)
		}
		md, st := fromSeeds(p, seeds)
		md.remember(st, func(int) bool { return true })
		x := newSearch(md, st, rng)
		moved, held := 0, 0
		for moved < 40 {
			var c change
			if x.propose(&c); !st.legal(&c) {
				continue
			}
			st.apply(&c)
			moved++
			sc := st.schedule()
			if joined := len(sc.Lots) < md.n; joined {
				continue
			}
			held++
			got, want := st.totals(), sc.Totals
			for what, v := range map[string][2]float64{
				"lateness": {got.Lateness, want.Lateness}, "late": {float64(got.Late), float64(want.Late)}, "make-span": {got.MakeSpan, want.MakeSpan},
				"set-up": {got.Setup, want.Setup}, "work": {got.Work, want.Work}, "money": {got.Money, want.Money}, "risk": {got.Risk, want.Risk},
				"moved": {got.Moved, want.Moved}, "cost": {got.Cost, want.Cost},
			} {
				if math.Abs(v[0]-v[1]) > 1e-9*math.Abs(v[1]) {
					t.Errorf("seed %d, move %d: %s is %v and in the written plan %v", seed, moved, what, v[0], v[1])
				}
			}
			if want.Risk == 0 || want.Moved == 0 || want.Lateness == 0 {
				t.Fatalf("seed %d: nothing late, at risk or moved: %+v", seed, want)
			}
		}
		if held < 10 {
			t.Errorf("seed %d: only %d states were held against their plans", seed, held)
		}
	}
}
