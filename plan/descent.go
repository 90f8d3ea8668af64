package plan

import (
	"context"
	"math"
)

// blockMost is the longest block of lots the exhaustive descent moves as one.
const blockMost = 3

// descend moves lots, one after the other in random order, each to its best
// place (alone, or with the lots behind it as a block) or into the best
// exchange, until no lot has a better place. It stops early once limit moves
// are priced in all.
func (x *search) descend(ctx context.Context, limit int64) {
	s := x.cur
	n := len(x.free)
	order := make([]int32, n)
	for i, k := range x.rng.Perm(n) {
		order[i] = x.free[k]
	}
	for idle, k := 0, 0; idle < n && x.moves < limit; k++ {
		if ctx.Err() != nil {
			return
		}
		if c, ok := x.bestOf(order[k%n]); ok {
			s.apply(&c)
			idle = 0
		} else {
			idle++
		}
	}
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
			for size := 1; size <= blockMost; size++ {
				c := change{kind: moveBlock, a: a, i: i, b: b, j: j, size: size}
				if !s.legal(&c) {
					continue
				}
				// A block of one that passes a block of two is that block moved.
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

// shake makes a few random moves whatever they cost.
func (x *search) shake(count int) {
	var c change
	for k := 0; k < count; {
		x.moves++
		k++
		for tries := 0; tries < 50; tries++ {
			x.propose(&c)
			if x.cur.legal(&c) {
				x.cur.apply(&c)
				break
			}
		}
	}
}

// iterate is an iterated local search: shake, descend, keep what is no worse,
// and go back to the best plan when nothing has come of it for long.
func (x *search) iterate(ctx context.Context, limit int64) {
	if len(x.free) < 2 {
		return
	}
	x.descend(ctx, limit)
	base := newState(x.md)
	base.copyFrom(x.cur)
	x.keep()
	since := 0
	for x.moves < limit && ctx.Err() == nil {
		x.shake(2 + x.rng.IntN(4))
		x.descend(ctx, limit)
		v, b := x.cur.value(), base.value()
		switch {
		case v <= b+1e-9*math.Abs(b):
			base.copyFrom(x.cur)
			if x.keep() {
				since = 0
			}
		case since > 0 && since%40 == 0:
			// Walk on from here: another valley.
			base.copyFrom(x.cur)
		case since >= 400:
			base.copyFrom(x.best)
			x.cur.copyFrom(x.best)
			since = 0
		default:
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
