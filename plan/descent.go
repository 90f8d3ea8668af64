package plan

import (
	"context"
	"math"
)

// blockMost is the longest block of lots the exhaustive descent moves as one, and
// blockReach how many places a block of two or more lots may move within its queue:
// among several machines farther moves of blocks hardly ever pay and cost most of the
// time. A single queue with set-ups is kept in order by such moves alone.
const blockMost, blockReach = 8, 8

// blocks are the longest block and its reach for the problem.
func (md *model) blocks() (most, reach int) {
	if md.m == 1 && md.setUp() {
		return 14, md.n
	}
	return blockMost, blockReach
}

// setUp reports whether any lot needs a set-up after another.
func (md *model) setUp() bool {
	for a := range int32(md.n) {
		for b := range int32(md.n) {
			if a != b && md.setup(0, a, b) > 0 {
				return true
			}
		}
	}
	return false
}

// descend moves lots, one after the other, each to its best place (alone, or
// with the lots behind it as a block) or into the best exchange, until no lot
// of the queue has a better place. Lots beside a change join the queue. It
// stops early once limit moves are priced in all.
func (x *search) descend(ctx context.Context, limit int64) {
	for len(x.queue) > 0 && x.moves < limit {
		if ctx.Err() != nil {
			return
		}
		// A random lot of the queue: no order is preferred.
		k := x.rng.IntN(len(x.queue))
		t := x.queue[k]
		x.queue[k] = x.queue[len(x.queue)-1]
		x.queue = x.queue[:len(x.queue)-1]
		x.queued[t] = false
		if c, ok := x.bestOf(t); ok {
			x.apply(&c)
			x.wake(t)
		}
	}
}

// apply makes the move and queues the lots beside its places.
func (x *search) apply(c *change) {
	x.around(c.a, c.i)
	x.around(c.a, c.i+c.size)
	x.around(c.b, c.j)
	x.cur.apply(c)
	x.around(c.a, c.i)
	x.around(c.b, c.j)
	x.around(c.b, c.j+c.size)
}

func (x *search) around(m, i int) {
	q := x.cur.rows[m].seq
	for k := max(i-1, x.cur.rows[m].locked); k <= i && k < len(q); k++ {
		x.wake(q[k])
	}
}

func (x *search) wake(t int32) {
	if !x.queued[t] {
		x.queued[t] = true
		x.queue = append(x.queue, t)
	}
}

func (x *search) wakeAll() {
	for _, t := range x.free {
		x.wake(t)
	}
}

func (x *search) sleepAll() {
	for _, t := range x.queue {
		x.queued[t] = false
	}
	x.queue = x.queue[:0]
}

// bestOf is the best improving move of lot t.
func (x *search) bestOf(t int32) (best change, ok bool) {
	s := x.cur
	a, i := int(s.mach[t]), int(s.pos[t])
	gain := -1e-9 * max(1, math.Abs(s.value())*1e-3)
	try := func(c *change) {
		x.moves++
		if d := s.price(c, gain); d < gain {
			best, gain, ok = *c, d, true
		}
	}
	for _, m := range x.md.fits[t] {
		b := int(m)
		n := len(s.rows[b].seq)
		for j := s.rows[b].locked; j <= n; j++ {
			for size := 1; size <= x.most; size++ {
				if size > 1 && b == a && (j < i-x.reach || j > i+size+x.reach) {
					break
				}
				c := change{kind: moveBlock, a: a, i: i, b: b, j: j, size: size}
				if !s.legal(&c) {
					continue
				}
				try(&c)
			}
			c := change{kind: moveSwap, a: a, i: i, b: b, j: j}
			if s.legal(&c) {
				try(&c)
			}
			if b != a {
				c.kind = moveTails
				if s.legal(&c) {
					try(&c)
				}
			}
		}
	}
	return best, ok
}

// shakeReach is the longest stretch of a queue that a shake exchanges with
// the stretch behind it.
const shakeReach = 8

// shake disturbs the plan in one place, whatever it costs: on a single machine
// two neighbouring stretches of the queue change places most of the time, else
// a few lots move at random, most of them to another machine.
func (x *search) shake() {
	if x.md.m == 1 && x.rng.IntN(4) > 0 {
		x.force(func(c *change) {
			t := x.free[x.rng.IntN(len(x.free))]
			*c = change{kind: moveBlock, i: int(x.cur.pos[t]), size: 1 + x.rng.IntN(shakeReach)}
			c.j = c.i + c.size + 1 + x.rng.IntN(shakeReach)
		})
		return
	}
	for k := 2 + x.rng.IntN(4); k > 0; k-- {
		x.force(x.propose)
	}
}

// force draws until a move is legal and makes it.
func (x *search) force(draw func(*change)) {
	var c change
	x.moves++
	for range 50 {
		draw(&c)
		if x.cur.legal(&c) {
			x.apply(&c)
			return
		}
	}
}

// drift is how much worse (mean share of the cost) a plan may be for the
// iterated search to walk on from it.
const drift = 0.002

// patience is after how many shakes without a better plan a walk is given up.
const patience = 300

// iterate is an iterated local search: shake, descend, go on from what is not
// much worse, and back to the best plan when nothing has come of it for long.
func (x *search) iterate(ctx context.Context, limit int64) {
	x.wakeAll()
	x.descend(ctx, limit)
	if len(x.free) < 2 { // one alone has its best place
		x.keep()
		return
	}
	base := newState(x.md)
	base.copyFrom(x.cur)
	x.keep()
	since, back := 0, 0
	for x.moves < limit && ctx.Err() == nil && x.best.value() > 0 { // no cost is below 0
		x.tell()
		x.shake()
		x.descend(ctx, limit)
		v, b := x.cur.value(), base.value()
		switch {
		case v <= b+1e-9*math.Abs(b)+drift*b*x.rng.ExpFloat64():
			base.copyFrom(x.cur)
			if x.keep() {
				since, back = 0, 0
			}
		case since >= patience:
			// Nothing came of this walk: back to the best plan, and every few
			// times far away from it, to another valley.
			since = 0
			back++
			x.sleepAll()
			x.cur.copyFrom(x.best)
			if back%4 == 0 {
				for k := 0; k < len(x.free); k++ {
					x.force(x.propose)
				}
				x.wakeAll()
				x.descend(ctx, limit)
				x.keep()
			}
			base.copyFrom(x.cur)
		default:
			x.sleepAll()
			x.cur.copyFrom(base)
		}
		since++
	}
}

// keep remembers the current plan if it is the best so far.
func (x *search) keep() bool {
	b := x.best.value()
	if x.cur.value() < b-1e-12-1e-9*math.Abs(b) {
		x.best.copyFrom(x.cur)
		return true
	}
	return false
}
