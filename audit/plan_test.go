package audit

import (
	"context"
	"math/rand/v2"
	"testing"

	"needlepace/audit/sequence"
	"needlepace/clock"
	"needlepace/stitch"
)

// TestChainsKeepLargeDesignsSafe: with more objects than the search takes,
// neighbours stay together; the order found is still one of all objects, with
// the same picture and no slower.
func TestChainsKeepLargeDesignsSafe(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 42))
	sheet := class(t, "single-15-light")
	s := &sketch{}
	for k := range 200 {
		if k%40 == 39 {
			s.op(stitch.ColourStop)
		}
		s.dash(rng.IntN(1500), rng.IntN(1500), 3)
	}
	d := s.design()
	l, err := lay(d.Records, 3)
	if err != nil {
		t.Fatal(err)
	}
	threads := identity(l.blocks)
	c := clock.New(sheet, clock.Job{})
	for _, most := range []int{500, 60, 20, 1} {
		p := &orders{l: l, touch: newGrid(l.threads()).touching(len(l.objects)), clock: c, sheet: sheet, threads: threads, build: build{join: true}, most: most}
		if n := len(p.chains()); n > max(most, l.blocks) {
			t.Errorf("%d chains where %d were asked for", n, most)
		}
		order, _, err := p.solve(context.Background(), sequence.Options{Rounds: 2000, Quick: true})
		if err != nil {
			t.Fatal(err)
		}
		if len(order) != len(l.objects) {
			t.Fatalf("%d of %d objects in the order", len(order), len(l.objects))
		}
		r := l.rebuild(order, threads, p.build)
		moved := make([]int, len(r.blocks))
		for k, b := range r.blocks {
			moved[k] = threads[b]
		}
		after := &stitch.Design{Records: r.rec}
		proof, err := Prove(d, after, threads, moved, 3)
		if err != nil {
			t.Fatal(err)
		}
		proof.SecondsBefore, proof.SecondsAfter = c.Run(d).Seconds, c.Run(after).Seconds
		if err := proof.Err(); err != nil {
			t.Errorf("up to %d: %v", most, err)
		}
	}
}

// TestCostsOfOrdersAreTheClocks: two orders differ by what the search reckons.
func TestCostsOfOrdersAreTheClocks(t *testing.T) {
	rng := rand.New(rand.NewPCG(51, 52))
	for _, id := range []string{"single-15-light", "home-1", "multi-12"} {
		sheet := class(t, id)
		for range 20 {
			s := &sketch{}
			for k := range 8 {
				if k == 4 {
					s.op(stitch.ColourStop)
				}
				s.dash(200*rng.IntN(8), 100*rng.IntN(8), 3)
			}
			l, err := lay(s.rec, 3)
			if err != nil {
				t.Fatal(err)
			}
			c := clock.New(sheet, clock.Job{})
			p := &orders{l: l, touch: newPairs(8), clock: c, sheet: sheet, threads: []int{0, 1}, most: 100}
			cost := func(order []int) float64 {
				sum := p.way(stitch.Point{}, l.objects[order[0]].Lead, 0) + p.finish(order[7])
				for k := 1; k < 8; k++ {
					a, b := &l.objects[order[k-1]], &l.objects[order[k]]
					sum += p.between(a, b)
					if a.Block != b.Block {
						sum += sheet.Rest.ColourStop
					}
				}
				return sum
			}
			run := func(order []int) float64 {
				return c.Run(&stitch.Design{Records: l.rebuild(order, p.threads, p.build).rec}).Seconds
			}
			a, b := []int{0, 1, 2, 3, 4, 5, 6, 7}, append(rng.Perm(4), 7, 5, 4, 6)
			if want, got := run(a)-run(b), cost(a)-cost(b); want-got > 1e-6 || got-want > 1e-6 {
				t.Errorf("%s: the clock says %.6f s, the search %.6f s", id, want, got)
			}
		}
	}
}
