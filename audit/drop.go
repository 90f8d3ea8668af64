package audit

import (
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

// straighten writes every way of jumps anew in as few equal jumps as do, with
// the same cuts, and says how many ways that changed.
func (l *layout) straighten(explicit bool) ([]stitch.Record, int) {
	rec := make([]stitch.Record, 0, len(l.rec))
	changed := 0
	thread := false // is thread in the fabric?
	for i := 0; i < len(l.rec); {
		r := l.rec[i]
		if r.Op != stitch.Jump {
			switch r.Op {
			case stitch.Trim, stitch.ColourStop:
				thread = false
			case stitch.Sew, stitch.Sequin:
				thread = true
			}
			rec = append(rec, r)
			i++
			continue
		}
		n, d := 0, stitch.Point{}
		for i+n < len(l.rec) && l.rec[i+n].Op == stitch.Jump {
			d.X += int(l.rec[i+n].DX)
			d.Y += int(l.rec[i+n].DY)
			n++
		}
		need := jumpsFor(d.X, d.Y)
		switch {
		case thread && n >= l.trimAfter:
			need = max(need, trimJumps, l.trimAfter)
			thread = false
		case thread && n >= trimJumps:
			need = n // no trim on this machine, but one on others: as it is
		}
		if need < n {
			changed++
			writer{&rec, l.trimAfter, explicit}.way(d, need)
		} else {
			rec = append(rec, l.rec[i:i+n]...)
		}
		i += n
	}
	return rec, changed
}
