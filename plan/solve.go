package plan

import (
	"cmp"
	"context"
	"math/rand/v2"
)

// Options are how a plan is searched for.
type Options struct {
	Seed uint64
	// Moves is how many moves the search prices, all in all: the effort. The
	// same moves and seed give the same plan. 0 is an effort by the size of
	// the problem.
	Moves int64
	// Progress, if it is not nil, is called from time to time.
	Progress func(Progress)
	// Keep, for Replan: nothing changed since the plan before but the time, so the
	// lots stay where and in the order they are; none is moved, whatever it gained.
	Keep bool
	// NoBound leaves the lower bound out (it is then 0).
	NoBound bool
}

// Progress is how far a search has come.
type Progress struct {
	Moves, Of int64
	Cost      float64 // of the best plan so far
}

// defaultLotSeconds: a shift.
const defaultLotSeconds = 8 * 3600

func (o *Options) effort(n int) int64 {
	if o.Moves > 0 {
		return o.Moves
	}
	switch {
	case n <= exhaustive:
		return max(int64(n)*10_000, 300_000)
	case n > hurried: // a move takes longer
		return 5_000_000
	}
	return 6_000_000
}

// mostSteps is how many lots a search for a new plan looks at to price its moves,
// about 30 ns each; settleSteps after a change, on each of two cores.
const mostSteps, settleSteps = 140_000_000, 50_000_000

func (p *Problem) lotSeconds() float64 {
	if p.LotSeconds == 0 {
		return defaultLotSeconds
	}
	return p.LotSeconds
}

// Solve makes a plan for the problem. It returns an error only for a problem
// that Check refuses; jobs that no machine can make are listed in Unplaced. If
// ctx ends early the best plan so far is returned with Complete false.
func Solve(ctx context.Context, p *Problem, o Options) (*Schedule, error) {
	if err := Check(p); err != nil {
		return nil, err
	}
	md := compile(p, split(p, p.lotSeconds()))
	s := newState(md)
	constructBest(md, s)
	return improve(ctx, md, s, &o), nil
}

// exhaustive is up to how many lots the iterated search looks at every place
// of every lot; above, annealing alone is better.
const exhaustive = 150

// improve searches from s and writes the best plan down.
func improve(ctx context.Context, md *model, s *state, o *Options) *Schedule {
	x := newSearch(md, s, newRand(o.Seed))
	effort := o.effort(md.n)
	x.report(o, effort)
	switch {
	case len(x.free) == 0:
	case md.n <= exhaustive:
		if md.m > 1 {
			sc := x.scale(300)
			x.anneal(ctx, effort/3, sc*0.1, sc*0.001)
			x.cur.copyFrom(x.best)
		}
		x.iterate(ctx, effort)
	default:
		x.eager = true
		if o.Moves == 0 {
			x.steps = mostSteps
		}
		if md.n > hurried {
			x.walk(ctx, effort-x.moves, hotHurried, coldHurried)
			break
		}
		x.steps = x.steps * 2 / 3
		x.walk(ctx, effort*2/3-x.moves, hot, cold)
		x.press(ctx, effort/3, o.Seed^1<<62)
	}
	x.lastWord(ctx)
	x.share(ctx, func(int32) bool { return false })
	out := x.best.schedule()
	out.Moves = x.moves
	out.Complete = ctx.Err() == nil
	if !o.NoBound {
		out.Bound = bound(ctx, md, out.Lateness)
	}
	return out
}

// newRand is the search's source of chance: the second word only keeps it
// apart from other uses of the same seed.
func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0x6e65656c65)) }

func (x *search) report(o *Options, effort int64) {
	if o.Progress != nil {
		x.progress = func() { o.Progress(Progress{x.moves, effort, cmp.Or(x.kept, x.best).value()}) }
	}
}

// The temperatures of annealing, as shares of the mean worsening of a random
// move of the starting plan: found by trial on invented shops (docs/scheduler.md).
// Above hurried lots each has few moves, and a walk that begins hot does not come to an
// end: it begins cooler.
const (
	hot, cold               = 0.01, 1e-6
	hotHurried, coldHurried = 0.003, 1e-5
	hurried                 = 1000
)
