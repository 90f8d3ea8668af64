package plan

import (
	"context"
	"math"
	"math/rand/v2"
	"sort"
)

// search improves a state. Everything random comes from rng.
type search struct {
	md    *model
	cur   *state
	best  *state
	kept  *state // the best by the goal, while a walk follows the guide
	rng   *rand.Rand
	moves int64     // moves priced so far
	free  []int32   // lots that may be moved
	fits  [][]int32 // lot → machines it may be moved to

	progress func() // called every progressEvery moves, may be nil
	told     int64

	steps int64 // most lots that one walk may look at; 0: any number

	alone  bool    // another search runs beside it: walk on one core
	eager  bool    // draw late lots more often: for shops where few are late
	late   []int32 // the late lots as of move listed
	listed int64

	failed map[int32]int // job → how often pressing it came to nothing

	most, reach int // of blocks (see blocks)

	turn []int32 // lots by the last word

	queue  []int32 // lots that descend still has to look at
	queued []bool
}

func newSearch(md *model, start *state, rng *rand.Rand) *search {
	x := &search{md: md, cur: start, fits: md.fits, best: newState(md), rng: rng, queued: make([]bool, md.n), turn: md.inTurn()}
	x.best.copyFrom(start)
	if md.n <= exhaustive {
		x.most, x.reach = md.blocks()
	}
	for t := range md.job {
		j := &md.p.Jobs[md.job[t]]
		if j.Pin == nil || !j.Pin.Running {
			x.free = append(x.free, int32(t))
		}
	}
	return x
}

// progressEvery is how many moves lie between two reports of progress.
const progressEvery = 1 << 17

func (x *search) tell() {
	if x.progress != nil && x.moves-x.told >= progressEvery {
		x.told = x.moves
		x.progress()
	}
}

// propose draws a move around a random lot. It may be illegal.
func (x *search) propose(c *change) {
	s := x.cur
	t := x.free[x.rng.IntN(len(x.free))]
	if x.eager && x.rng.IntN(2) == 0 {
		t = x.hurry(t)
	}
	c.a, c.i = int(s.mach[t]), int(s.pos[t])
	c.size = 1
	fits := x.fits[t]
	c.b = c.a
	if len(fits) > 1 && x.rng.IntN(8) != 0 {
		c.b = int(fits[x.rng.IntN(len(fits))])
	}
	rb := &s.rows[c.b]
	n := len(rb.seq)
	// Half of the places are near the lot's own time, half anywhere; where few lots are late, a third
	// where it would just be in time.
	where := x.rng.IntN(2)
	if x.eager && x.rng.IntN(3) == 0 && !math.IsInf(x.md.at[c.b][t].due, 1) {
		where = 2
	}
	place := func(n int) int {
		if n <= 0 {
			return 0
		}
		if where == 1 {
			return x.rng.IntN(n)
		}
		at := c.i
		switch {
		case where == 2:
			at = sort.SearchFloat64s(rb.end[:len(rb.seq)], x.md.at[c.b][t].due) - 2
		case c.b != c.a:
			at = sort.SearchFloat64s(rb.end[:len(rb.seq)], s.rows[c.a].end[c.i])
		}
		at += x.rng.IntN(9) - 4
		return min(max(at, 0), n-1)
	}
	switch k := x.rng.IntN(16); {
	case k < 7:
		c.kind = moveBlock
		c.j = place(n + 1)
	case k < 9:
		c.kind = moveBlock
		c.size = 2 + x.rng.IntN(4)
		c.j = place(n + 1)
	case k < 15 || c.a == c.b:
		c.kind = moveSwap
		c.j = place(n)
	default:
		c.kind = moveTails
		c.j = place(n + 1)
	}
}

// listEvery is after how many moves the late lots are listed anew.
const listEvery = 256

// hurry gives a late lot or, as often, one that stands before it in its queue. It gives t where
// none is late.
func (x *search) hurry(t int32) int32 {
	s := x.cur
	if x.listed == 0 || x.moves-x.listed >= listEvery {
		x.listed = x.moves
		x.late = x.late[:0]
		for _, u := range x.free {
			if m := s.mach[u]; s.rows[m].end[s.pos[u]] > x.md.at[m][u].due {
				x.late = append(x.late, u)
			}
		}
	}
	if len(x.late) == 0 {
		return t
	}
	u := x.late[x.rng.IntN(len(x.late))]
	r := &s.rows[s.mach[u]]
	if i := int(s.pos[u]); x.rng.IntN(2) == 0 && i > r.locked {
		return r.seq[r.locked+x.rng.IntN(i-r.locked)]
	}
	return u
}

// anneal walks for the given number of moves with a temperature falling from
// hot to cold (in units of cost). It ends sooner, as cold, where x.steps are looked at
// before: a move in a long queue takes longer.
func (x *search) anneal(ctx context.Context, moves int64, hot, cold float64) {
	if len(x.free) == 0 || moves <= 0 {
		return
	}
	from := x.cur.steps
	x.cur.rough = x.md.n > exhaustive && x.md.old != nil // new plans of 500 on 5 were better by exact prices (docs/scheduler.md)
	defer func() { x.cur.rough = false }()
	temp := hot
	value, best := x.cur.value(), x.best.value()
	var c change
	for k := range moves {
		if k&1023 == 0 {
			if ctx.Err() != nil {
				break
			}
			x.tell()
			gone := float64(k) / float64(moves)
			if x.steps > 0 {
				gone = max(gone, float64(x.cur.steps-from)/float64(x.steps))
			}
			if gone >= 1 {
				break
			}
			temp = hot * math.Pow(cold/hot, gone)
		}
		x.moves++
		x.propose(&c)
		if !x.cur.legal(&c) {
			continue
		}
		most := temp * x.rng.ExpFloat64() // accept with probability exp(−Δ/temp)
		if d := x.cur.price(&c, most); d <= most {
			x.cur.apply(&c)
			value += d
			if value < best-1e-9*math.Abs(best)-1e-12 {
				value = x.cur.value()
				if value < best {
					best = value
					x.best.copyFrom(x.cur)
				}
			}
		}
	}
}

// scale is the mean worsening of a random move of the current plan.
func (x *search) scale(samples int) float64 {
	var c change
	sum, n := 0.0, 0
	for range samples {
		x.moves++
		x.propose(&c)
		if !x.cur.legal(&c) {
			continue
		}
		if d := x.cur.price(&c, math.Inf(1)); d > 0 && !math.IsInf(d, 1) {
			sum += d
			n++
		}
	}
	if n == 0 {
		return 1
	}
	return sum / float64(n)
}
