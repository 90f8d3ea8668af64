package plan

import (
	"context"
	"math"
	"reflect"
)

// Replan makes a plan for a changed problem from the plan before: jobs and
// machines are known by their IDs, lots keep their machine and place unless a
// move is worth more than Weights.Move, new jobs are put where they cost
// least, and a search (Options.Moves; 0: by the size of the problem) repairs the
// rest, on two cores where there are many lots, a third shorter where the change touches little. It gives no bound.
func Replan(ctx context.Context, old Plan, p *Problem, o Options) (*Schedule, error) {
	if err := Check(p); err != nil {
		return nil, err
	}
	known := map[string]bool{}
	for i := range old.Problem.Jobs {
		known[old.Problem.Jobs[i].ID] = true
	}
	had := func(job int) bool { return known[p.Jobs[job].ID] }
	begin := func(seed uint64) *search {
		md, s := fromSeeds(p, carry(old, p))
		md.remember(s, had)
		return newSearch(md, s, newRand(seed))
	}
	hurry := o.Moves == 0
	x := begin(o.Seed)
	large := x.md.n > replanLarge
	wide := reshaped(old, p) || x.cur.emptied(old) || x.cur.wide(old.Schedule.Lateness)
	switch {
	case !hurry:
	case large:
		o.Moves = replanMoves * 2 / 7
	case x.md.n <= exhaustive:
		o.Moves = replanMoves
	case wide:
		o.Moves = wideMoves
	default:
		o.Moves = replanMoves * 2 / 3
	}
	o.NoBound = true
	x.report(&o, o.Moves)
	switch {
	case o.Keep || len(x.free) == 0:
	case x.md.n <= exhaustive:
		x.iterate(ctx, o.Moves)
	case large:
		x.eager = true
		if hurry {
			x.steps = settleSteps
		}
		x.settle(ctx, o.Moves, 1)
	default:
		// Two cores search apart, each for a quarter of the moves; then both press the better plan.
		each := o.Moves / 4
		y := begin(o.Seed ^ 1<<63)
		y.eager, x.eager = true, true
		y.alone, x.alone = true, true
		apart := [2]func(){func() { x.settle(ctx, each, settleWalks) }, func() { y.renew(ctx, each) }}
		steps := int64(wideSteps)
		if !wide {
			apart = [2]func(){func() { x.settle(ctx, each, settleWalks-1) }, func() { y.settle(ctx, each, settleWalks-1) }}
			steps = settleSteps / 3
		}
		if hurry {
			x.steps, y.steps = steps, steps
		}
		done := make(chan bool)
		go func() {
			apart[1]()
			close(done)
		}()
		apart[0]()
		<-done
		x.moves += y.moves
		if y.best.value() < x.best.value() {
			x.best.copyFrom(y.best)
		}
		x.press(ctx, min(o.Moves-2*each, o.Moves-x.moves), o.Seed^1<<62)
	}
	if !o.Keep {
		x.lastWord(ctx)
		x.share(ctx, func(job int32) bool { return had(int(job)) })
	}
	out := x.best.schedule()
	out.Moves, out.Complete = x.moves, ctx.Err() == nil
	return out, nil
}

// replanMoves is how many moves a plan after a change is searched with, two sevenths of it
// above replanLarge lots: it is waited for, a second or two.
const replanMoves, replanLarge = 6_000_000, 1000

// wideMoves is that where a change touches much (see reshaped, emptied, wide), of up to replanLarge lots, and wideSteps how many lots
// each core then looks at before both press late jobs: it takes as long as a new plan.
const wideMoves, wideSteps = 16_000_000, 83_000_000

// wide reports whether a change touches much of a plan that was late by so much (Totals.Lateness), s being the plan left as it
// is: it is late by twice that, and by wideLate seconds of the mean order more. Of thirteen changes the walk from nothing was
// better than those from the old plan, before late jobs were pressed, in the five that were wide (docs/scheduler.md).
func (s *state) wide(was float64) bool {
	least := 0.0
	for i := range s.md.p.Jobs {
		least += wideLate * s.md.p.Jobs[i].Weight
	}
	return s.totals().Lateness-was > max(was, least)
}

const wideLate = 1800

// reshaped reports whether a machine is open for much longer or shorter than it was while the plan before went on, or takes
// much longer or shorter for what it had there: single moves lead badly to where its queue should then be.
func reshaped(old Plan, p *Problem) bool {
	b, a := look(old), look(Plan{p, &Schedule{}})
	had, more := make([]float64, len(old.Problem.Machines)), make([]float64, len(old.Problem.Machines))
	for i := range old.Schedule.Lots {
		l := &old.Schedule.Lots[i]
		m, there := a.mach[old.Problem.Machines[l.Machine].ID]
		j, ok := a.index[old.Problem.Jobs[l.Job].ID]
		if !there || !ok || l.Running || l.Runs == 0 {
			continue
		}
		if f := p.Jobs[j].anyFit(m); f != nil {
			had[l.Machine] += l.Work
			more[l.Machine] += f.work(l.Runs, l.Quantity) - l.Work
		}
	}
	for id, bm := range b.mach {
		am, ok := a.mach[id]
		if !ok {
			return true
		}
		if math.Abs(lostHours(b, a, bm, am, old.Schedule.MakeSpan, 0)) > wideHours || math.Abs(more[bm]) > max(wideHours, runChanged*had[bm]) {
			return true
		}
	}
	return false
}

// emptied reports whether a job is done much sooner on its machine than by the plan before, s being the plan left as it is: as where
// a large order before it was withdrawn. What could fill the hole stands far behind, or elsewhere.
func (s *state) emptied(old Plan) bool {
	type place struct{ job, machine string }
	p, was := s.md.p, map[place]float64{}
	for i := range old.Schedule.Lots {
		l := &old.Schedule.Lots[i]
		at := place{old.Problem.Jobs[l.Job].ID, old.Problem.Machines[l.Machine].ID}
		was[at] = max(was[at], p.Second(old.Problem.At(l.To)))
	}
	for m := range s.rows {
		r := &s.rows[m]
		for k, t := range r.seq {
			end := max(0, s.md.lines[m].end(r.end[k]))
			if openTime(p.Machines[m].Windows, end, was[place{p.Jobs[s.md.job[t]].ID, p.Machines[m].ID}]) > wideHours {
				return true
			}
		}
	}
	return false
}

// wideHours is half a shift, in s.
const wideHours = 4 * 3600

// settleWalks is how often settle sets out from the old plan where two cores search apart, settleHot how hot (see walk).
const settleWalks, settleHot, settleCold = 3, 1e-3, 1e-7

// settle improves a plan that is nearly right: only what pays at once, with a little heat so that chains
// of small moves get through; then again, by way of the guide. Walks from one plan end far apart: the best
// of several short ones is as a rule better than one long one, but of many lots, where none comes to its end.
func (x *search) settle(ctx context.Context, moves, walks int64) {
	start := newState(x.md)
	start.copyFrom(x.cur)
	all := x.steps
	x.steps = all / walks
	sc := x.scale(200)
	x.cool(ctx, moves/walks, sc*settleHot, sc*settleCold)
	for range walks - 1 {
		x.cur.copyFrom(start)
		x.walk(ctx, moves/walks, settleHot, settleCold)
	}
	x.steps = all
}

// renew makes a plan from nothing, its moves charged, for a change that touches much of the old one.
func (x *search) renew(ctx context.Context, moves int64) {
	constructBest(x.md, x.cur)
	x.walk(ctx, moves, hot, cold)
}

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
