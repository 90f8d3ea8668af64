package sound

import (
	"cmp"
	"math"
	"slices"

	"needlepace/stitch"
)

// halt is a stop that the design does not know: after stroke last of a passage the
// machine stood still and went on with stroke next, which is last + 1 or earlier.
type halt struct {
	passage    int // of the design
	last, next int // strokes of it
	from, to   int // frames of the coarse path
}

// leastHalt is the shortest stop that is told from a slow turn, in s.
const leastHalt = 0.9

// halts reads the stops off the coarse path.
func (h *hearing) halts() []halt {
	var out []halt
	way := h.path.way
	for f := 0; f < len(way); f++ {
		if !way[f].stopped {
			continue
		}
		g := f
		for g+1 < len(way) && way[g+1].stopped {
			g++
		}
		if g+1 < len(way) && float64(g-f+1)*h.path.every >= leastHalt {
			stop, on := h.path.cells[way[f].cell], h.path.cells[way[g+1].cell]
			p := &h.score.passages[stop.passage]
			last := strokeAt(p, float64(stop.from))
			next := min(strokeAt(p, float64(on.from)), last+1)
			if last >= 0 && last+1 < len(p.at) {
				out = append(out, halt{int(stop.passage), last, max(next, 0), f, g + 1})
			}
		}
		f = g
	}
	return out
}

// strokeAt is the last stroke of a passage not after so many seconds.
func strokeAt(p *passage, t float64) int {
	i, found := slices.BinarySearch(p.at, t)
	if found {
		return i
	}
	return max(i-1, 0)
}

// piece is a stretch of a passage of the design between two stops, as it was
// played: strokes from ≤ i < to.
type piece struct{ passage, from, to int }

// play makes the design as it was sewn: with the stops, and what was sewn again.
// whole is the design, pieces what each passage of the played one is.
func (h *hearing) play(halts []halt) {
	// A jump beside a stop would be a travel.
	sews := func(t halt, i int) bool {
		return h.whole.Records[h.first.passages[t.passage].record[i]].Op == stitch.Sew
	}
	for k := range halts {
		t := &halts[k]
		for t.last > 0 && !sews(*t, t.last) {
			t.last--
		}
		for t.next = min(t.next, t.last+1); t.next > 0 && !sews(*t, t.next); {
			t.next--
		}
	}
	halts = slices.DeleteFunc(halts, func(t halt) bool { return !sews(t, t.last) || !sews(t, t.next) })
	if h.perform(halts); !h.playable() {
		h.perform(nil)
	}
}

// playable reports whether the machine of the law reads the played design as the
// pieces that it was made of.
func (h *hearing) playable() bool {
	h.score = h.law.score(h.design)
	if len(h.score.passages) != len(h.pieces) {
		return false
	}
	for k, p := range h.pieces {
		if len(h.score.passages[k].record) != p.to-p.from {
			return false
		}
	}
	return true
}

// perform is play without a second thought.
func (h *hearing) perform(halts []halt) {
	slices.SortStableFunc(halts, func(a, b halt) int { return cmp.Compare(a.passage, b.passage) })
	h.halted = halts
	d := &stitch.Design{Name: h.whole.Name, Format: h.whole.Format, Threads: h.whole.Threads}
	h.numberOf, h.pieces = h.numberOf[:0], h.pieces[:0]
	number := make([]int, len(h.whole.Records))
	n := 0
	for i, r := range h.whole.Records {
		number[i] = -1
		if r.Op == stitch.Sew {
			number[i] = n
			n++
		}
	}
	add := func(i int) {
		d.Records = append(d.Records, h.whole.Records[i])
		h.numberOf = append(h.numberOf, number[i])
	}
	h.after = h.after[:0]
	next := 0 // record of the whole design
	for k := range h.first.passages {
		p := &h.first.passages[k]
		for ; next < p.record[0]; next++ {
			add(next)
		}
		from := 0
		for _, t := range halts {
			if t.passage != k {
				continue
			}
			for i := from; i <= t.last; i++ {
				add(p.record[i])
			}
			h.pieces = append(h.pieces, piece{k, from, t.last + 1})
			h.after = append(h.after, len(h.pieces))
			d.Records = append(d.Records, stitch.Record{Op: stitch.Stop})
			h.numberOf = append(h.numberOf, -1)
			from = t.next
		}
		for i := from; i < len(p.record); i++ {
			add(p.record[i])
		}
		h.pieces = append(h.pieces, piece{k, from, len(p.record)})
		next = p.record[len(p.record)-1] + 1
	}
	for ; next < len(h.whole.Records); next++ {
		add(next)
	}
	h.design = d
}

// resectioned gives for each played passage the frames' times and offsets.
func (h *hearing) resectioned() (times, offsets [][]float64) {
	times, offsets = make([][]float64, len(h.pieces)), make([][]float64, len(h.pieces))
	for k, p := range h.pieces {
		lo, hi := 0, len(h.path.way)
		for _, t := range h.halted {
			if t.passage != p.passage {
				continue
			}
			if t.last+1 == p.to && t.next != p.from {
				hi = min(hi, t.from)
			}
			if t.next == p.from && t.last+1 != p.to {
				lo = max(lo, t.to)
			}
		}
		start := 0.0
		if p.from > 0 {
			start = h.first.passages[p.passage].at[p.from] - h.score.passages[k].at[0]
		}
		for f := lo; f < hi; f++ {
			v := h.path.way[f]
			if c := &h.path.cells[v.cell]; !v.stopped && c.sews && int(c.passage) == p.passage {
				times[k] = append(times[k], float64(v.frame)*h.path.every)
				offsets[k] = append(offsets[k], float64(c.from)-start)
			}
		}
	}
	return times, offsets
}

// interrupted reports whether played passage k follows a stop of the machine's own.
func (h *hearing) interrupted(k int) bool { return slices.Contains(h.after, k) }

// sortHalts finds after which stroke each stop came and with which the machine
// went on: the strokes that are heard up to the stop, numbered from the passage's
// beginning, and from it on, numbered from its end.
func (h *hearing) sortHalts() {
	if len(h.halted) == 0 {
		return
	}
	const known, most = 45, 26 // strokes from the stop to one whose time is known; that may be more or fewer
	changed := false
	halts := slices.Clone(h.halted)
	q := 0
	for k := range h.pieces {
		if !h.interrupted(k) {
			continue
		}
		t := &halts[q]
		q++
		p := &h.first.passages[t.passage]
		before, after := h.laid[k-1], h.laid[k]
		a, b := h.pieces[k-1], h.pieces[k]
		// The end of what came before.
		anchor := max(a.to-known, a.from)
		at := before.heard[anchor-a.from]
		limit := h.laid[k].heard[0] - 0.3
		best, to := math.Inf(-1), a.to
		for end := max(anchor+2, a.to-most); end <= min(a.to+most, len(p.record)-1); end++ {
			if v := h.readPiece(p.record[max(a.from, anchor-20):end], anchor-max(a.from, anchor-20), at, limit, true); v > best+0.05 {
				best, to = v, end
			}
		}
		// The beginning of what comes after.
		anchor = min(b.from+known, b.to-1)
		at = after.heard[anchor-b.from]
		limit = before.heard[len(before.heard)-1] + 0.3
		best = math.Inf(-1)
		from := b.from
		for begin := max(b.from-most, 0); begin <= min(b.from+most, anchor-2); begin++ {
			v := h.readPiece(p.record[begin:min(b.to, anchor+20)], anchor-begin, at, limit, false)
			if v >= best-0.05 {
				best, from = max(v, best), begin
			}
		}
		from = min(from, to)
		if to != a.to || from != b.from {
			changed = true
			t.last, t.next = to-1, from
		}
	}
	if !changed {
		return
	}
	was := slices.Clone(h.halted)
	old, oldPieces := h.laid, slices.Clone(h.pieces)
	h.play(halts)
	h.score = h.law.score(h.design)
	if len(h.pieces) != len(oldPieces) { // they cannot be played so: as they were
		h.play(was)
		h.score = h.law.score(h.design)
	}
	h.laid = nil
	for k, p := range h.pieces {
		l := &laid{passage: &h.score.passages[k]}
		n := len(l.at)
		l.heard, l.gain, l.want = make([]float64, n), make([]float64, n), make([]float64, n)
		o, was := old[k], oldPieces[k]
		for i := range n {
			j := i + p.from - was.from
			switch {
			case j < 0: // as long before the first as the law says
				l.heard[i] = o.heard[0] - (l.at[min(was.from-p.from, n-1)] - l.at[i])
			case j >= len(o.heard):
				m := len(o.heard) - 1 - (p.from - was.from)
				l.heard[i] = o.heard[len(o.heard)-1] + l.at[i] - l.at[min(max(m, 0), n-1)]
			default:
				l.heard[i], l.gain[i] = o.heard[j], o.gain[j]
			}
		}
		h.laid = append(h.laid, l)
	}
}

// readPiece is what a stretch of records earns on the side of a stop of a stroke
// whose time is known; strokes beyond the limit earn nothing.
func (h *hearing) readPiece(records []int, anchor int, at, limit float64, end bool) float64 {
	d := &stitch.Design{}
	for _, r := range records {
		rec := h.whole.Records[r]
		rec.Op = stitch.Sew
		d.Records = append(d.Records, rec)
	}
	sc := h.law.score(d)
	if len(sc.passages) != 1 || anchor >= len(sc.passages[0].at) {
		return math.Inf(-1)
	}
	p := &sc.passages[0]
	sum := 0.0
	from, to := 0, anchor
	if end {
		from, to = anchor+1, len(p.at)
	}
	for i := from; i < to; i++ {
		x := at + p.at[i] - p.at[anchor]
		t := int(math.Round(x / Step))
		if end && x > limit || !end && x < limit || t < 0 || t >= len(h.wide) {
			sum -= 1
			continue
		}
		sum += float64(h.wide[t])
	}
	return sum
}
