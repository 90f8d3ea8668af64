package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// What is kept of one simulation changes nothing in the next: also where a lot's law, the number of draws or the seed
// is another, and where there is no more room.
func TestKeptDrawsAreThoseThatWouldBeDrawn(t *testing.T) {
	p := shop(rand.New(rand.NewPCG(31, 1)), 60, 5, 0.85)
	s := must(t, p, Options{Moves: 10_000, NoBound: true})
	room := mostDrawn
	t.Cleanup(func() { mostDrawn = room })
	var kept Drawn
	drawn := 0
	law := func(sd float64, kept *Drawn) Uncertainty {
		return Uncertainty{
			Machine: func(_ int, u float64) float64 { return LogNormal(0.05)(u) },
			Lot:     func(_, _ int, u float64) float64 { drawn++; return LogNormal(sd)(u) },
			Setup:   func(_ int, u float64) float64 { return LogNormal(0.3)(u) },
			Laws:    func(int, int) (float64, float64) { return 0.3, sd },
			Kept:    kept,
		}
	}
	for _, c := range []struct {
		sd   float64
		o    PromiseOptions
		room int
	}{
		{.2, PromiseOptions{Chance: .9, Draws: 50, Seed: 3}, room}, {.1, PromiseOptions{Chance: .9, Draws: 50, Seed: 3}, room},
		{.2, PromiseOptions{Chance: .9, Draws: 60, Seed: 3}, room}, {.2, PromiseOptions{Chance: .9, Draws: 50, Seed: 4}, room},
		{.2, PromiseOptions{Chance: .9, Draws: 50, Seed: 5}, 500}, {.2, PromiseOptions{Chance: .9, Draws: 50, Seed: 6}, 40},
	} {
		mostDrawn = c.room
		want, err := Promise(ctx, p, s, law(c.sd, nil), c.o)
		if err != nil {
			t.Fatal(err)
		}
		for again := range 2 {
			before := drawn
			got, err := Promise(ctx, p, s, law(c.sd, &kept), c.o)
			if err != nil || !slices.Equal(got, want) {
				t.Fatalf("%+v: %v; kept and not kept differ", c, err)
			}
			if again == 1 && c.room == room && drawn > before {
				t.Errorf("%+v: drawn again %d times", c, drawn-before)
			}
		}
		held := 0
		for _, f := range kept.of {
			held += len(f)
		}
		if held > c.room {
			t.Errorf("%d draws are kept, of %d", held, c.room)
		}
	}
}

// The streams of lots, set-ups and machines have nothing to do with each other: of 861 pairs the greatest correlation of
// 1,000 uniform draws is below 4.5 times its standard error of 1/√1,000 (once in 170 such tests by chance), and each
// has one draw in each thousandth, as a Latin hypercube has.
func TestStreamsOfDrawsAreApart(t *testing.T) {
	const draws = 1000
	var all []factors
	p := &Problem{Jobs: []Job{{ID: "o1/1"}, {ID: "o1/2"}, {ID: "x", Name: "1001"}, {ID: "y", Name: "1001"}, {}}}
	even := func(_ int, u float64) float64 { return u }
	for m := range 2 {
		g := drawing{unc: &Uncertainty{Machine: even, Setup: even, Lot: func(_, _ int, u float64) float64 { return u }}, seed: 1,
			draws: draws, machine: m}
		pace, err := g.pace()
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, pace)
		for j := range p.Jobs {
			for range 2 {
				set, work, err := g.lot(p, j, true)
				if err != nil {
					t.Fatal(err)
				}
				all = append(all, set, work)
			}
		}
	}
	worst := 0.0
	for i, a := range all {
		for k, x := range slices.Sorted(slices.Values(a)) {
			if low := float64(k) / draws; float64(x) < low-1e-7 || float64(x) > low+1./draws+1e-7 {
				t.Fatalf("stream %d: the %d-th smallest of %d is %v", i, k, draws, x)
			}
		}
		for _, b := range all[:i] {
			sum := 0.0
			for d := range a {
				sum += (float64(a[d]) - .5) * (float64(b[d]) - .5) * 12
			}
			worst = max(worst, math.Abs(sum)/draws)
		}
	}
	if worst > 4.5/math.Sqrt(draws) {
		t.Errorf("two streams have a correlation of %v", worst)
	}
}

// Two shops of the same orders promise the same, whatever the IDs that they gave.
func TestDrawsAreOfNamesNotOfIDs(t *testing.T) {
	promises := func(ids string) []Promised {
		p := shop(rand.New(rand.NewPCG(31, 1)), 60, 5, 0.85)
		s := must(t, p, Options{Moves: 1000, NoBound: true})
		for i := range p.Jobs {
			p.Jobs[i].Name, p.Jobs[i].ID = fmt.Sprint(1000+i/2), fmt.Sprint(ids, i)
		}
		all, err := Promise(ctx, p, s, Uncertainty{Lot: func(_, _ int, u float64) float64 { return LogNormal(.2)(u) }}, PromiseOptions{Chance: .9, Draws: 50})
		if err != nil {
			t.Fatal(err)
		}
		return all
	}
	if !slices.Equal(promises("a"), promises("b")) {
		t.Error("other IDs, other promises")
	}
}
