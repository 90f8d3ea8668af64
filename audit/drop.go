package audit

import (
	"slices"

	"needlepace/stitch"
)

// What may be dropped without a mark. The tiny length and the longest stitch
// that may come of it are in 0.1 mm: below half a millimetre a stitch shares
// its hole with the next, and up to 1 mm, the shortest usable stitch (E. Levy,
// Printwear, Dec 2016), nothing gets longer than a stitch should be at least.
const (
	tinyUnits   = 5
	mergedUnits = 10
	// lockStitches at either end of an object hold the thread and stay.
	lockStitches = 6
)

// dropHoles leaves out stitches that leave no mark: those into the hole the
// needle was just in, and tiny ones on the straight way between their
// neighbours. The first and last stitches of an object, which hold the thread,
// stay; so do stitches beside jumps, since jumps on both sides of a dropped
// stitch could come to stand for a trim. It returns the numbers of the
// stitches dropped.
func (l *layout) dropHoles() ([]stitch.Record, []int) {
	gone := make([]bool, len(l.rec)) // by record
	var dropped []int
	plain := func(k int) bool { // hole k is a stitch right after another
		h := l.holes[k]
		return h.record > 0 && l.rec[h.record].Op == stitch.Sew && l.holes[k-1].record == h.record-1
	}
	for i := range l.objects {
		o := &l.objects[i]
		if o.Bare {
			continue
		}
		from, to := o.First+lockStitches, o.Last-lockStitches
		kept := from - 1 // the last hole before k that stays
		for k := from; k < to; k++ {
			if k < 1 || !plain(k) || !plain(k+1) {
				kept = k
				continue
			}
			a, b, c := l.holes[kept], l.holes[k], l.holes[k+1]
			if b.x == a.x && b.y == a.y || l.straightTiny(a, b, c) {
				gone[b.record] = true
				dropped = append(dropped, k)
				continue
			}
			kept = k
		}
	}
	if len(dropped) == 0 {
		return l.rec, nil
	}
	rec := make([]stitch.Record, 0, len(l.rec))
	dx, dy := 0, 0 // owed to the next stitch
	for i, r := range l.rec {
		if gone[i] {
			dx, dy = dx+int(r.DX), dy+int(r.DY)
			continue
		}
		r.DX, r.DY = r.DX+int16(dx), r.DY+int16(dy)
		dx, dy = 0, 0
		rec = append(rec, r)
	}
	return rec, dropped
}

// straightTiny: b lies on the straight way from a to c, one of the two parts
// is tiny and the whole is short.
func (l *layout) straightTiny(a, b, c hole) bool {
	ux, uy := int64(b.x-a.x), int64(b.y-a.y)
	vx, vy := int64(c.x-b.x), int64(c.y-b.y)
	if ux*vy != uy*vx || ux*vx+uy*vy < 0 {
		return false
	}
	u, v := ux*ux+uy*uy, vx*vx+vy*vy
	wx, wy := ux+vx, uy+vy
	return min(u, v) < tinyUnits*tinyUnits && wx*wx+wy*wy <= mergedUnits*mergedUnits
}

// ways calls f for every run of consecutive jumps, records i ≤ k < i+n: whether
// it is a trim on this machine (cut), whether it leaves the thread uncut
// (uncut), and whether it belongs to a joint that is held.
func (l *layout) ways(f func(i, n int, cut, uncut, held bool)) {
	thread, joint := false, 0
	for i := 0; i < len(l.rec); {
		switch l.rec[i].Op {
		case stitch.Trim, stitch.ColourStop:
			thread = false
		case stitch.Sew, stitch.Sequin:
			thread = true
		}
		if l.rec[i].Op != stitch.Jump {
			i++
			continue
		}
		n := 1
		for i+n < len(l.rec) && l.rec[i+n].Op == stitch.Jump {
			n++
		}
		for joint < len(l.joints)-1 && l.joints[joint].to <= i {
			joint++
		}
		cut := thread && n >= l.trimAfter
		f(i, n, cut, thread && !cut, l.joints[joint].held && i >= l.joints[joint].from)
		if cut {
			thread = false
		}
		i += n
	}
}

// straighten writes every way of jumps anew in as few equal jumps as do, a trim
// in least or more, with the same cuts, and says how many ways that changed.
// The ways to and from a stop that stays are left, and those of fewest jumps or
// more on which this machine leaves the thread: another may cut it there.
func (l *layout) straighten(least, fewest int) ([]stitch.Record, int) {
	rec := make([]stitch.Record, 0, len(l.rec))
	changed, done := 0, 0
	l.ways(func(i, n int, cut, uncut, held bool) {
		if held || uncut && n >= fewest {
			return
		}
		d := stitch.Point{}
		for _, r := range l.rec[i : i+n] {
			d.X += int(r.DX)
			d.Y += int(r.DY)
		}
		need := jumpsFor(d.X, d.Y)
		if cut {
			need = max(need, least, l.trimAfter)
		}
		if need >= n {
			return
		}
		changed++
		rec = append(rec, l.rec[done:i]...)
		writer{rec: &rec}.way(d, need)
		done = i + n
	})
	return append(rec, l.rec[done:]...), changed
}

// usualTrim is how many jumps nine in ten of the design's trims have, or more; 0
// if no trim is a run of jumps. It is never fewer than the shortest has: a machine
// that wants more than the machine at hand cuts after a mend where it cut before.
func (l *layout) usualTrim() int {
	var jumps []int
	l.ways(func(_, n int, cut, _, _ bool) {
		if cut {
			jumps = append(jumps, n)
		}
	})
	if len(jumps) == 0 {
		return 0
	}
	slices.Sort(jumps)
	return jumps[len(jumps)/10]
}

// lengthen gives every trim that is a run of jumps at least so many, on the same
// path, and says how many got more.
func (l *layout) lengthen(least int) ([]stitch.Record, int) {
	rec := make([]stitch.Record, 0, len(l.rec))
	changed, done := 0, 0
	l.ways(func(i, n int, cut, _, _ bool) {
		if !cut || n >= least {
			return
		}
		changed++
		rec = append(rec, l.rec[done:i]...)
		rec = append(rec, inSteps(l.rec[i:i+n], least)...)
		done = i + n
	})
	return append(rec, l.rec[done:]...), changed
}

// inSteps cuts the longest jumps in two until there are enough. Where all are
// too short for that the frame goes out and back by a hair, since some readers
// drop jumps that do not move.
func inSteps(way []stitch.Record, enough int) []stitch.Record {
	way = slices.Clone(way)
	long := func(r stitch.Record) int { return max(int(r.DX), -int(r.DX), int(r.DY), -int(r.DY)) }
	for len(way) < enough {
		k := 0
		for i := range way {
			if long(way[i]) > long(way[k]) {
				k = i
			}
		}
		r := way[k]
		if long(r) < 2 {
			way = append(way, stitch.Record{DX: 2, Op: stitch.Jump}, stitch.Record{DX: -2, Op: stitch.Jump})
			continue
		}
		half := stitch.Record{DX: r.DX / 2, DY: r.DY / 2, Op: stitch.Jump}
		way[k] = half
		way = slices.Insert(way, k+1, stitch.Record{DX: r.DX - half.DX, DY: r.DY - half.DY, Op: stitch.Jump})
	}
	return way
}
