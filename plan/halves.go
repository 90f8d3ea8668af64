package plan

import (
	"context"
	"math"
	"math/rand/v2"
)

// Two cores search one plan: each half of the machines by itself, for a while, then other halves. What one half
// costs hangs on the other only by jobs with lots in both and by the make-span; they are taken as they stood when
// the round began, and the whole plan is priced anew after it.

// rounds are how often each part of a walk draws halves: with 24 plans were 2 to 4 % worse. leastRows are the
// machines from which on it does: halves of fewer are no search.
const (
	rounds    = 100
	leastRows = 4
)

// cool anneals the whole plan as anneal does, by halves where there are enough machines.
func (x *search) cool(ctx context.Context, moves int64, hot, cold float64) {
	if x.alone || x.md.m < leastRows || moves < rounds || len(x.free) == 0 {
		x.anneal(ctx, moves, hot, cold)
		return
	}
	var half [2]*search
	for h := range half {
		half[h] = &search{md: x.md, cur: newState(x.md), best: newState(x.md), eager: x.eager, steps: x.steps / rounds / 2}
	}
	count := func(y *search) { x.moves, y.moves, y.told = x.moves+y.moves, 0, 0 }
	half[0].progress = func() {
		count(half[0])
		x.tell()
	}
	join := func(part []int, of func(*search) *state) {
		for m, h := range part {
			x.cur.rows[m].seq = append(x.cur.rows[m].seq[:0], of(half[h]).rows[m].seq...)
		}
		x.cur.reprice()
		x.keep()
	}
	each := moves / rounds
	for round := range rounds {
		if ctx.Err() != nil {
			return
		}
		part := x.halve()
		for h, y := range half {
			y.take(x, part, h)
		}
		first := each * int64(len(half[0].free)) / int64(len(x.free))
		warm := func(round int) float64 { return hot * math.Pow(cold/hot, float64(round)/rounds) }
		done := make(chan bool)
		go func() {
			half[1].anneal(ctx, each-first, warm(round), warm(round+1))
			close(done)
		}()
		half[0].anneal(ctx, first, warm(round), warm(round+1))
		<-done
		join(part, func(y *search) *state { return y.best })
		if round < rounds-1 {
			join(part, func(y *search) *state { return y.cur })
		}
		for _, y := range half {
			count(y)
		}
		x.tell()
	}
}

// halve draws a half for each machine: neighbours in a shop are often of one kind, so of each two in turn one.
func (x *search) halve() []int {
	part := make([]int, x.md.m)
	order := x.rng.Perm(x.md.m)
	for k, m := range order {
		part[m] = k % 2
	}
	return part
}

// take makes y a search of one half of x's machines.
func (y *search) take(x *search, part []int, half int) {
	y.cur.copyFrom(x.cur)
	y.best.copyFrom(x.cur)
	y.rng = rand.New(rand.NewPCG(x.rng.Uint64(), x.rng.Uint64()))
	y.free, y.fits = y.free[:0], make([][]int32, x.md.n)
	y.listed = 0
	for _, t := range x.free {
		if part[x.cur.mach[t]] != half {
			continue
		}
		y.free = append(y.free, t)
		for _, m := range x.fits[t] {
			if part[m] == half {
				y.fits[t] = append(y.fits[t], m)
			}
		}
	}
}
