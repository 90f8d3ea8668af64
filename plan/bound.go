package plan

import (
	"context"
	"math"
	"slices"
)

// The lower bound relaxes machines of about one speed to one pool of capacity (a
// class) and prices its use over time: with prices λ_c(u) ≥ 0 per working second of
// class c,
//
//	Σ_j min_{c,C} [ w_j·T_j(C) + cheapest use of p_jc seconds of c before C ] − Σ_c ∫ λ_c·capacity_c
//
// is below the weighted lateness of every plan (Lagrangian relaxation of the
// time-indexed formulation; see Pinedo, Scheduling, or Dyer and Wolsey 1990).
// p_jc is the job's least work on a machine of the class with the least set-up that
// can come before it. Prices that never rise with time make the cheapest use the
// last possible, whatever the calendars cut out, so that one price curve
// serves all machines of a class. A job of several lots may use all classes at
// once. A subgradient method finds good prices.

// boundSize are the fineness of the price curves, the steps of the subgradient
// method and the most classes, for a problem of n jobs.
func boundSize(n int) (slots, rounds, classes int) {
	switch {
	case n <= 120:
		return 600, 600, 6
	case n <= 600:
		return 400, 400, 5
	}
	return 320, 150, 5
}

// boundJob is a job in the relaxation.
type boundJob struct {
	weight, due float64 // due in wall seconds
	release     float64 // wall second
	lots        int
	on          []boundOn // by class
}

// boundOn is a job on a class of machines.
type boundOn struct {
	work  float64 // least machine seconds with the set-up; +Inf: it does not fit
	run   float64 // least machine seconds of the runs alone
	setup float64 // least set-up
	wide  float64 // machines at once
	ready float64 // u before which it cannot end there
	from  float64 // u from which on it may use a machine
	dueU  float64
}

// relaxed is the problem as the bound sees it.
type relaxed struct {
	class []*grid
	jobs  []boundJob
	ticks []float64   // wall seconds at which any class has the end of a slot
	tickU [][]float64 // class × tick: u there
	picks []pick      // of each job, by the last prices
}

// bound is a lower bound on Σ job weight × seconds late. upper is the lateness
// of a plan, for the step length.
func bound(ctx context.Context, md *model, upper float64) float64 {
	if upper <= 0 {
		return 0
	}
	x := md.relax()
	if x == nil {
		return 0
	}
	_, rounds, _ := boundSize(len(x.jobs))
	best, theta, stuck := 0.0, 1.0, 0
	for r := 0; r < rounds && ctx.Err() == nil; r++ {
		v := x.value()
		if v > best*(1+1e-6) {
			best, stuck = v, 0
		} else if stuck++; stuck >= 8 {
			theta, stuck = theta*0.7, 0
		}
		if best >= upper*(1-1e-9) {
			return upper
		}
		norm := 0.0
		for _, g := range x.class {
			for k := range g.use {
				d := g.use[k] - g.capacity[k]
				norm += g.pace * g.pace * d * d / g.width[k]
			}
		}
		if norm == 0 {
			break
		}
		step := theta * (1.02*upper - v) / norm
		for _, g := range x.class {
			for k := range g.lambda {
				// An hour of a slow class is worth less: its prices take shorter steps.
				d := step * g.pace * g.pace * (g.use[k] - g.capacity[k]) / g.width[k]
				g.lambda[k] = max(0, g.lambda[k]+d)
			}
			neverRising(g.lambda, g.width)
			// Ends past the grid are not looked at: the last stretch, long enough
			// for any job, is free, so that none of them could be cheaper.
			end := g.end[len(g.end)-1]
			for k := len(g.lambda) - 1; k >= 0 && g.end[k] > end-g.longest; k-- {
				g.lambda[k] = 0
			}
		}
	}
	return min(best, upper)
}

// pick is what one job does in the relaxation's solution: its cost, and the class where it ends and the u
// at which it does, or, of several lots (class < 0), the tick.
type pick struct {
	cost, end   float64
	class, tick int
}

// value is the relaxation's value for the classes' prices; it sets the use of the
// slots in its solution. Jobs hang on each other by the prices only: two cores have half of them each.
func (x *relaxed) value() float64 {
	total := 0.0
	for _, g := range x.class {
		total -= g.reset()
	}
	if x.picks == nil {
		x.picks = make([]pick, len(x.jobs))
	}
	half := len(x.jobs) / 2
	done := make(chan bool)
	go func() {
		x.pick(half, len(x.jobs))
		close(done)
	}()
	x.pick(0, half)
	<-done
	for i, p := range x.picks {
		total += p.cost
		if p.class < 0 {
			x.shares(&x.jobs[i], p.tick, math.Inf(1), true)
			continue
		}
		on := &x.jobs[i].on[p.class]
		x.class[p.class].occupy(max(p.end-on.work/on.wide, 0), p.end, on.wide)
	}
	return total
}

// pick finds what jobs from…to do.
func (x *relaxed) pick(from, to int) {
	for i := from; i < to; i++ {
		j, p := &x.jobs[i], pick{cost: math.Inf(1)}
		if j.lots > 1 && len(x.class) > 1 {
			p.class = -1
			p.cost, p.tick = x.shared(j)
		} else {
			for c, g := range x.class {
				if v, e := g.cheapest(&j.on[c], j.weight, j.due, p.cost); v < p.cost {
					p.cost, p.end, p.class = v, e, c
				}
			}
		}
		x.picks[i] = p
	}
}

// shared is the least cost of a job of several lots, which may use all classes at
// once, any share of it in each: for an end between two ticks, the lateness at the
// first and the cheapest use before the second. It gives the second tick too.
func (x *relaxed) shared(j *boundJob) (cost float64, tick int) {
	late := func(tick int) float64 {
		if tick == 0 || math.IsInf(j.due, 1) {
			return j.weight * max(0, -j.due)
		}
		return j.weight * max(0, x.ticks[tick-1]-j.due)
	}
	n := len(x.ticks)
	first := n - 1 // it can wait to the very end
	if j.weight > 0 && !math.IsInf(j.due, 1) {
		first, _ = slices.BinarySearch(x.ticks, j.due)
		first = min(first, n-1)
	}
	best, at := math.Inf(1), n-1
	// Of ticks lo to hi none is below the lateness at lo with the use at hi: the use
	// never rises with the end.
	var among func(lo, hi int, use float64)
	among = func(lo, hi int, use float64) {
		l := late(lo)
		switch {
		case l+use >= best:
		case lo == hi:
			best, at = l+use, lo
		default:
			mid := (lo + hi) / 2
			among(lo, mid, x.shares(j, mid, best-l, false))
			among(mid+1, hi, use)
		}
	}
	among(first, n-1, x.shares(j, n-1, math.Inf(1), false))
	return best, at
}

// shares is the least that a whole job costs by the use of the classes before a
// tick, +Inf where they have no room for it or it is above most. occupy writes the
// use down.
func (x *relaxed) shares(j *boundJob, tick int, most float64, occupy bool) float64 {
	var at [maxClasses]float64
	var slot [maxClasses]int
	for c, g := range x.class {
		at[c] = x.tickU[c][tick]
		slot[c], _ = slices.BinarySearch(g.end, at[c])
		slot[c] = min(slot[c], len(g.end)-1)
	}
	cost := 0.0
	for left := 1.0; left > 1e-12; {
		pick, price := -1, math.Inf(1)
		for c, g := range x.class {
			if on := &j.on[c]; at[c] > on.from && g.lambda[slot[c]]*on.work < price {
				pick, price = c, g.lambda[slot[c]]*on.work
			}
		}
		if pick < 0 || cost+left*price > most {
			return math.Inf(1)
		}
		g, on := x.class[pick], &j.on[pick]
		begin := max(g.end[slot[pick]]-g.width[slot[pick]], on.from)
		share := (at[pick] - begin) * on.wide / on.work
		if share > left {
			share = left
			begin = at[pick] - left*on.work/on.wide
		}
		cost += share * price
		left -= share
		if occupy {
			g.use[slot[pick]] += (at[pick] - begin) * on.wide
		}
		at[pick] = begin
		slot[pick] = max(slot[pick]-1, 0)
	}
	return cost
}

// Bound is a lower bound on the weighted lateness (Totals.Lateness, s) of every plan
// for the problem; lateness is that of a plan at hand, which the bound never passes.
// It returns an error only for a problem that Check refuses.
func Bound(ctx context.Context, p *Problem, lateness float64) (float64, error) {
	if err := Check(p); err != nil {
		return 0, err
	}
	return bound(ctx, compile(p, split(p, p.lotSeconds())), lateness), nil
}
