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

// The strokes either side of a stop that are read to place it.
const (
	stopKnown = 45  // from the stop to one whose time is known, at the most
	stopFar   = 80  // that are read on the other side of it, at the most
	stopMost  = 26  // that may be more or fewer than was thought
	sewnAgain = 0.5 // what it must earn that stitches were sewn again
)

// side is a piece on one side of a stop as it is read: a stroke of its passage whose
// time is known, and how far on the other side of it the strokes are read too. Where
// that is to the piece's own end, its numbers may be wrong by a few.
type side struct {
	known, far int
	at, limit  float64
	shifts     []int
}

// whole reports whether a side is read to the piece's own end.
func (s *side) whole() bool { return len(s.shifts) > 1 }

// earns is the most that a side earns where the piece ends, or begins, at a stroke,
// and the shift of its numbers with which it does.
func (h *hearing) earns(s *side, records []int, end int, before bool) (best float64, shift int) {
	best = math.Inf(-1)
	for _, z := range s.shifts {
		known := s.known + z
		from, to := s.far, end
		if !before {
			from, to = end, s.far
		}
		if known <= from || known >= to-1 || from < 0 || to > len(records) {
			continue
		}
		if v := h.readPiece(s, records[from:to], known-from, before); v > best {
			best, shift = v, z
		}
	}
	return best, shift
}

var shiftsTried, noShift = []int{0, -1, 1, -2, 2, -3, 3, -4, 4, -5, 5, -6, 6, -7, 7}, []int{0}

// sortHalts finds after which stroke each stop came and with which the machine
// went on: the strokes that are heard up to the stop, numbered from the passage's
// beginning, and from it on, numbered from its end.
func (h *hearing) sortHalts() {
	halts, was := slices.Clone(h.halted), slices.Clone(h.pieces)
	changed, q := false, 0
	for k := range h.pieces {
		if !h.interrupted(k) {
			continue
		}
		t := &halts[q]
		q++
		records := h.first.passages[t.passage].record
		before, after := h.laid[k-1], h.laid[k]
		a, b := h.pieces[k-1], h.pieces[k]
		i, j := len(before.at)-1-min(stopKnown, len(before.at)/2), min(stopKnown, len(after.at)/2)
		limit := gap(before, after, i, j)
		left := side{a.from + i, max(a.from, a.from+i-stopFar), before.heard[i], limit, noShift}
		if left.far == a.from && !h.interrupted(k-1) {
			left.shifts = shiftsTried
		}
		right := side{b.from + j, min(b.to, b.from+j+stopFar), after.heard[j], limit, noShift}
		if right.far == b.to && !h.interrupted(k+1) {
			right.shifts = shiftsTried
		}
		var ends, begins [2*stopMost + 1]float64
		var moves [2][2*stopMost + 1]int
		for by := range ends {
			ends[by], moves[0][by] = h.earns(&left, records, a.to+by-stopMost, true)
			begins[by], moves[1][by] = h.earns(&right, records, b.from+by-stopMost, false)
		}
		best, x, y := math.Inf(-1), stopMost, stopMost
		for e, earned := range ends {
			for g, v := range begins {
				end, begin := a.to+e-stopMost, b.from+g-stopMost
				if v += earned; begin < end {
					v -= sewnAgain
				}
				if begin <= end && v > best {
					best, x, y = v, e, g
				}
			}
		}
		if moved := [2]int{moves[0][x], moves[1][y]}; x != stopMost || y != stopMost || moved != [2]int{} {
			changed = true
			t.last, t.next = a.to+x-stopMost-1, b.from+y-stopMost
			was[k-1].from += moved[0]
			was[k].from += moved[1]
		}
	}
	if changed {
		h.replay(halts, was)
	}
}

// settle looks at what lies between two stops of one passage: where its stitches are
// alike, which they are says only that a stop after which none is sewn again is more
// likely than two after which some are.
func (h *hearing) settle(by drifting) *hearing {
	best := h
	for q := 0; q+1 < len(h.halted); q++ {
		a, b := best.halted[q], best.halted[q+1]
		if a.passage != b.passage {
			continue
		}
		k := best.after[q]
		var other *hearing
		for _, x := range []int{a.last + 1 - a.next, b.next - 1 - b.last} {
			if x == 0 || a.next+x < 0 || b.last+x >= len(h.first.passages[a.passage].at) {
				continue
			}
			halts, was := slices.Clone(best.halted), slices.Clone(best.pieces)
			halts[q].next += x
			halts[q+1].last += x
			was[k].from += x
			if try := best.again(); try.replay(halts, was) {
				if now := try.lay(by); other == nil || now.earned > other.earned {
					other = now
				}
			}
		}
		if other != nil && other.earned > best.earned-sewnAgain {
			best = other
		}
	}
	return best
}

// replay plays the design with other stops; what was heard stays where it was, by
// the strokes of the passages that it was taken for. Where they cannot be played so,
// all stays as it was.
func (h *hearing) replay(halts []halt, was []piece) bool {
	before := slices.Clone(h.halted)
	old := h.laid
	h.play(slices.Clone(halts))
	h.score = h.law.score(h.design)
	if len(h.pieces) != len(was) {
		h.play(before)
		h.score = h.law.score(h.design)
		if len(h.pieces) == len(old) {
			h.relay()
		}
		return false
	}
	h.laid = nil
	for k, p := range h.pieces {
		l := &laid{passage: &h.score.passages[k]}
		n := len(l.at)
		l.heard, l.gain, l.want = make([]float64, n), make([]float64, n), make([]float64, n)
		o, was := old[k], was[k]
		if p == was {
			l.score, l.drifted, l.lies, l.liesAt = o.score, o.drifted, o.lies, o.liesAt
		}
		for i := range n {
			j := i + p.from - was.from
			switch {
			case j < 0: // as long before the first as the law says
				l.heard[i] = o.heard[0] - (l.at[min(max(was.from-p.from, 0), n-1)] - l.at[i])
			case j >= len(o.heard):
				m := len(o.heard) - 1 - (p.from - was.from)
				l.heard[i] = o.heard[len(o.heard)-1] + l.at[i] - l.at[min(max(m, 0), n-1)]
			default:
				l.heard[i], l.gain[i] = o.heard[j], o.gain[j]
			}
		}
		h.laid = append(h.laid, l)
	}
	return true
}

// gap is the middle of the longest time without a clear stroke from stroke i of one
// passage to stroke j of the next.
func gap(before, after *laid, i, j int) float64 {
	last, longest, mid := before.heard[i], 0.0, (before.heard[i]+after.heard[j])/2
	hear := func(t, gain float64) {
		if gain > clearly || t == after.heard[j] {
			if t-last > longest {
				longest, mid = t-last, (last+t)/2
			}
			last = t
		}
	}
	for k := i + 1; k < len(before.at); k++ {
		hear(before.heard[k], before.gain[k])
	}
	for k := range j + 1 {
		hear(after.heard[k], after.gain[k])
	}
	return mid
}

// readPiece is what a stretch of records earns by a stroke whose time is known; those
// beyond the limit, on the side of the stop, lose.
func (h *hearing) readPiece(s *side, records []int, anchor int, before bool) float64 {
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
	l := laid{passage: &sc.passages[0]}
	beyond := 0
	for _, t := range l.at {
		t += s.at - l.at[anchor]
		l.want = append(l.want, t)
		if before && t > s.limit || !before && t < s.limit {
			beyond++
		}
	}
	by := drifting{reach: readReach, step: 0.1, ends: 0.1}
	if s.whole() {
		by.reach = wholeReach
	}
	l.follow(h.wide, h.o, by)
	return l.score - chance*float64(len(l.at)) - float64(beyond)
}

// How far, in s, a piece beside a stop may be off where a stroke's time puts it: one
// that is read to its own end cannot be taken for itself a stroke later.
const (
	readReach  = 0.06
	wholeReach = 0.15
)

// chance is what a stroke beside a stop may earn where nothing is.
const chance = 0.2
