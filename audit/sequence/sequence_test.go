package sequence

import (
	"context"
	"errors"
	"math/rand/v2"
	"slices"
	"testing"
)

// cheapest tries every order: the oracle for small problems.
func cheapest(p *Problem) (int64, bool) {
	best, found := int64(0), false
	order := make([]int, 0, p.N)
	used := make([]bool, p.N)
	var visit func()
	visit = func() {
		if len(order) == p.N {
			if p.Feasible(order) == nil {
				if c := p.length(order); !found || c < best {
					best, found = c, true
				}
			}
			return
		}
		for i := range p.N {
			if !used[i] {
				used[i] = true
				order = append(order, i)
				visit()
				order = order[:len(order)-1]
				used[i] = false
			}
		}
	}
	visit()
	return best, found
}

// random makes a problem with a precedence that some hidden order keeps.
func random(rng *rand.Rand, n int, density float64, groups int) *Problem {
	p := &Problem{N: n, Cost: make([]int32, n*n), Start: -1, End: -1}
	top := int32(1 + rng.IntN(200))
	for k := range p.Cost {
		p.Cost[k] = rng.Int32N(top)
	}
	hidden := rng.Perm(n)
	for a := range n {
		for b := a + 1; b < n; b++ {
			if rng.Float64() < density {
				p.Before = append(p.Before, [2]int{hidden[a], hidden[b]})
			}
		}
	}
	if rng.IntN(2) == 0 {
		p.Start = hidden[0]
	}
	if n > 1 && rng.IntN(2) == 0 {
		p.End = hidden[n-1]
	}
	if groups > 0 {
		p.Switch = rng.Int32N(500)
		for i := range n {
			g := rng.IntN(groups)
			if (i == p.Start || i == p.End) && rng.IntN(2) == 0 {
				g = -1
			}
			p.Group = append(p.Group, g)
		}
	}
	return p
}

func TestSmallProblemsAreSolvedToTheOptimum(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for k := range 1500 {
		n := 1 + rng.IntN(7)
		p := random(rng, n, rng.Float64()*0.6, rng.IntN(4))
		want, ok := cheapest(p)
		if !ok {
			t.Fatalf("problem %d has no order: the test is wrong", k)
		}
		for _, states := range []int{0, -1} {
			r, err := Solve(context.Background(), p, Options{Seed: uint64(k), Rounds: 300, States: states})
			if err != nil {
				t.Fatalf("problem %d: %v", k, err)
			}
			if err := p.Feasible(r.Order); err != nil {
				t.Fatalf("problem %d: %v", k, err)
			}
			if r.Cost != p.length(r.Order) {
				t.Fatalf("problem %d: says %d, the order costs %d", k, r.Cost, p.length(r.Order))
			}
			if r.Bound > want {
				t.Fatalf("problem %d (n=%d): bound %d above the optimum %d", k, n, r.Bound, want)
			}
			if states == 0 && (!r.Optimal || r.Cost != want) {
				t.Fatalf("problem %d (n=%d): %d, optimal %v; the optimum is %d\n%+v", k, n, r.Cost, r.Optimal, want, p)
			}
			if r.Cost != want {
				t.Errorf("problem %d (n=%d): the local search alone found %d, the optimum is %d", k, n, r.Cost, want)
			}
		}
	}
}

// The three hand-made cases below can be checked with a pencil.
func TestHandMadeProblems(t *testing.T) {
	line := func(at ...int32) []int32 {
		n := len(at)
		c := make([]int32, n*n)
		for i := range n {
			for j := range n {
				c[i*n+j] = max(at[i]-at[j], at[j]-at[i])
			}
		}
		return c
	}
	tests := []struct {
		name string
		p    Problem
		want int64
	}{
		{"points on a line are visited along it",
			Problem{N: 4, Cost: line(0, 30, 10, 20), Start: 0, End: -1}, 30},
		{"the far point first costs the way there and back",
			Problem{N: 4, Cost: line(0, 30, 10, 20), Start: 0, End: -1, Before: [][2]int{{1, 2}}}, 50},
		{"two threads are sewn one after the other",
			Problem{N: 4, Cost: line(0, 1, 2, 3), Start: -1, End: -1, Group: []int{0, 1, 0, 1}, Switch: 100}, 105},
		{"unless what lies under forces them apart",
			Problem{N: 4, Cost: line(0, 1, 2, 3), Start: -1, End: -1, Group: []int{0, 1, 0, 1}, Switch: 100,
				Before: [][2]int{{0, 1}, {1, 2}, {2, 3}}}, 303},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if brute, _ := cheapest(&tt.p); brute != tt.want {
				t.Fatalf("every order tried gives %d, not %d: the test is wrong", brute, tt.want)
			}
			r, err := Solve(context.Background(), &tt.p, Options{Rounds: 100})
			if err != nil {
				t.Fatal(err)
			}
			if r.Cost != tt.want || !r.Optimal {
				t.Errorf("got %d (optimal %v), want %d", r.Cost, r.Optimal, tt.want)
			}
		})
	}
}

func TestBadProblemsAreRefused(t *testing.T) {
	ok := func() *Problem { return &Problem{N: 3, Cost: make([]int32, 9), Start: -1, End: -1} }
	tests := []struct {
		name  string
		spoil func(*Problem)
	}{
		{"nothing", func(p *Problem) { p.N = 0; p.Cost = nil }},
		{"short costs", func(p *Problem) { p.Cost = p.Cost[:8] }},
		{"negative cost", func(p *Problem) { p.Cost[1] = -1 }},
		{"huge cost", func(p *Problem) { p.Cost[1] = MaxCost + 1 }},
		{"precedence out of range", func(p *Problem) { p.Before = [][2]int{{0, 3}} }},
		{"start is end", func(p *Problem) { p.Start, p.End = 1, 1 }},
		{"groups missing", func(p *Problem) { p.Group = []int{0} }},
		{"before itself", func(p *Problem) { p.Before = [][2]int{{1, 1}} }},
		{"circle", func(p *Problem) { p.Before = [][2]int{{0, 1}, {1, 2}, {2, 0}} }},
		{"something before the start", func(p *Problem) { p.Start = 0; p.Before = [][2]int{{1, 0}} }},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := ok()
			tt.spoil(p)
			if _, err := Solve(context.Background(), p, Options{Rounds: 1}); err == nil {
				t.Error("accepted")
			}
		})
	}
	p := ok()
	p.Before = [][2]int{{0, 1}, {1, 0}}
	if _, err := Solve(context.Background(), p, Options{}); !errors.Is(err, ErrCycle) {
		t.Errorf("a circle gives %v", err)
	}
	if _, err := Solve(context.Background(), ok(), Options{Initial: []int{0, 0, 1}}); err == nil {
		t.Error("an initial order that is none was accepted")
	}
}

func TestSameSeedSameOrder(t *testing.T) {
	p := random(rand.New(rand.NewPCG(5, 5)), 60, 0.02, 3)
	o := Options{Seed: 7, Rounds: 2000, States: 2000}
	a, err := Solve(context.Background(), p, o)
	if err != nil {
		t.Fatal(err)
	}
	b, _ := Solve(context.Background(), p, o)
	if !slices.Equal(a.Order, b.Order) || a.Bound != b.Bound || a.Rounds != b.Rounds {
		t.Error("two searches with the same seed differ")
	}
}

func TestACancelledSearchStillGivesAnOrder(t *testing.T) {
	p := random(rand.New(rand.NewPCG(9, 9)), 120, 0.02, 3)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	r, err := Solve(ctx, p, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Feasible(r.Order); err != nil {
		t.Error(err)
	}
	if r.Bound > r.Cost {
		t.Errorf("bound %d above the cost %d", r.Bound, r.Cost)
	}
	// cancelled half-way, by progress itself
	ctx, cancel = context.WithCancel(context.Background())
	calls := 0
	r, err = Solve(ctx, p, Options{Progress: func(pr Progress) {
		if calls++; calls == 5 {
			cancel()
		}
	}})
	if err != nil || p.Feasible(r.Order) != nil {
		t.Errorf("half-way: %v", err)
	}
}

func TestTheInitialOrderIsNeverMadeWorse(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	for range 50 {
		p := random(rng, 30, 0.1, 2)
		first, err := Solve(context.Background(), p, Options{Rounds: 1000, States: -1})
		if err != nil {
			t.Fatal(err)
		}
		again, err := Solve(context.Background(), p, Options{Rounds: 1, States: -1, Initial: first.Order})
		if err != nil || again.Cost > first.Cost {
			t.Fatalf("from an order of %d the search went to %d (%v)", first.Cost, again.Cost, err)
		}
	}
}

func BenchmarkSolve200(b *testing.B) {
	p := random(rand.New(rand.NewPCG(9, 9)), 200, 0.01, 4)
	for b.Loop() {
		if _, err := Solve(context.Background(), p, Options{Rounds: 2000, States: -1}); err != nil {
			b.Fatal(err)
		}
	}
}

// length is the cost of an order of all N things.
func (p *Problem) length(order []int) int64 {
	var sum int64
	for k := 1; k < len(order); k++ {
		sum += p.step(order[k-1], order[k])
	}
	return sum
}
