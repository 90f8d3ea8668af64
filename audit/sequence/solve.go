package sequence

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
)

// Options bound a search.
type Options struct {
	Seed uint64
	// Rounds is how many shakes of the local search there are at most; 0 goes
	// on until the context is done or the bound is met.
	Rounds int
	// States bounds the memory of the exact search (about 60 bytes a state);
	// 0 is DefaultStates, negative leaves the exact search out.
	States int
	// Quick leaves the bounds and the exact search out: no proof, less time.
	Quick bool
	// Initial is an order to begin with; it must be feasible. Nil begins with
	// a greedy one.
	Initial []int
	// Progress, if not nil, hears of every better order and bound.
	Progress func(Progress)
}

// DefaultStates is the size of a layer of the exact search if none is asked.
const DefaultStates = 200_000

// Progress is how far a search has come.
type Progress struct {
	Rounds int
	Cost   int64 // of the best order so far
	Bound  int64 // no order costs less
}

// Result is what a search found.
type Result struct {
	Order   []int
	Cost    int64
	Bound   int64 // no order costs less
	Optimal bool  // Cost = Bound: proven
	Rounds  int   // shakes of the local search
	States  int   // states of the exact search
}

// Gap is how much cheaper an order could be at most, as a fraction of the
// cost; 0 where the order is proven optimal.
func (r Result) Gap() float64 {
	if r.Cost <= r.Bound || r.Cost == 0 {
		return 0
	}
	return float64(r.Cost-r.Bound) / float64(r.Cost)
}

// Solve searches for a cheapest order until it is proven, the rounds are used
// up or the context is done; then it returns the best so far, without an
// error. Errors are of the problem: numbers out of range, or ErrCycle.
func Solve(ctx context.Context, p *Problem, o Options) (Result, error) {
	n, err := newNetwork(p)
	if err != nil {
		return Result{}, err
	}
	seq, err := n.initial(o.Initial)
	if err != nil {
		return Result{}, err
	}
	s := &search{n: n, o: o, best: slices.Clone(seq), cost: n.length(seq), first: seq}
	s.line, s.lineCost = slices.Clone(seq), s.cost
	s.run(ctx)
	r := Result{Order: n.things(s.best), Cost: s.cost, Bound: s.bound(), Rounds: s.rounds, States: s.states}
	r.Optimal = r.Cost <= r.Bound
	if err := p.Feasible(r.Order); err != nil {
		return r, fmt.Errorf("internal fault, the order found is not one: %w", err)
	}
	return r, nil
}

type search struct {
	n    *network
	o    Options
	best []int32
	cost int64
	low  int64 // bound in 1/scale
	// line is the best of those found one from the other; first is where each new
	// line begins, stale counts coolings that found none better.
	first, line []int32
	lineCost    int64
	stale       int
	anew        bool
	rounds      int
	states      int
}

// bound rounds up: costs are whole.
func (s *search) bound() int64 { return min(s.cost, (s.low+scale-1)/scale) }

func (s *search) report() {
	if s.o.Progress != nil {
		s.o.Progress(Progress{s.rounds, s.cost, s.bound()})
	}
}

func (s *search) proven() bool { return s.bound() >= s.cost }

func (s *search) run(ctx context.Context) {
	n := s.n
	rng := rand.New(rand.NewPCG(s.o.Seed, 0x6e6565646c65))
	l := newLocal(n, s.best)
	for k := n.m - 1; k >= 0; k-- {
		l.push(l.seq[k])
	}
	l.descend(ctx)
	s.take(l)
	hot := l.warmth()
	if s.o.Quick {
		s.improve(ctx, l, rng, max(s.o.Rounds, 1), hot)
		return
	}
	// a first look, so that the bounds have something to cut against
	s.improve(ctx, l, rng, min(500, 20+4*n.m), hot/4)

	steps := manySteps
	if n.m > manyNodes {
		steps = fewSteps
	}
	pi, prices := s.relax(ctx, steps)
	s.report()
	if s.proven() || ctx.Err() != nil {
		return
	}
	// Turn by turn: the exact search with a growing number of states, and more
	// local search, since a better order also cuts more states.
	states := s.o.States
	if states == 0 {
		states = DefaultStates
	}
	searching, worth, rounds := true, true, 5_000
	if n.m > maxExactNodes {
		states, rounds = -1, 1_500 // a cooling that is not done when the time is up was for nothing
	}
	look := func() {
		if searching && !s.proven() {
			searching = s.improve(ctx, l, rng, rounds, hot) && s.cool(ctx, l, rng, rounds, hot)
		}
		rounds *= 2
	}
	if n.m > manyNodes { // the bounds and the exact search would take all the time there is
		look()
		look()
		pi, prices = s.relax(ctx, manySteps)
		s.report()
	}
	for try := fewStates; ; try *= 10 {
		if try < 10*states && (worth || !searching) {
			worth = s.prove(ctx, prices, pi, min(try, states)) != hopeless
		}
		look() // twice: ten times as many states may take all the time there is
		look()
		if s.proven() || ctx.Err() != nil || !searching && try >= states {
			return
		}
	}
}

// manyNodes is where a look of the local search is better than long bounds; these
// take fewSteps before it and manySteps after. Found on the published instances.
const (
	manyNodes = 300
	fewSteps  = 30
	manySteps = 150
)

// fewStates is the size of the first exact search.
const fewStates = 2_000

// prove runs the exact search once.
func (s *search) prove(ctx context.Context, prices duals, pi []int64, states int) verdict {
	seq, low, count, how := s.n.solveExact(ctx, prices, pi, s.cost, states)
	s.states += count
	s.low = max(s.low, low)
	if how == proven {
		if seq != nil {
			s.best, s.cost = seq, s.n.length(seq)
		}
		s.low = s.cost * scale
	}
	s.report()
	return how
}

// improve runs one cooling of the local search from the best so far; false
// says that the search is over.
func (s *search) improve(ctx context.Context, l *local, rng *rand.Rand, rounds int, hot float64) bool {
	if s.o.Rounds > 0 {
		rounds = min(rounds, s.o.Rounds-s.rounds)
	}
	if rounds <= 0 || s.n.m < 4 {
		return false
	}
	// several coolings where there are many rounds: long ones are no better
	const longest = 50_000
	for left := rounds; left > 0; left -= longest {
		k := min(left, longest)
		s.begin(l)
		best := s.lineCost
		ok := l.anneal(ctx, rng, k, hot, &best, func() bool {
			s.take(l)
			return !s.proven()
		})
		s.rounds += k
		if !ok {
			return false
		}
	}
	return ctx.Err() == nil
}

// patience is how many coolings a line gets that do not better it.
const patience = 6

// warmths are how warm the coolings of single exchanges begin, of warmth, in
// turn; each ends at coldest of that. Found on the published instances: the
// warm ones leave a valley, the cool ones do not lose what was found.
var warmths = [...]float64{0.3, 0.1, 0.03}

const coldest = 0.01

// cool runs coolings of single exchanges from the best so far; false says that
// the search is over.
func (s *search) cool(ctx context.Context, l *local, rng *rand.Rand, rounds int, hot float64) bool {
	if s.n.m < 4 {
		return false
	}
	const longest = 10_000
	for _, warmth := range warmths {
		for left := rounds / len(warmths); left > 0 && hot > 0; left -= longest {
			k := min(left, longest)
			if s.o.Rounds > 0 {
				k = min(k, s.o.Rounds-s.rounds)
			}
			if k <= 0 {
				return false
			}
			s.begin(l)
			best := s.lineCost
			ok := l.cool(ctx, rng, k*stepsARound, hot*warmth, hot*warmth*coldest, &best, func() bool {
				s.take(l)
				return !s.proven()
			})
			s.rounds += k
			if !ok {
				return false
			}
		}
	}
	return ctx.Err() == nil
}

// stepsARound is how many steps of cool take as long as a round of anneal.
const stepsARound = 300

// begin begins a cooling at the best of its line. A line that patience coolings
// did not better is left: for a new one from where all began, and that for the
// best so far, in turn.
func (s *search) begin(l *local) {
	if s.stale >= patience {
		s.stale, s.anew = 0, !s.anew
		if s.anew {
			copy(s.line, s.first)
			s.lineCost = s.n.length(s.first)
		} else {
			copy(s.line, s.best)
			s.lineCost = s.cost
		}
	}
	s.stale++
	l.from(s.line, s.lineCost)
}

// take keeps what l has where it is the best of its line, and of all.
func (s *search) take(l *local) {
	if l.total < s.lineCost {
		copy(s.line, l.seq)
		s.lineCost, s.stale = l.total, 0
	}
	if l.total < s.cost {
		copy(s.best, l.seq)
		s.cost = l.total
		s.report()
	}
}

// warm was found on the published instances (docs/sequencer.md): from 0.5 to 2
// it makes little difference, at 0.1 the search stays where it began.
const warm = 1.0

// warmth is the temperature a cooling begins with: the mean step that is not
// for nothing.
func (l *local) warmth() float64 {
	sum, count := 0.0, 0
	for k := 1; k < len(l.seq); k++ {
		if c := l.c(l.seq[k-1], l.seq[k]); c > 0 {
			sum += float64(c)
			count++
		}
	}
	if count == 0 {
		return 0
	}
	return warm * sum / float64(count)
}

// The dense bounds take time as the cube of the nodes: beyond these numbers
// they are left out.
const (
	maxAssignNodes   = 1500
	maxLagrangeNodes = 700
)

// relax computes the lower bounds, the dearest in so many steps, and the prices the
// exact search uses.
func (s *search) relax(ctx context.Context, steps int) ([]int64, duals) {
	n := s.n
	if n.m > maxAssignNodes {
		s.low = max(s.low, n.cheapWays())
		return nil, duals{}
	}
	full := n.assign(ctx, n.cost)
	s.low = max(s.low, full.sum)
	prices := full
	if n.group != nil {
		prices = n.assign(ctx, n.base)
		s.low = max(s.low, prices.sum+int64(n.fewestSwitches())*int64(n.p.Switch)*scale)
	}
	if s.proven() {
		return nil, prices
	}
	if n.m > maxLagrangeNodes {
		_, low := n.lagrange(ctx, full.out, s.cost, 1)
		s.low = max(s.low, low)
		return nil, prices
	}
	pi, low := n.lagrange(ctx, full.out, s.cost, steps)
	s.low = max(s.low, low)
	return pi, prices
}

// cheapWays is the simplest bound: everything but the first is entered once.
func (n *network) cheapWays() int64 {
	var sum int64
	for j := 1; j < n.m; j++ {
		best := int32(forbidden)
		for i := range n.m {
			best = min(best, n.cost[i*n.m+j])
		}
		if best < forbidden {
			sum += int64(best) * scale
		}
	}
	return sum
}

// fewestSwitches is a number of changes of group no order can avoid.
func (n *network) fewestSwitches() int {
	seen := map[int]bool{}
	for _, g := range n.group {
		if g >= 0 {
			seen[g] = true
		}
	}
	most := max(0, len(seen)-1)
	for _, c := range n.chains() {
		most = max(most, c)
	}
	return most
}

// initial is the given order if there is one, else always the cheapest next
// thing that may come now.
func (n *network) initial(order []int) ([]int32, error) {
	m := n.m
	if order != nil {
		if err := n.p.Feasible(order); err != nil {
			return nil, err
		}
		node := make([]int32, n.p.N)
		for k, t := range n.thing {
			if t >= 0 {
				node[t] = int32(k)
			}
		}
		seq := make([]int32, 0, m)
		if n.thing[0] < 0 {
			seq = append(seq, 0)
		}
		for _, t := range order {
			seq = append(seq, node[t])
		}
		if n.thing[m-1] < 0 {
			seq = append(seq, int32(m-1))
		}
		return seq, nil
	}
	wait := make([]int, m)
	for j := range m {
		wait[j] = len(n.preds[j])
	}
	done := make([]bool, m)
	seq := []int32{0}
	done[0] = true
	for len(seq) < m {
		i := int(seq[len(seq)-1])
		for _, j := range n.succs[i] {
			wait[j]--
		}
		best := -1
		for j := range m {
			if !done[j] && wait[j] == 0 && (best < 0 || n.cost[i*m+j] < n.cost[i*m+best]) {
				best = j
			}
		}
		done[best] = true
		seq = append(seq, int32(best))
	}
	return seq, nil
}
