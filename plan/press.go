package plan

import (
	"context"
	"math"
	"slices"
)

// A plan in which few are late often gives up one order that another might have been given up for at less: no
// single move leads from the one to the other, for every step between costs more. So a late job is pressed: it
// weighs pressBy times as much for a while, which makes room for it, and then as it did, which mends what that
// spoilt. What comes out is kept where it is better (guided local search: C. Voudouris, E. Tsang, European Journal
// of Operational Research 113, 1999).

const (
	pressBy             = 8
	pressMoves          = 30_000 // moves of each of the two parts, twice as many each time that it came to nothing,
	pressLonger         = 3      // up to three times
	pressHot, pressCold = 3e-4, 3e-6
	pressRounds         = 4 // how often two cores take up the better of their plans
)

// press presses late jobs of the best plan, on two cores, for so many moves in all.
func (x *search) press(ctx context.Context, moves int64, seed uint64) {
	y := x.twin(seed)
	turns := min(moves/(2*2*pressMoves), pressRounds)
	for range turns {
		y.best.copyFrom(x.best)
		done := make(chan bool)
		go func() {
			y.pressed(ctx, moves/2/turns)
			close(done)
		}()
		x.pressed(ctx, moves/2/turns)
		<-done
		x.moves, y.moves = x.moves+y.moves, 0
		if y.best.value() < x.best.value() {
			x.best.copyFrom(y.best)
		}
		x.tell()
	}
}

// twin is a search beside x with weights of its own.
func (x *search) twin(seed uint64) *search {
	md := *x.md
	md.weight, md.risk = slices.Clone(md.weight), slices.Clone(md.risk)
	s := newState(&md)
	s.copyFrom(x.best)
	y := newSearch(&md, s, newRand(seed))
	y.eager = x.eager
	return y
}

// pressed presses late jobs of the best plan for so many moves.
func (x *search) pressed(ctx context.Context, moves int64) {
	md, kept, steps, limit := x.md, newState(x.md), x.steps, x.moves+moves
	x.steps = 0
	x.cur.copyFrom(x.best)
	sc := x.scale(300)
	if x.failed == nil {
		x.failed = map[int32]int{}
	}
	for x.moves < limit {
		x.cur.copyFrom(x.best)
		job := x.lateJob()
		if job < 0 || ctx.Err() != nil {
			break
		}
		kept.copyFrom(x.best)
		each := min(pressMoves<<min(x.failed[job], pressLonger), (limit-x.moves+1)/2)
		weigh := func(by float64) {
			for t := range md.job {
				if md.job[t] == job {
					md.weight[t] *= by
					md.risk[t] *= by
				}
			}
			x.cur.reprice()
		}
		weigh(pressBy)
		x.best.copyFrom(x.cur)
		x.anneal(ctx, each, sc*pressHot, sc*pressCold)
		x.cur.copyFrom(x.best)
		weigh(1. / pressBy)
		x.best.copyFrom(kept)
		x.keep()
		x.anneal(ctx, each, sc*pressHot, sc*pressCold)
		if x.best.value() < kept.value() {
			delete(x.failed, job)
		} else {
			x.failed[job]++
		}
	}
	x.steps = steps
}

// lateJob draws a job by what its lateness and risk cost; −1: none costs anything.
func (x *search) lateJob() int32 {
	s, total := x.cur, 0.0
	each := func(do func(job int32, cost float64) bool) {
		for o, lots := range s.md.orders {
			if !do(s.md.job[lots[0]], s.multi[o]) {
				return
			}
		}
		for m := range s.rows {
			for k, t := range s.rows[m].seq {
				if s.md.order[t] < 0 && !do(s.md.job[t], s.rows[m].stops[k].own) {
					return
				}
			}
		}
	}
	each(func(_ int32, cost float64) bool { total += cost; return true })
	if total <= 0 || math.IsInf(total, 1) {
		return -1
	}
	at, job := x.rng.Float64()*total, int32(-1)
	each(func(j int32, cost float64) bool {
		if cost > 0 {
			job = j
		}
		at -= cost
		return at > 0
	})
	return job
}
