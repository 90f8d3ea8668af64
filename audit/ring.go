package audit

import (
	"context"
	"slices"

	"needlepace/stitch"
)

// A ring is a line that ends in the hole it began in and is locked at neither
// end: it may begin and end at any of its holes, and looks the same. The needle
// then goes twice into that hole and once into the old one. A locked ring stays:
// its lock stitches could not come along.

func (l *layout) mayStartAnywhere(k int, b build) bool {
	o := &l.objects[k]
	return o.Start == o.End && o.Last-o.First > 3 && l.mayTurn(k, b) && !l.lockedAt(o, false)
}

// around is the hole of a ring of n that is its i-th where it begins at hole r.
func around(r, i, n int) int {
	if i < n-r {
		return r + i
	}
	return r + i - n + 1
}

// startAt lets ring k begin at its hole r.
func (l *layout) startAt(k, r int) {
	o := &l.objects[k]
	n := o.Last - o.First
	rec := l.rec[o.From:o.To]
	rec[0] = stitch.Record{Op: stitch.Sew}
	for i := 1; i < n; i++ {
		a, b := l.holes[o.First+around(r, i-1, n)], l.holes[o.First+around(r, i, n)]
		rec[i] = stitch.Record{DX: int16(b.x - a.x), DY: int16(b.y - a.y), Op: stitch.Sew}
	}
	l.starts[k] = r
}

// rings lets closed lines begin at the hole that is nearest to where the thread
// comes from and goes to, in the order there is.
func (m *mender) rings(_ context.Context, l *layout) error {
	n := len(l.objects)
	var which []int
	for k := 0; n > 1 && n <= mostNodes && k < n; k++ {
		if l.mayStartAnywhere(k, build{explicit: m.explicit(), join: true, jumps: m.TrimJumps}) {
			which = append(which, k)
		}
	}
	if len(which) == 0 {
		return nil
	}
	t := *l
	t.objects, t.rec, t.starts = slices.Clone(l.objects), slices.Clone(l.rec), make([]int, n)
	p := m.orders(&t)
	cost := func(k int) (c float64) {
		if k == 0 {
			c = p.way(stitch.Point{}, t.objects[0].Lead, 0)
		} else {
			c = p.between(&t.objects[k-1], &t.objects[k])
		}
		if k+1 == n {
			return c + p.finish(k)
		}
		return c + p.between(&t.objects[k], &t.objects[k+1])
	}
	count := 0
	for _, k := range which {
		o := &t.objects[k]
		best, least, r := *o, cost(k)-tick, 0
		for i := 1; i < o.Last-o.First-1; i++ {
			h := l.holes[o.First+i]
			at := stitch.Point{X: int(h.x), Y: int(h.y)}
			o.Lead, o.Start, o.End, o.Exit = at, at, at, at
			if c := cost(k); c < least {
				best, least, r = *o, c, i
			}
		}
		if *o = best; r > 0 {
			t.startAt(k, r)
			count++
		}
	}
	if count == 0 {
		return nil
	}
	return m.takeTurned(&t, identity(n), p, Change{Kind: ChangeRing, Count: count})
}
