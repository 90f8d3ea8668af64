package plan

import (
	"context"
	"math"
	"slices"
)

// By the goal all that ends between a Friday night and a Monday morning is late by the same weekend,
// however little is missing, and a minute saved in the week before is worth next to nothing until a
// whole lot more is in time: a walk sees no way down (a plateau). So it first follows a guide, a goal
// that has a slope there: lateness grows with working time, at the mean pace of the machine's hours,
// and machine time has a price.
type guide struct {
	slope   []float64 // machine: weighted lateness a working second late, for a weight of 1
	setWork []float64 // model.setWork and entry.base by the goal
	base    [][]float64
}

// guidePrice is what a second of machine time costs by the guide, as a share of a second's lateness of
// the mean lot; guideShare is the share of a walk's moves that follow it, guideCold where its temperature
// ends, and afterHot by how much cooler the goal's part begins: found by trial on invented shops of 200
// and 400 orders (docs/scheduler.md).
const (
	guidePrice = 0.6
	guideShare = 0.7
	guideCold  = 1e-4
	afterHot   = 0.1
)

// follow makes the model price by the guide.
func (md *model) follow() {
	g := &guide{setWork: md.setWork}
	md.setWork = slices.Clone(md.setWork)
	price := 0.0
	for _, w := range md.weight {
		price += guidePrice * w / float64(md.n)
	}
	for m := range md.lines {
		slope := 1.0
		if l := &md.lines[m]; !l.always {
			slope = 1 / l.rate
		}
		g.slope = append(g.slope, slope)
		base := make([]float64, md.n)
		for t := range md.at[m] {
			a := &md.at[m][t]
			base[t] = a.base
			if !math.IsInf(a.work, 1) {
				a.base += price * a.work
			}
		}
		g.base = append(g.base, base)
		md.setWork[m] += price
	}
	md.guide = g
}

// unfollow makes it price by the goal again.
func (md *model) unfollow() {
	md.setWork = md.guide.setWork
	for m := range md.at {
		for t := range md.at[m] {
			md.at[m][t].base = md.guide.base[m][t]
		}
	}
	md.guide = nil
}

// walk anneals from the current plan: by the guide first, then by the goal. hot and cold are shares of
// the mean worsening of a random move.
func (x *search) walk(ctx context.Context, moves int64, hot, cold float64) {
	x.kept = newState(x.md)
	x.kept.copyFrom(x.best)
	limit, steps := x.moves+moves, x.steps

	x.md.follow()
	x.cur.reprice()
	x.best.copyFrom(x.cur)
	sc := x.scale(1000)
	x.steps = int64(guideShare * float64(steps))
	x.cool(ctx, int64(guideShare*float64(limit-x.moves)), sc*hot, sc*guideCold)

	x.md.unfollow()
	x.cur.copyFrom(x.best)
	x.cur.reprice()
	x.best.copyFrom(x.kept)
	x.kept = nil
	x.keep()
	sc = x.scale(1000)
	x.steps = steps - x.steps
	x.cool(ctx, limit-x.moves, sc*hot*afterHot, sc*cold)
	x.steps = steps
}

// reprice prices the whole plan anew.
func (s *state) reprice() {
	for m := range s.rows {
		s.refresh(m, 0)
	}
	s.total()
}
