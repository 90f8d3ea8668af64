package clock

import (
	"slices"
	"sync"

	"needlepace/stitch"
)

// windowLength is how many revolutions are worked on at a time: enough to
// make the look-ahead cheap, few enough to stay in the processor's cache.
const windowLength = 4096

// window is the working memory of a run: bounded, whatever the design.
// A long run is worked through in windows; because no cap more than
// shaft.look revolutions ahead can matter, each window looks that far into
// the next, and the result is the same as in one piece.
type window struct {
	length  int
	slow    int      // revolutions of the run that are slow because the machine is let in gently
	idx     []uint16 // per revolution: its entry in the table of limits
	ceiling []square // per boundary
	// For revolutions the tables do not cover:
	limits []limit
}

// windows are shared by all clocks: whoever tries a thousand laws makes a thousand.
var windows = sync.Pool{New: func() any { return new(window) }}

// window is one that is large enough for this machine; it goes back to windows.
func (c *Clock) window() *window {
	w := windows.Get().(*window)
	w.length, w.slow = max(windowLength, 4*c.shaft.look), 0
	n := w.length + c.shaft.look
	w.idx = slices.Grow(w.idx[:0], n)[:n]
	w.ceiling = slices.Grow(w.ceiling[:0], n+1)[:n+1]
	return w
}

// each makes room for a limit of each revolution.
func (w *window) each() { w.limits = slices.Grow(w.limits[:0], len(w.idx))[:len(w.idx)] }

// upTo is where the window of a run that begins at from ends, of so many revolutions: those that are slow are in windows of their
// own, since no table has them.
func (w *window) upTo(from, of int) int {
	if from < w.slow {
		of = min(of, w.slow)
	}
	return min(from+w.length, of)
}

// sew charges one run of revolutions to its block. first is the index of
// rec[0] in the design, for the trace; at is moved along.
func (c *Clock) sew(rec []stitch.Record, w *window, b *Block, tr *Trace, first int, at *stitch.Point) {
	var u square
	var lagging float64
	before := b.sewing()
	for from, to := 0, 0; from < len(rec); from = to {
		to = w.upTo(from, len(rec))             // what is charged now
		ahead := min(to+c.shaft.look, len(rec)) // what is looked at
		limits := c.fill(rec, from, to, ahead, w, b, at)
		if c.invLag > 0 {
			if from == 0 {
				lagging = min(c.law.creep, limits[w.idx[0]].n)
			}
			var each []float64
			if tr != nil && tr.Control != nil {
				each = tr.Control[first+from : first+to]
			}
			var added float64
			limits, added, lagging = c.lagged(w, limits, to-from, ahead-from, lagging, each)
			b.Parts.Control += added
		}
		idx := w.idx[:ahead-from]
		c.shaft.backward(w.ceiling, idx, limits, ahead == len(rec))
		if from == 0 {
			u = min(c.shaft.creep, w.ceiling[0])
		}
		var seconds []float64
		if tr != nil && tr.Seconds != nil {
			seconds = tr.Seconds[first+from : first+to]
		}
		var lost float64
		lost, u = c.shaft.forward(w.ceiling, idx, limits, to-from, u, seconds)
		b.Parts.Ramps += lost
		if tr != nil {
			tr.sewn(c, rec, first, from, to)
		}
	}
	b.Revolutions += len(rec)
	b.Parts.AtSetSpeed += float64(len(rec)) * c.law.invSet
	if tr != nil && tr.Seconds == nil { // of stages only: the run's time is what was charged
		tr.now += b.sewing() - before
	}
}

// fill finds the limits of revolutions from ≤ i < ahead of a run and charges
// the long-stitch part (and what steps add, and soft start's share of the ramps)
// of i < to.
func (c *Clock) fill(rec []stitch.Record, from, to, ahead int, w *window, b *Block, at *stitch.Point) []limit {
	if c.law.simple && from >= w.slow && c.fillTable(rec[from:to], rec[to:ahead], w, b, at) {
		if steps := c.law.steps; steps != nil {
			for _, k := range w.idx[:to-from] {
				b.Parts.Control += steps[k]
			}
		}
		if from < c.soft {
			// The same caps under the soft-start speed stand in the second
			// half of the table.
			l := c.law
			for i := range min(c.soft, ahead) - from {
				k := w.idx[i]
				if from+i < to {
					b.Parts.Ramps += l.limits[int(k)+l.half].inv - l.limits[k].inv
				}
				w.idx[i] = k + uint16(l.half)
			}
		}
		return c.law.limits
	}
	return c.fillExact(rec, from, to, ahead, w, b, at)
}

// fillTable does fill for the simple law by table. It refuses, having
// changed nothing but w.idx, where a displacement is beyond a signed byte.
func (c *Clock) fillTable(now, then []stitch.Record, w *window, b *Block, at *stitch.Point) bool {
	l := c.law
	var wide, jumps, sumX, sumY int
	var longX, longY float64
	ex, ey := l.overX, l.overY
	ey = ey[:len(ex)]
	idx := w.idx[:len(now)]
	for i := range now {
		r := &now[i]
		k := min(l.rankX[uint8(r.DX)], l.rankY[uint8(r.DY)])
		wide |= int(r.DX+128) | int(r.DY+128)
		sumX += int(r.DX)
		sumY += int(r.DY)
		if r.Op == stitch.Jump {
			jumps++
		}
		idx[i] = k
		longX += ex[k]
		longY += ey[k]
	}
	idx = w.idx[len(now) : len(now)+len(then)]
	for i := range then {
		r := &then[i]
		wide |= int(r.DX+128) | int(r.DY+128)
		idx[i] = min(l.rankX[uint8(r.DX)], l.rankY[uint8(r.DY)])
	}
	if wide&^255 != 0 {
		return false
	}
	b.LongBy.FrameX += longX
	b.LongBy.FrameY += longY
	b.Jumps += jumps
	b.Stitches += len(now) - jumps
	at.X += sumX
	at.Y += sumY
	return true
}

// fillExact does fill revolution by revolution, for any law and any length.
func (c *Clock) fillExact(rec []stitch.Record, from, to, ahead int, w *window, b *Block, at *stitch.Point) []limit {
	w.each()
	steps := c.law.step > 0
	var px, py int
	if from > 0 {
		px, py = int(rec[from-1].DX), int(rec[from-1].DY)
	}
	for i := from; i < ahead; i++ {
		dx, dy := int(rec[i].DX), int(rec[i].DY)
		rev := c.law.cap(dx, dy, px, py)
		px, py = dx, dy
		stepped := rev.inv
		if steps {
			stepped = c.law.stepped(stepped)
		}
		inv := stepped
		if i < c.soft && c.invSoft > inv {
			inv = c.invSoft
		}
		if i < w.slow {
			inv = max(inv, c.invSlow)
		}
		w.idx[i-from] = uint16(i - from)
		w.limits[i-from] = limitAt(inv)
		w.limits[i-from].inv = inv
		if i >= to {
			continue
		}
		at.X += dx
		at.Y += dy
		if rec[i].Op == stitch.Jump {
			b.Jumps++
		} else {
			b.Stitches++
		}
		b.Parts.Ramps += inv - stepped
		if steps {
			b.Parts.Control += stepped - rev.inv
		}
		b.LongBy.charge(&rev, c.law.invSet)
	}
	return w.limits
}
