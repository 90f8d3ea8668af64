package plan

import (
	"context"
)

// Replan makes a plan for a changed problem from the plan before: jobs and
// machines are known by their IDs, lots keep their machine and place unless a
// move is worth more than Options.Stay, new jobs are put where they cost
// least, and a short search (Options.Moves; 0: 60,000 moves) repairs the rest.
// It gives no bound.
func Replan(ctx context.Context, old Plan, p *Problem, o Options) (*Schedule, error) {
	if err := Check(p); err != nil {
		return nil, err
	}
	md, s := fromSeeds(p, carry(old, p), o.lotSeconds())
	stay := o.Stay
	if stay == 0 {
		stay = 600 * md.w.Lateness
	}
	if stay > 0 {
		known := map[string]bool{}
		for i := range old.Problem.Jobs {
			known[old.Problem.Jobs[i].ID] = true
		}
		for t := range md.job {
			if !known[p.Jobs[md.job[t]].ID] {
				continue
			}
			for _, m := range md.fits[t] {
				if m != s.mach[t] {
					md.at[m][t].base += stay
				}
			}
		}
	}
	if o.Moves == 0 {
		o.Moves = 60_000
	}
	o.NoBound = true
	x := newSearch(md, s, newRand(o.Seed))
	x.report(&o, o.Moves)
	x.eager = true
	x.settle(ctx, o.Moves)
	out := x.best.schedule()
	out.Moves, out.Complete = x.moves, ctx.Err() == nil
	return out, nil
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

// settle improves a plan that is nearly right: only what pays at once, with a
// little heat so that chains of small moves get through.
func (x *search) settle(ctx context.Context, moves int64) {
	if len(x.free) == 0 {
		return
	}
	sc := x.scale(200)
	x.anneal(ctx, moves-x.moves, sc*1e-4, sc*1e-7)
}
