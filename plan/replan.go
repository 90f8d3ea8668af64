package plan

import (
	"context"
	"reflect"
)

// Replan makes a plan for a changed problem from the plan before: jobs and
// machines are known by their IDs, lots keep their machine and place unless a
// move is worth more than Weights.Move, new jobs are put where they cost
// least, and a search (Options.Moves; 0: by the size of the problem) repairs the
// rest. It gives no bound.
func Replan(ctx context.Context, old Plan, p *Problem, o Options) (*Schedule, error) {
	if err := Check(p); err != nil {
		return nil, err
	}
	md, s := fromSeeds(p, carry(old, p), o.lotSeconds())
	known := map[string]bool{}
	for i := range old.Problem.Jobs {
		known[old.Problem.Jobs[i].ID] = true
	}
	had := func(job int) bool { return known[p.Jobs[job].ID] }
	md.remember(s, had)
	hurry := o.Moves == 0
	if hurry {
		o.Moves = int64(replanMoves)
		if md.n > replanLarge {
			o.Moves /= 2
		}
	}
	o.NoBound = true
	x := newSearch(md, s, newRand(o.Seed))
	x.report(&o, o.Moves)
	switch {
	case o.Keep || len(x.free) == 0:
	case md.n <= exhaustive:
		x.iterate(ctx, o.Moves)
	default:
		x.eager = true
		x.settle(ctx, o.Moves, hurry)
	}
	if !o.Keep {
		x.lastWord(ctx)
		x.best.level(func(job int32) bool { return had(int(job)) })
		x.best.join()
	}
	out := x.best.schedule()
	out.Moves, out.Complete = x.moves, ctx.Err() == nil
	return out, nil
}

// replanMoves is how many moves a plan after a change is searched with, half of it
// above replanLarge lots: it is waited for, a second or two.
const replanMoves, replanLarge = 3_000_000, 1000

// Alike reports whether two problems ask for the same: they differ at most in what
// changes no time and no goal, as operators whom no machine asks for.
func Alike(a, b *Problem) bool {
	if !a.Origin.Equal(b.Origin) || a.Weights != b.Weights || len(a.Machines) != len(b.Machines) ||
		!reflect.DeepEqual(a.Jobs, b.Jobs) || !reflect.DeepEqual(a.Changeover, b.Changeover) {
		return false
	}
	wa, wb := staffed(a), staffed(b)
	for m := range a.Machines {
		x, y := a.Machines[m], b.Machines[m]
		x.Windows, y.Windows = newTimeline(wa[m]).win, newTimeline(wb[m]).win
		if !reflect.DeepEqual(x, y) {
			return false
		}
	}
	return true
}

// Plan is a schedule with the problem it is of.
type Plan struct {
	Problem  *Problem
	Schedule *Schedule
}

// carry takes the lots of a plan over to another problem, by IDs.
func carry(old Plan, p *Problem) []seed {
	jobs, machines := map[string]int{}, map[string]int{}
	for i := range p.Jobs {
		jobs[p.Jobs[i].ID] = i
	}
	for m := range p.Machines {
		machines[p.Machines[m].ID] = m
	}
	var seeds []seed
	for i := range old.Schedule.Lots {
		l := &old.Schedule.Lots[i]
		j, ok := jobs[old.Problem.Jobs[l.Job].ID]
		m, there := machines[old.Problem.Machines[l.Machine].ID]
		if ok && there {
			seeds = append(seeds, seed{j, m, l.Quantity})
		}
	}
	return seeds
}

// settle improves a plan that is nearly right: first only what pays at once, with
// a little heat so that chains of small moves get through; then, for a change that
// touches much of it, a plan from nothing whose moves are charged. The better one
// is kept.
func (x *search) settle(ctx context.Context, moves int64, hurry bool) {
	if hurry {
		x.steps = settleSteps[1]
	}
	sc := x.scale(200)
	if x.md.n > replanLarge { // there is no time for both
		x.anneal(ctx, moves-x.moves, sc*1e-3, sc*1e-7)
		return
	}
	if hurry {
		x.steps = settleSteps[0]
	}
	x.anneal(ctx, (moves-x.moves)/3, sc*1e-3, sc*1e-7)
	if hurry {
		x.steps = settleSteps[1]
	}
	constructBest(x.md, x.cur)
	sc = x.scale(1000)
	x.anneal(ctx, moves-x.moves, sc*hot, sc*cold)
}
