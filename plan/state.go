package plan

import (
	"math"
)

// row is one machine's queue with what is needed to price a change of it from
// any place on.
type row struct {
	seq    []int32
	end    []float64 // working seconds at the end of lot i
	stops  []stop    // lot i; one more: after the last
	locked int       // lots at the head that are running
	finish float64   // s: wall end of the last lot
}

// stop is a lot in its queue: all that pricing a change reads of it stands together.
type stop struct {
	entry
	weight, risk float64 // of the lot
	set          float64 // set-up in s, behind the lot before it
	fixed        float64 // cost whatever its end
	charge       float64 // and for having been moved, where the lots before it are those of the queue
	calm         float64 // up to this end none of its cost hangs on it
	lot          int32

	// of the lots from this one on
	rigid uint8   // whether they can be shifted as one (shifts, absorbs, rigid)
	last  int32   // rank of the last lot before them that the plan before had on this machine too
	cost  float64 // cost of the lots before
	own   float64 // what of the cost of this one hangs on its end: lateness, risk, a missed start
	risky float64 // that of all from this one on
	up    float64 // they may all end this much later without another being late
	down  float64 // and this much earlier without another being in time
	lateW float64 // weights of the late ones
	fall  float64 // what a second sooner saves on them, about (see slope)
	rise  float64 // what a second later costs on those before the first that waits for its goods, about
}

// How the lots from a place on behave when the lot before them ends later or
// earlier, as long as none changes between late and in time.
const (
	shifts  = iota // all by the same time
	absorbs        // by that time or less: some wait for goods; none is late
	rigid          // price them one by one
)

// state is a complete plan under search.
type state struct {
	md   *model
	rows []row
	mach []int32   // lot → machine
	pos  []int32   // lot → place
	done []float64 // lot of a job of several lots → its end in s
	odds []float64 // and its chance to be late

	single float64 // cost of all rows, lateness of jobs of several lots apart
	multi  []float64
	sum    float64   // of multi
	gain   []float64 // machine: cost of the jobs of several lots that have one there
	span   float64   // make-span in s

	// scratch of the move being priced
	stamp   []int32
	try     []float64
	tryOdds []float64
	round   int32
	touched []int32
	exact   bool    // price every row to its end
	loose   bool    // a row's end is only known to be no later than given
	spared  float64 // of a rough price: what jobs of several lots could at most save by lots looked at so far
	rough   bool    // give a move up where by the slopes of its queues it is too dear (see doubt)
	steps   int64   // lots that were looked at to price moves
}

// segs is a queue's tail in pieces. A piece of the machine's own queue is known by its place there.
type segs struct {
	s [5]seg
	n int
}

type seg struct {
	lots []int32
	own  int // place of the first in the queue of the machine priced; −1: they stand elsewhere
}

// own adds lots from to before to of the queue of the machine priced.
func (g *segs) own(q []int32, from, to int) {
	if from < to {
		g.s[g.n] = seg{q[from:to], from}
		g.n++
	}
}

// other adds lots that stand elsewhere.
func (g *segs) other(lots []int32) {
	if len(lots) > 0 {
		g.s[g.n] = seg{lots, -1}
		g.n++
	}
}

func newState(md *model) *state {
	s := &state{
		md: md, rows: make([]row, md.m),
		mach: make([]int32, md.n), pos: make([]int32, md.n), done: make([]float64, md.n),
		odds: make([]float64, md.n), tryOdds: make([]float64, md.n),
		multi: make([]float64, len(md.orders)), gain: make([]float64, md.m),
		stamp: make([]int32, md.n), try: make([]float64, md.n),
	}
	for m := range s.rows {
		s.rows[m].locked = len(md.running[m])
	}
	return s
}

// set puts whole queues in and prices them anew.
func (s *state) set(seqs [][]int32) {
	for m := range s.rows {
		s.rows[m].seq = append(s.rows[m].seq[:0], seqs[m]...)
		s.refresh(m, 0)
	}
	s.total()
}

// copyFrom makes s equal to o, of the same model.
func (s *state) copyFrom(o *state) {
	for m := range s.rows {
		r, q := &s.rows[m], &o.rows[m]
		r.seq = append(r.seq[:0], q.seq...)
		r.end = append(r.end[:0], q.end...)
		r.stops = append(r.stops[:0], q.stops...)
		r.locked, r.finish = q.locked, q.finish
	}
	copy(s.mach, o.mach)
	copy(s.pos, o.pos)
	copy(s.done, o.done)
	copy(s.odds, o.odds)
	copy(s.multi, o.multi)
	copy(s.gain, o.gain)
	s.single, s.sum, s.span = o.single, o.sum, o.span
}

// value is the cost of the plan.
func (s *state) value() float64 { return s.single + s.sum + s.md.w.MakeSpan*s.span }

// stop is lot t on machine m behind lot prev, −1: as the first.
func (md *model) stop(h *stop, m int, prev, t int32) {
	h.entry = md.at[m][t]
	h.lot, h.weight, h.risk = t, md.weight[t], md.risk[t]
	h.calm = min(h.due, h.safe)
	if md.order[t] >= 0 || md.hold[t] >= 0 {
		h.calm = math.Inf(-1)
	}
	h.set = md.setup(m, prev, t)
	h.fixed = h.base + md.setWork[m]*h.set
}

// hangs is what of the cost of a lot on machine m hangs on its end: lateness, risk (of a job of several
// lots neither), a missed start.
func (md *model) hangs(m int, h *stop, end float64) (cost float64) {
	if md.order[h.lot] < 0 {
		if end > h.due {
			cost = h.weight * md.behind(m, h.lot, &h.entry, end)
		}
		if end > h.safe {
			cost += h.risk * md.chance(m, &h.entry, end)
		}
	}
	if hold := md.hold[h.lot]; hold >= 0 {
		if late := md.lines[m].start(end-h.work) - hold; late > hair {
			cost += heldWeight * late
		}
	}
	return cost
}

// slope is how fast hangs grows about end e, at the mean pace of the machine's hours.
func (md *model) slope(m int, h *stop, e float64) (slope float64) {
	pace := 1.0
	if l := &md.lines[m]; !l.always {
		pace = 1 / l.rate
	}
	if e > h.due {
		slope = h.weight * pace
	}
	if e > h.safe && e < h.sure && !h.idle {
		// chance is 1 − Φ(z), z = (due − e)/σ(e): its slope is φ(z)·|z′|.
		x := e - md.free[m]
		if sd := math.Sqrt(md.spread2[m]*x*x + md.scatter2[m]*x); sd > 0 {
			z := (h.due - e) / sd
			slope += h.risk * bell(z) / sd * max(0, 1+z*(md.spread2[m]*x+md.scatter2[m]/2)/sd)
		}
	}
	if md.hold[h.lot] >= 0 {
		slope += heldWeight * pace
	}
	return slope
}

// doubt is how far what the rest of a queue costs, shifted, may be from its slopes, as a share, for a rough price to
// be held possible. Lateness is convex, so that its slope is a bound; by the hours closed and by risk it is not.
const doubt = 0.3

// behind is how late lot t is in s where machine m ends it at working second e, after its due one.
func (md *model) behind(m int, t int32, a *entry, e float64) float64 {
	if md.guide != nil {
		return md.guide.slope[m] * (e - a.due)
	}
	return md.lines[m].end(e) - md.due[t]
}

// refresh prices machine m from place i on and sets the lots' places.
func (s *state) refresh(m, i int) {
	md := s.md
	r := &s.rows[m]
	n := len(r.seq)
	r.end = grow(r.end, n)
	r.stops = grow(r.stops, n+1)
	prev, e, cost, last := int32(-1), md.free[m], 0.0, int32(-1)
	if i > 0 {
		prev, e, cost, last = r.seq[i-1], r.end[i-1], r.stops[i].cost, r.stops[i].last
	}
	for k := i; k < n; k++ {
		t := r.seq[k]
		h := &r.stops[k]
		md.stop(h, m, prev, t)
		h.cost, h.last = cost, last
		e = max(e+h.set, h.release) + h.work
		h.own, h.charge = 0, 0
		if e > h.calm {
			h.own = md.hangs(m, h, e)
		}
		if md.old != nil {
			h.charge = md.old.charge(m, t, &last)
		}
		cost += h.fixed + h.own + h.charge
		r.end[k] = e
		prev = t
		s.mach[t], s.pos[t] = int32(m), int32(k)
		if md.order[t] >= 0 {
			s.done[t] = md.lines[m].end(e)
			s.odds[t] = md.chance(m, &h.entry, e)
		}
	}
	r.finish = 0
	if n > 0 {
		r.finish = md.lines[m].end(e)
	}
	always, slope := md.lines[m].always, 0.0
	if md.guide != nil {
		slope = md.guide.slope[m]
	}
	up, down, lateW, stiff := math.Inf(1), math.Inf(1), 0.0, uint8(shifts)
	fall, rise := 0.0, 0.0
	r.stops[n] = stop{lot: -1, cost: cost, last: last, up: up, down: down, rigid: stiff}
	for k := n - 1; k >= 0; k-- {
		h := &r.stops[k]
		t := h.lot
		h.risky = r.stops[k+1].risky + h.own
		if r.end[k] > h.calm && md.n > exhaustive {
			slope := md.slope(m, h, r.end[k])
			fall += slope
			if md.order[t] < 0 { // of a job of several lots only the last counts
				rise += slope
			}
		}
		if r.end[k]-h.work <= h.release+hair { // what is behind it may have time
			rise = 0
		}
		switch {
		case md.order[t] >= 0 || md.hold[t] >= 0:
			// Its lateness is not this row's alone, or it has a price of its own.
			stiff = rigid
		case h.release > 0:
			if wait := r.end[k] - h.work - h.release; wait > hair { // a rounding is no wait
				down = min(down, wait)
			} else {
				stiff = max(stiff, absorbs)
			}
		}
		if d := h.due - r.end[k]; d >= 0 {
			up = min(up, d)
		} else {
			down = min(down, -d)
			switch {
			case slope > 0:
				lateW += slope * h.weight
			case always:
				lateW += h.weight
			default:
				lateW += h.weight
				stiff = rigid
			}
		}
		switch {
		case r.end[k] <= h.safe:
			up = min(up, h.safe-r.end[k])
		case r.end[k] >= h.sure:
			down = min(down, r.end[k]-h.sure)
		default:
			stiff = rigid // its risk goes with its end
		}
		if stiff == absorbs && lateW > 0 {
			stiff = rigid
		}
		h.up, h.down, h.lateW, h.rigid, h.fall, h.rise = up, down, lateW, stiff, fall, rise
	}
}

func grow[T any](f []T, n int) []T {
	if cap(f) < n {
		f = append(make([]T, 0, 2*n), f...)
	}
	return f[:n]
}

// cost is the cost of the row's lots.
func (r *row) cost() float64 { return r.stops[len(r.seq)].cost }

// total sums the rows anew.
func (s *state) total() {
	s.single, s.sum, s.span = 0, 0, 0
	for m := range s.rows {
		r := &s.rows[m]
		s.single += r.cost()
		s.span = max(s.span, r.finish)
	}
	s.shared()
}

// shared prices the jobs of several lots anew.
func (s *state) shared() {
	s.sum = 0
	clear(s.gain)
	for o, lots := range s.md.orders {
		last, fine := 0.0, 1.0
		for _, t := range lots {
			last = max(last, s.done[t])
			fine *= 1 - s.odds[t]
		}
		s.multi[o] = s.late(lots[0], last, 1-fine)
		s.sum += s.multi[o]
		if s.multi[o] > 0 {
			for _, t := range lots {
				s.gain[s.mach[t]] += s.multi[o]
			}
		}
	}
}

// room is how much more than most the rows of machines a and b may cost, with what
// jobs of several lots and the make-span could at most save; b < 0: a alone. Of a rough price tail
// knows the former (spared, stop.fall).
func (s *state) room(most float64, a, b int) float64 {
	if !s.rough {
		most += s.gain[a]
		if b >= 0 {
			most += s.gain[b]
		}
	}
	long := s.rows[a].finish >= s.span
	if b >= 0 {
		long = long || s.rows[b].finish >= s.span
	}
	if long {
		most += s.md.w.MakeSpan * s.span
	}
	return most
}

// late is the cost of a job's lateness and risk, by its last end and its chance
// to be late.
func (s *state) late(t int32, end, chance float64) float64 {
	cost := s.md.risk[t] * chance
	if end > s.md.due[t]+2*hair {
		cost += s.md.weight[t] * (end - s.md.due[t])
	}
	return cost
}

// halt is where tail ended before the old queue's rest.
type halt struct {
	k       int // place in the last piece; 0: it came to the end
	e, cost float64
	rank    int32
}

// tail prices machine m with its queue from place i on replaced by g. keep is
// how many lots at the end of g are the old queue's own end. It gives up, with
// +Inf, once the row's cost is above limit. With at, it ends where the old queue goes on,
// with a cost that the row's is not below, and says so there; with an at that says so it goes on from it.
func (s *state) tail(m, i int, g *segs, keep int, limit float64, at *halt) (cost, end float64) {
	md := s.md
	r := &s.rows[m]
	stops := r.stops
	prev, e, rank := int32(-1), md.free[m], int32(-1)
	if i > 0 {
		prev, e, cost, rank = r.seq[i-1], r.end[i-1], stops[i].cost, stops[i].last
	}
	n := len(r.seq)
	total := stops[n].cost
	from, gi := 0, 0
	if at != nil && at.k > 0 {
		from, gi = at.k, g.n-1
		e, cost, rank, at = at.e, at.cost, at.rank, nil
	}
	var elsewhere stop
	for ; gi < g.n; gi++ {
		part := &g.s[gi]
		skip := len(part.lots) + 1 // from this index on the queue is the old one
		if gi == g.n-1 {
			skip = len(part.lots) - keep
		}
		for k := from; k < len(part.lots); k++ {
			t := part.lots[k]
			s.steps++
			h := &elsewhere
			if part.own >= 0 {
				h = &stops[part.own+k]
			} else {
				md.stop(h, m, prev, t)
			}
			set, fixed := h.set, h.fixed
			if k == 0 {
				set = md.setup(m, prev, t)
				fixed = h.base + md.setWork[m]*set
			}
			// The rest is the old end behind its old neighbour, only shifted:
			// where nothing else changes there its cost is known.
			if k > skip && rank == h.last {
				o := part.own + k
				d := e - r.end[o-1]
				rest := total - h.cost
				if d == 0 {
					return cost + rest, r.end[n-1]
				}
				if d <= h.up && h.rigid != rigid {
					if h.rigid == shifts && -d <= h.down {
						return cost + rest + d*h.lateW, r.end[n-1] + d
					}
					// In time before and after; the row's end is not known,
					// only that it does not set the make-span.
					if h.lateW == 0 && !s.exact {
						if most := r.end[n-1] + max(d, 0); md.lines[m].end(most) <= s.span {
							s.loose = true
							return cost + rest, most
						}
					}
				}
				least := cost + rest // what hangs on ends never falls with a later one
				switch {
				case s.rough && d < 0:
					least -= min(h.risky+s.gain[m], -d*h.fall*(1+doubt))
				case d < 0:
					least -= h.risky
				case s.rough:
					least += d * h.rise * (1 - doubt)
				}
				if least > limit+s.spared {
					return math.Inf(1), 0
				} else if at != nil {
					*at = halt{k, e, cost, rank}
					return least, 0
				}
			}
			e += set
			if e < h.release {
				e = h.release
			}
			e += h.work
			cost += fixed
			if o := md.order[t]; o >= 0 && s.rough {
				s.spared += s.multi[o]
			}
			switch {
			case md.old == nil:
			case part.own >= 0 && rank == h.last:
				cost += h.charge
				rank = stops[part.own+k+1].last
			default:
				cost += md.old.charge(m, t, &rank)
			}
			if e > h.calm {
				if md.order[t] >= 0 {
					s.note(t, md.lines[m].end(e), md.chance(m, &h.entry, e))
				}
				cost += md.hangs(m, h, e)
			}
			if cost > limit+s.spared {
				return math.Inf(1), 0
			}
			prev = t
		}
		from = 0
	}
	return cost, e
}

// note keeps the tentative end of a lot whose job has several, and its chance to
// be late.
func (s *state) note(t int32, end, chance float64) {
	if s.stamp[t] != s.round {
		s.stamp[t] = s.round
		s.touched = append(s.touched, t)
	}
	s.try[t], s.tryOdds[t] = end, chance
}

// begin starts the pricing of one move.
func (s *state) begin() {
	s.touched = s.touched[:0]
	s.loose, s.spared = false, 0
	s.round++
	if s.round == math.MaxInt32 {
		clear(s.stamp)
		s.round = 1
	}
}

// multiDelta is the change of the cost of jobs of several lots by the noted ends.
func (s *state) multiDelta() float64 {
	d := 0.0
	for i, t := range s.touched {
		o := s.md.order[t]
		first := true
		for _, u := range s.touched[:i] {
			if s.md.order[u] == o {
				first = false
				break
			}
		}
		if !first {
			continue
		}
		last, fine := 0.0, 1.0
		for _, u := range s.md.orders[o] {
			if s.stamp[u] == s.round {
				last = max(last, s.try[u])
				fine *= 1 - s.tryOdds[u]
			} else {
				last = max(last, s.done[u])
				fine *= 1 - s.odds[u]
			}
		}
		d += s.late(t, last, 1-fine) - s.multi[o]
	}
	return d
}

// spanWith is the make-span with the ends of machines a and b (working
// seconds) replaced, b < 0: only a; na and nb are how many lots they then
// have. sure is false where it hangs on an end that is not known exactly.
func (s *state) spanWith(a int, ea float64, na int, b int, eb float64, nb int) (span float64, sure bool) {
	for m := range s.rows {
		if m != a && m != b && s.rows[m].finish > span {
			span = s.rows[m].finish
		}
	}
	others := span
	if na > 0 {
		span = max(span, s.md.lines[a].end(ea))
	}
	if b >= 0 && nb > 0 {
		span = max(span, s.md.lines[b].end(eb))
	}
	return span, !s.loose || span == others
}
