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
			if last+1 < len(p.at) || next <= last { // a thread may break at a run's last stitch, too
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
		for q, t := range h.halted {
			switch k {
			case h.after[q] - 1:
				hi = t.from
			case h.after[q]:
				lo = t.to
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

// How the pieces of a passage are read that lie between its ends and the machine's own stops.
const (
	stopKnown  = 45  // strokes from a piece's end to one whose time is known, at the most
	stopMost   = 26  // strokes that may be more or fewer at a stop than was thought
	mostMoved  = 20  // numbers that a piece's strokes may be off by
	stopTail   = 40  // strokes beyond what is read that are reckoned: the shaft rises or slows in them
	midStrokes = 500 // of a long piece's middle that are read next to either end
	midEarns   = 8   // what other numbers of a piece may earn less than the best and be tried
	sewnAgain  = 0.5 // what it must earn that stitches were sewn again
	movedBy    = 0.01
	shortPiece = 40 // strokes, in which the shaft may not reach its speed
	shortMore  = 6  // strokes that a short piece may have more or fewer at either end
)

// move is a piece's strokes with all numbers so many more, and what its middle and its ends earn
// so: by, from −stopMost to stopMost, how many strokes fewer there are at its beginning and more
// at its end than was thought.
type move struct {
	by           int
	mid          float64
	begins, ends [2*stopMost + 1]float64
}

// moves are the numbers that a piece's strokes may have. The middle of a passage is by the law
// as the whole passage is sewn.
func (h *hearing) moves(k int, whole *passage) []move {
	p, l := h.pieces[k], h.laid[k]
	records := h.first.passages[p.passage].record
	n := len(l.at)
	if n <= shortPiece {
		return h.shortMoves(k)
	}
	i := min(stopKnown, n/2)
	j := max(n-1-stopKnown, i)
	var all []move
	for z := -mostMoved; z <= mostMoved; z++ {
		a, b := p.from+i+z, p.from+j+z
		if a < 0 || b >= len(records) {
			continue
		}
		m := move{by: z}
		for _, part := range middle(i, j) {
			x, y := p.from+part[0]+z, p.from+part[1]+z
			m.mid += h.reads(whole.at[x:y+1], whole.number[x:y+1], 0, h.known(l, part[0]), midReach)
		}
		m.mid -= movedBy * math.Abs(float64(z))
		all = append(all, m)
	}
	all = likely(all, func(m *move) float64 { return m.mid })
	if len(all) == 0 {
		return nil
	}
	for m := range all {
		for g := range all[m].begins {
			all[m].begins[g], all[m].ends[g] = math.Inf(-1), math.Inf(-1)
		}
	}
	first, last := !h.interrupted(k), !h.interrupted(k+1)
	// What is numbered from the passage's own end is likely to have few numbers: that end first.
	if last {
		h.readEnds(k, j, all)
		all = likely(all, func(m *move) float64 { return m.mid + m.ends[stopMost] })
	}
	h.readBegins(k, i, all)
	if first {
		all = likely(all, func(m *move) float64 { return m.mid + m.begins[stopMost] })
	}
	if !last {
		h.readEnds(k, j, all)
	}
	return all
}

// shortMoves are moves of a piece in which the shaft still rises when it must slow: how its strokes
// follow each other depends on both its ends, so each of them is read with each other. A move has one
// beginning.
func (h *hearing) shortMoves(k int) []move {
	p, l := h.pieces[k], h.laid[k]
	records := h.first.passages[p.passage].record
	first, last := !h.interrupted(k), !h.interrupted(k+1)
	i := l.middleHeard()
	at := h.known(l, i)
	from, to := math.Inf(-1), math.Inf(1)
	if before := k - 1; !first {
		from = gap(h.laid[before], l, len(h.laid[before].at)-1-min(stopKnown, len(h.laid[before].at)/2), i)
	}
	if !last {
		to = gap(l, h.laid[k+1], i, min(stopKnown, len(h.laid[k+1].at)/2))
	}
	var all []move
	for z := -mostMoved; z <= mostMoved; z++ {
		for more := -shortMore; more <= shortMore; more++ {
			m := move{by: z, mid: -movedBy * math.Abs(float64(z))}
			for g := range m.begins {
				m.begins[g], m.ends[g] = math.Inf(-1), math.Inf(-1)
			}
			b, g := p.from+z-more, stopMost-more
			if first {
				if b, g = 0, stopMost; p.from+z-more != 0 {
					continue
				}
			}
			if b < 0 {
				continue
			}
			m.begins[g] = 0
			read := false
			for longer := -shortMore; longer <= shortMore; longer++ {
				e, g := p.to+z+longer, stopMost+longer
				if last {
					if g = stopMost; e != len(records) {
						continue
					}
				}
				a := p.from + i + z - b
				if e > len(records) || a < 0 || a >= e-b {
					continue
				}
				sc := h.stretch(records[b:e])
				if sc == nil {
					continue
				}
				v := h.reads(sc.at, sc.number, a, at, endReach) - chance*float64(e-b)
				for _, t := range sc.at {
					if t += at - sc.at[a]; t < from || t > to {
						v--
					}
				}
				m.ends[g], read = v, true
			}
			if read {
				all = append(all, m)
			}
		}
	}
	return all
}

// middleHeard is the middle one of a piece's strokes that are heard.
func (l *laid) middleHeard() int {
	var all []int
	for i, g := range l.gain {
		if g > clearly {
			all = append(all, i)
		}
	}
	if len(all) == 0 {
		return len(l.at) / 2
	}
	return all[len(all)/2]
}

// likely are the moves that earn nearly as much as the best.
func likely(all []move, earn func(*move) float64) []move {
	best := math.Inf(-1)
	for m := range all {
		best = max(best, earn(&all[m]))
	}
	return slices.DeleteFunc(all, func(m move) bool { return !(earn(&m) >= best-midEarns) })
}

func span(all []move) (lo, hi int) {
	lo, hi = all[0].by, all[0].by
	for _, m := range all {
		lo, hi = min(lo, m.by), max(hi, m.by)
	}
	return lo, hi
}

// readBegins reads the beginnings of played passage k by moves, where stroke i's time is known.
func (h *hearing) readBegins(k, i int, all []move) {
	p, l := h.pieces[k], h.laid[k]
	records := h.first.passages[p.passage].record
	lo, hi := span(all)
	first, limit := !h.interrupted(k), math.Inf(-1)
	if !first {
		before := h.laid[k-1]
		limit = gap(before, l, len(before.at)-1-min(stopKnown, len(before.at)/2), i)
	}
	for b := max(0, p.from+lo-stopMost); b <= p.from+hi+stopMost && b < len(records); b++ {
		if first && b > 0 {
			break
		}
		sc := h.stretch(records[b:min(len(records), p.from+i+hi+stopTail)])
		for m := range all {
			g, a := b-p.from-all[m].by+stopMost, p.from+i+all[m].by-b
			if first {
				g = stopMost
			}
			if sc == nil || g < 0 || g > 2*stopMost || a < 0 || a >= len(sc.at) {
				continue
			}
			all[m].begins[g] = h.readsTo(sc.at[:a+1], sc.number[:a+1], a, h.known(l, i), limit, false)
		}
	}
}

// readEnds reads the ends of played passage k by moves, where stroke j's time is known.
func (h *hearing) readEnds(k, j int, all []move) {
	p, l := h.pieces[k], h.laid[k]
	records := h.first.passages[p.passage].record
	lo, hi := span(all)
	last, limit := !h.interrupted(k+1), math.Inf(1)
	if !last {
		after := h.laid[k+1]
		limit = gap(l, after, j, min(stopKnown, len(after.at)/2))
	}
	start := max(0, p.from+j+lo-stopTail)
	for e := min(len(records), p.to+hi+stopMost); e >= p.to+lo-stopMost && e > start; e-- {
		if last && e < len(records) {
			break
		}
		sc := h.stretch(records[start:e])
		for m := range all {
			g, a := e-p.to-all[m].by+stopMost, p.from+j+all[m].by-start
			if last {
				g = stopMost
			}
			if sc == nil || g < 0 || g > 2*stopMost || a < 0 || a >= len(sc.at) {
				continue
			}
			all[m].ends[g] = h.readsTo(sc.at[a:], sc.number[a:], 0, h.known(l, j), limit, true)
		}
	}
}

// known is when a stroke was that others are reckoned from: where it lies, or at the clear
// pulse that is nearest, for a short piece may lie by numbers that are none of its own.
func (h *hearing) known(l *laid, i int) float64 {
	if l.gain[i] > clearly {
		return l.heard[i]
	}
	at := int(math.Round(l.heard[i] / Step))
	for d := range int(l.turn[i] / Step) {
		for _, t := range []int{at - d, at + d} {
			if t > 0 && t+1 < len(h.o) && h.o[t] > clearly && h.o[t] >= h.o[t-1] && h.o[t] > h.o[t+1] {
				return peakAt(h.o, t) * Step
			}
		}
	}
	return l.heard[i]
}

// middle are the strokes of a piece that are read between the two i ≤ j whose times are known:
// of a long one those next to its ends.
func middle(i, j int) [][2]int {
	switch {
	case j <= i:
		return nil
	case j-i < 2*midStrokes:
		return [][2]int{{i, j}}
	}
	return [][2]int{{i, i + midStrokes}, {j - midStrokes, j}}
}

// How far, in s, strokes may be off where a stroke's time puts them: at a piece's end and in its
// middle.
const (
	endReach = 0.15
	midReach = 0.3
)

// chance is what a stroke beside a stop may earn where nothing is.
const chance = 0.2

// stretch is records of a passage sewn by the law from a stop to a stop; nil where that is not
// one passage.
func (h *hearing) stretch(records []int) *passage {
	d := &stitch.Design{}
	for _, r := range records {
		rec := h.whole.Records[r]
		rec.Op = stitch.Sew
		d.Records = append(d.Records, rec)
	}
	sc := h.law.score(d)
	if len(sc.passages) != 1 || len(sc.passages[0].at) != len(records) {
		return nil
	}
	return &sc.passages[0]
}

// reads is what strokes earn by the law where one's time is known: the whole row cannot be taken
// for itself a stroke later.
func (h *hearing) reads(at []float64, number []int, known int, heard, reach float64) float64 {
	l := laid{passage: &passage{at: at, number: number}}
	for _, t := range at {
		l.want = append(l.want, t-at[known]+heard)
	}
	l.follow(h.wide, h.o, drifting{reach: reach, step: 0.1, ends: 0.1, known: known + 1})
	return l.score - h.hush*float64(h.silent(&l))
}

// readsTo is reads up to a stop: strokes beyond the limit, on its side, lose.
func (h *hearing) readsTo(at []float64, number []int, known int, heard, limit float64, ends bool) float64 {
	beyond := 0
	for _, t := range at {
		if t += heard - at[known]; ends && t > limit || !ends && t < limit {
			beyond++
		}
	}
	return h.reads(at, number, known, heard, endReach) - chance*float64(len(at)) - float64(beyond)
}

// sortHalts finds the numbers of the strokes between the machine's own stops, after which
// stroke each stop came and with which the machine went on: all pieces of a passage at
// once, by what their beginnings, middles and ends earn (dynamic programming over pieces and
// the stroke that each ends with). Where they are too many to be believed there is
// nothing to sort before some of them are gone.
func (h *hearing) sortHalts() {
	if h.room() < 0 {
		return
	}
	halts, was := slices.Clone(h.halted), slices.Clone(h.pieces)
	changed, q := false, 0
	h.eachStopped(func(k int, pieces []piece, whole *passage) {
		found, _ := sortPieces(h.movesOf(k, pieces, whole), pieces, len(whole.at))
		for i, f := range found {
			was[k+i].from += f.moved
			if i > 0 {
				t := &halts[q+i-1]
				end, begin := found[i-1].to, f.from
				changed = changed || f.moved != 0 || found[i-1].moved != 0 || t.last != end-1 || t.next != begin
				t.last, t.next = end-1, begin
			}
		}
		q += len(pieces) - 1
	})
	if changed {
		h.replay(halts, was)
	}
}

// eachStopped tells the pieces of each passage in which the machine stopped by itself, the
// first of which is played passage k, and the passage as it is sewn without a stop.
func (h *hearing) eachStopped(tell func(k int, pieces []piece, whole *passage)) {
	if len(h.halted) == 0 {
		return
	}
	whole := h.first.by(h.law)
	for k := 0; k < len(h.pieces); k++ {
		z := k + 1
		for z < len(h.pieces) && h.interrupted(z) {
			z++
		}
		if z > k+1 {
			tell(k, h.pieces[k:z], &whole.passages[h.pieces[k].passage])
		}
		k = z - 1
	}
}

func (h *hearing) movesOf(k int, pieces []piece, whole *passage) (all [][]move) {
	for i := range pieces {
		all = append(all, h.moves(k+i, whole))
	}
	return all
}

// sorted is where a piece begins and ends, and how many more its strokes' numbers are than
// was thought.
type sorted struct{ from, to, moved int }

// sortPieces is sortHalts for the pieces of one passage of n strokes, and what that earns; nil
// where they cannot be read.
func sortPieces(all [][]move, pieces []piece, n int) ([]sorted, float64) {
	type step struct {
		piece sorted
		last  int // where the piece before ends
	}
	best := make([]float64, n+1) // by where the piece ends
	var steps [][]step
	for i, p := range pieces {
		// What is earned at best before a piece that begins at a stroke, and where the piece before ends.
		before, from := make([]float64, n+1), make([]int, n+1)
		if i > 0 {
			most, at := math.Inf(-1), 0
			for b := n; b >= 0; b-- {
				before[b], from[b] = best[b], b
				if most-sewnAgain > best[b] {
					before[b], from[b] = most-sewnAgain, at
				}
				if best[b] > most {
					most, at = best[b], b
				}
			}
		}
		now, row := make([]float64, n+1), make([]step, n+1)
		for e := range now {
			now[e] = math.Inf(-1)
		}
		for m := range all[i] {
			m := &all[i][m]
			most, begin := math.Inf(-1), 0
			for g, v := range m.begins {
				b := p.from + m.by + g - stopMost
				if i == 0 {
					b = 0
				}
				if b < 0 || b > n {
					continue
				}
				if v += before[b]; v > most {
					most, begin = v, b
				}
			}
			for g, v := range m.ends {
				e := p.to + m.by + g - stopMost
				if i == len(pieces)-1 {
					e = n
				}
				if e <= begin || e > n {
					continue
				}
				if v += most + m.mid; v > now[e] {
					now[e], row[e] = v, step{sorted{begin, e, m.by}, from[begin]}
				}
			}
		}
		best, steps = now, append(steps, row)
	}
	if math.IsInf(best[n], -1) {
		return nil, best[n]
	}
	out := make([]sorted, len(pieces))
	e := n
	for i := len(pieces) - 1; i >= 0; i-- {
		out[i] = steps[i][e].piece
		e = steps[i][e].last
	}
	return out, best[n]
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
