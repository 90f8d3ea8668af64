package plan

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"
	"slices"
)

// share looks for better shares of the jobs that several machines may have: pieces go from one lot to
// another, a lot goes to another machine, ends, or begins where none of the job was, as
// long as the plan gets better. Jobs are left as they are where keep says so; but one of these that is late by
// hours, as when a machine that has a part of it is down, is shared anew where that saves much of what it costs, and more than
// a move.
func (x *search) share(ctx context.Context, keep func(job int32) bool) {
	x.sharesOf(ctx, keep, shareTries)
	late := x.best.latest(keep)
	for _, l := range late {
		was := x.best
		x.sharesOf(ctx, func(job int32) bool { return job != l.job }, shareTries/len(late))
		if x.best.value() > was.value()-max(was.md.w.Move, lateGain*l.cost) {
			x.best = was
		}
	}
}

// A plan that is made again does not jiggle: lateLeast is how late a job is to be, in s, and lateGain the part of what that costs which is
// to be saved, before one that was planned is shared anew. So are lateShared at most, fewer where there are many lots, as with shareTries.
const lateLeast, lateGain, lateShared = 4 * 3600, .5, 20

// lateJob is a job that is late, and what that costs.
type lateJob struct {
	job  int32
	cost float64
}

// latest are jobs of those that keep says stay that are late by lateLeast, the worst first, as many as there is time for.
func (s *state) latest(keep func(job int32) bool) (late []lateJob) {
	cost := map[int32]float64{}
	for t, j := range s.md.job {
		if s.md.quantity[t] > 0 && s.done[t] > s.md.due[t]+lateLeast && keep(j) {
			cost[j] = max(cost[j], s.late(int32(t), s.done[t], s.odds[t]))
		}
	}
	for j, c := range cost {
		late = append(late, lateJob{j, c})
	}
	slices.SortFunc(late, func(a, b lateJob) int { return cmp.Or(cmp.Compare(b.cost, a.cost), cmp.Compare(a.job, b.job)) })
	return late[:min(len(late), max(1, lateShared*exhaustive/max(exhaustive, s.md.n)))]
}

// sharesOf is share for all jobs but those that keep says stay, with so many tries where lots are few.
func (x *search) sharesOf(ctx context.Context, keep func(job int32) bool, tries int) {
	x.best.join()
	s := x.best.spare(keep)
	h := sharing{s: s, was: newState(s.md), left: tries * exhaustive / max(exhaustive, s.md.n)}
	orders := slices.DeleteFunc(slices.Clone(s.md.orders), func(lots []int32) bool { return keep(s.md.job[lots[0]]) })
	h.climb(ctx, orders)
	if s.md.n <= exhaustive && len(orders) > 0 { // of few lots: again from shares near the best
		best, sizes := newState(s.md), slices.Clone(s.md.quantity)
		best.copyFrom(s)
		for h.left > 0 && ctx.Err() == nil {
			for range 1 + x.rng.IntN(3) {
				h.kick(orders[x.rng.IntN(len(orders))], x.rng)
			}
			h.climb(ctx, orders)
			if s.value() < best.value()-1e-9*max(1, best.value()) {
				best.copyFrom(s)
				copy(sizes, s.md.quantity)
				continue
			}
			for t, n := range sizes {
				s.md.size(int32(t), n)
			}
			s.copyFrom(best)
		}
	}
	x.best = s
	x.best.join()
}

// spare is the plan with a lot for each machine that a shared job may be on: those that it has not
// have no pieces, and stand behind one that has.
func (s *state) spare(keep func(job int32) bool) *state {
	old := s.md
	parts, lots := make([][]int, len(old.p.Jobs)), make([][]int32, len(old.p.Jobs))
	for t, i := range old.job {
		parts[i], lots[i] = append(parts[i], old.quantity[t]), append(lots[i], int32(t))
	}
	md := compileIn(old.p, old.windows, func(j *Job, i int) []int {
		if seconds := old.p.lotSeconds(); !keep(int32(i)) && seconds > 0 {
			on := sharers(old.p, old.closed, old.lines, j)
			for n := len(parts[i]); n < len(on) && float64(j.Quantity) > seconds*pace(on[0]); n++ {
				parts[i] = append(parts[i], 0)
			}
		}
		return parts[i]
	})
	is := make([]int32, old.n)       // the lots that were → theirs
	behind := make([][]int32, old.n) // and the new ones behind them
	k := 0
	for t, i := range md.job {
		if t > 0 && md.job[t-1] != i {
			k = 0
		}
		if k < len(lots[i]) {
			is[lots[i][k]] = int32(t)
		} else {
			behind[lots[i][0]] = append(behind[lots[i][0]], int32(t))
		}
		k++
	}
	seqs := make([][]int32, md.m)
	for m := range s.rows {
		for _, t := range s.rows[m].seq {
			seqs[m] = append(append(seqs[m], is[t]), behind[t]...)
		}
	}
	if old.old != nil {
		md.old = old.old.of(is, md.n)
	}
	out := newState(md)
	out.set(seqs)
	return out
}

// climb makes shares better for as long as that goes. Where there are many lots, jobs that will surely be
// in time only level theirs.
func (h *sharing) climb(ctx context.Context, orders [][]int32) {
	for better := true; better && ctx.Err() == nil; {
		better = false
		for _, lots := range orders {
			if h.s.md.n > exhaustive && h.fine(lots) {
				if from, to := h.last(lots), h.first(lots); h.s.mach[from] != h.s.mach[to] && h.give(lots, from, to, false) {
					better = true
				}
				continue
			}
			for _, from := range lots {
				for _, to := range lots {
					if from != to && h.give(lots, from, to, true) {
						better = true
					}
				}
			}
			for _, t := range lots {
				if h.place(lots, t) {
					better = true
				}
			}
		}
	}
}

// fine reports whether a job will be in time with hardly a doubt.
func (h *sharing) fine(lots []int32) bool {
	for _, t := range lots {
		if h.s.odds[t] > .01 || h.s.done[t] > h.s.md.due[t] {
			return false
		}
	}
	return true
}

// last and first are the lots with pieces of a job that end last and first.
func (h *sharing) last(lots []int32) int32 {
	return slices.MaxFunc(lots, func(a, b int32) int { return cmp.Compare(h.ends(a, -1), h.ends(b, -1)) })
}

func (h *sharing) first(lots []int32) int32 {
	return slices.MinFunc(lots, func(a, b int32) int { return cmp.Compare(h.ends(a, math.Inf(1)), h.ends(b, math.Inf(1))) })
}

func (h *sharing) ends(t int32, none float64) float64 {
	if h.s.md.quantity[t] == 0 {
		return none
	}
	return h.s.done[t]
}

// kick gives some pieces of a job's lot to another, wherever that then is.
func (h *sharing) kick(lots []int32, rng *rand.Rand) {
	h.left--
	md, from, to := h.s.md, lots[rng.IntN(len(lots))], lots[rng.IntN(len(lots))]
	if from == to || md.quantity[from] == 0 || h.runs(from) || h.runs(to) {
		return
	}
	was := md.quantity[to]
	h.s.resize(from, to, 1+rng.IntN(md.quantity[from]))
	if was == 0 {
		m := int(md.fits[to][rng.IntN(len(md.fits[to]))])
		h.s.takeOut([]int32{to})
		r := &h.s.rows[m]
		h.s.put(to, m, r.locked+rng.IntN(len(r.seq)-r.locked+1))
	}
	for _, t := range lots {
		if md.quantity[t] > 0 {
			h.stack(lots, t)
			break
		}
	}
}

// shareTries bounds the shares tried by moving lots: fewer where there are more lots, of which each try takes longer.
const shareTries = 4000

// sharing tries shares of a plan.
type sharing struct {
	s, was *state
	left   int
}

// try makes a change of the plan, and takes it back where the plan is no better by it. Sizes are
// restored by back.
func (h *sharing) try(change, back func()) bool {
	if h.left <= 0 {
		return false
	}
	h.left--
	before := h.s.value()
	h.was.copyFrom(h.s)
	change()
	if h.s.value() < before-1e-9*max(1, before) {
		return true
	}
	back()
	h.s.copyFrom(h.was)
	return false
}

// give gives pieces of one lot to another of its job: all of them (where it may), half, a quarter and so on.
func (h *sharing) give(lots []int32, from, to int32, all bool) (better bool) {
	md := h.s.md
	if h.runs(from) || h.runs(to) {
		return false
	}
	for _, n := range h.parts(from, to, all) {
		switch {
		case n < md.quantity[from]:
			before := h.s.value()
			if h.s.resize(from, to, n); h.s.value() < before-1e-9*max(1, before) {
				better = true
			} else {
				h.s.resize(to, from, n)
			}
		case n == md.quantity[from] && h.try(func() {
			h.s.resize(from, to, n)
			h.stack(lots, to)
		}, func() { md.resize(to, from, n) }):
			better = true
		}
	}
	return better
}

// parts are how many pieces of one lot may go to another: parts of them, also in whole runs of
// either machine, and what makes the last run of either full.
func (h *sharing) parts(from, to int32, all bool) (out []int) {
	md := h.s.md
	j, q := &md.p.Jobs[md.job[from]], md.quantity[from]
	add := func(n int) {
		if n > 0 && (n < q || n == q && all) && !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	give, take := j.fit(int(h.s.mach[from])).Pieces, j.fit(int(h.s.mach[to])).Pieces
	add(q)
	add(q % give)
	add(take - md.quantity[to]%take)
	for part := 2; q/part > 0; part *= 2 {
		n := q / part
		add(n - n%give)
		add(n - n%take)
		add(n)
	}
	return out
}

// place puts a lot where it costs least; one without pieces with a part of another's.
func (h *sharing) place(lots []int32, t int32) (better bool) {
	md := h.s.md
	if h.runs(t) {
		return false
	}
	if md.quantity[t] > 0 {
		return h.try(func() { h.again(lots, t) }, func() {})
	}
	for _, from := range lots {
		for _, n := range h.parts(from, t, false) {
			if !h.runs(from) && h.try(func() {
				h.s.resize(from, t, n)
				h.again(lots, t)
			}, func() { md.resize(t, from, n) }) {
				return true
			}
		}
	}
	return false
}

// again takes a lot out and puts it in where it costs least.
func (h *sharing) again(lots []int32, t int32) {
	h.s.takeOut([]int32{t})
	insertBest(h.s, []int32{t})
	h.stack(lots, t)
}

// stack puts those of a job's lots that have no pieces behind one that has: there they cost nothing.
func (h *sharing) stack(lots []int32, t int32) {
	for _, u := range lots {
		if u != t && h.s.md.quantity[u] == 0 {
			h.s.takeOut([]int32{u})
			h.s.put(u, int(h.s.mach[t]), int(h.s.pos[t])+1)
		}
	}
}

// runs reports whether a lot is on its machine now.
func (h *sharing) runs(t int32) bool {
	m := h.s.mach[t]
	return int(h.s.pos[t]) < h.s.rows[m].locked
}

// put puts a lot that is in no queue into one.
func (s *state) put(t int32, m, i int) {
	s.rows[m].seq = slices.Insert(s.rows[m].seq, i, t)
	s.refresh(m, i)
	s.total()
}

// resize gives pieces of one lot to another.
func (s *state) resize(from, to int32, pieces int) {
	s.md.resize(from, to, pieces)
	s.refresh(int(s.mach[from]), int(s.pos[from]))
	s.refresh(int(s.mach[to]), int(s.pos[to]))
	s.total()
}

func (md *model) resize(from, to int32, pieces int) {
	md.size(from, md.quantity[from]-pieces)
	md.size(to, md.quantity[to]+pieces)
}

// join makes lots of one job that follow each other on a machine one: a last run of
// each with empty heads becomes one. What is left of the others is nothing.
func (s *state) join() {
	md := s.md
	for m := range s.rows {
		q := s.rows[m].seq
		for i := 1; i < len(q); i++ {
			first := i
			for first > 0 && md.job[q[first-1]] == md.job[q[i]] {
				first--
			}
			if first < i && md.quantity[q[i]] > 0 {
				s.resize(q[i], q[first], md.quantity[q[i]])
			}
		}
	}
}
