package plan

import (
	"math"
)

// row is one machine's queue with what is needed to price a change of it from
// any place on.
type row struct {
	seq    []int32
	end    []float64 // working seconds at the end of lot i
	cost   []float64 // cost of the lots before i; one more: of all
	own    []float64 // what of the cost of lot i hangs on its end: lateness, risk, a missed start
	risky  []float64 // that of lots i…
	up     []float64 // lots i… may all end this much later without another being late
	down   []float64 // and this much earlier without another being in time
	lateW  []float64 // weights of the late ones among lots i…
	rigid  []uint8   // whether lots i… can be shifted as one (shifts, absorbs, rigid)
	last   []int32   // rank of the last lot before i that the plan before had on this machine too
	locked int       // lots at the head that are running
	finish float64   // s: wall end of the last lot
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
	exact   bool  // price every row to its end
	loose   bool  // a row's end is only known to be no later than given
	steps   int64 // lots that were looked at to price moves
}

// segs is a queue's tail in pieces.
type segs struct {
	s [5][]int32
	n int
}

func (g *segs) add(s []int32) {
	if len(s) > 0 {
		g.s[g.n] = s
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
		r.cost = append(r.cost[:0], q.cost...)
		r.own = append(r.own[:0], q.own...)
		r.risky = append(r.risky[:0], q.risky...)
		r.up = append(r.up[:0], q.up...)
		r.down = append(r.down[:0], q.down...)
		r.lateW = append(r.lateW[:0], q.lateW...)
		r.rigid = append(r.rigid[:0], q.rigid...)
		r.last = append(r.last[:0], q.last...)
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

// step appends lot t on machine m after lot prev at working second e and
// gives its end and its own cost (without lateness for a job of several lots), and
// what of it hangs on the end.
func (s *state) step(m int, prev, t int32, e float64) (end, cost, risky float64) {
	md := s.md
	var set float64
	switch {
	case prev < 0:
		set = md.first[m][md.kind[t]]
	case md.over:
		set = md.full[m][int(md.kind[prev])*md.kinds+int(md.kind[t])]
	default:
		set = md.tab[m][md.code(md.kind[prev], md.kind[t])]
	}
	a := &md.at[m][t]
	e += set
	if e < a.release {
		e = a.release
	}
	end = e + a.work
	if end > a.due && md.order[t] < 0 {
		risky += md.weight[t] * md.behind(m, t, a, end)
	}
	if end > a.safe && md.order[t] < 0 {
		risky += md.risk[t] * md.chance(m, a, end)
	}
	if h := md.hold[t]; h >= 0 {
		if late := md.lines[m].start(e) - h; late > hair {
			risky += heldWeight * late
		}
	}
	return end, a.base + md.setWork[m]*set + risky, risky
}

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
	r.cost = grow(r.cost, n+1)
	r.own = grow(r.own, n)
	r.risky = grow(r.risky, n+1)
	r.up = grow(r.up, n+1)
	r.down = grow(r.down, n+1)
	r.lateW = grow(r.lateW, n+1)
	if cap(r.rigid) < n+1 {
		r.rigid = make([]uint8, 2*n+1)
	}
	r.rigid = r.rigid[:n+1]
	if cap(r.last) < n+1 {
		r.last = append(make([]int32, 0, 2*n+1), r.last...)
	}
	r.last = r.last[:n+1]
	prev, e, cost, last := int32(-1), md.free[m], 0.0, int32(-1)
	if i > 0 {
		prev, e, cost, last = r.seq[i-1], r.end[i-1], r.cost[i], r.last[i]
	}
	for k := i; k < n; k++ {
		t := r.seq[k]
		r.cost[k], r.last[k] = cost, last
		var c float64
		e, c, r.own[k] = s.step(m, prev, t, e)
		if md.old != nil {
			c += md.old.charge(m, t, &last)
		}
		cost += c
		r.end[k] = e
		prev = t
		s.mach[t], s.pos[t] = int32(m), int32(k)
		if md.order[t] >= 0 {
			s.done[t] = md.lines[m].end(e)
			s.odds[t] = md.chance(m, &md.at[m][t], e)
		}
	}
	r.cost[n], r.last[n] = cost, last
	r.finish = 0
	if n > 0 {
		r.finish = md.lines[m].end(e)
	}
	always, slope := md.lines[m].always, 0.0
	if md.guide != nil {
		slope = md.guide.slope[m]
	}
	up, down, lateW, stiff := math.Inf(1), math.Inf(1), 0.0, uint8(shifts)
	r.up[n], r.down[n], r.lateW[n], r.rigid[n], r.risky[n] = up, down, lateW, stiff, 0
	for k := n - 1; k >= 0; k-- {
		t := r.seq[k]
		a := &md.at[m][t]
		r.risky[k] = r.risky[k+1] + r.own[k]
		switch {
		case md.order[t] >= 0 || md.hold[t] >= 0:
			// Its lateness is not this row's alone, or it has a price of its own.
			stiff = rigid
		case a.release > 0:
			if wait := r.end[k] - a.work - a.release; wait > hair { // a rounding is no wait
				down = min(down, wait)
			} else {
				stiff = max(stiff, absorbs)
			}
		}
		if d := a.due - r.end[k]; d >= 0 {
			up = min(up, d)
		} else {
			down = min(down, -d)
			switch {
			case slope > 0:
				lateW += slope * md.weight[t]
			case always:
				lateW += md.weight[t]
			default:
				lateW += md.weight[t]
				stiff = rigid
			}
		}
		switch {
		case r.end[k] <= a.safe:
			up = min(up, a.safe-r.end[k])
		case r.end[k] >= a.sure:
			down = min(down, r.end[k]-a.sure)
		default:
			stiff = rigid // its risk goes with its end
		}
		if stiff == absorbs && lateW > 0 {
			stiff = rigid
		}
		r.up[k], r.down[k], r.lateW[k], r.rigid[k] = up, down, lateW, stiff
	}
}

func grow(f []float64, n int) []float64 {
	if cap(f) < n {
		f = append(make([]float64, 0, 2*n), f...)
	}
	return f[:n]
}

// total sums the rows anew.
func (s *state) total() {
	s.single, s.sum, s.span = 0, 0, 0
	for m := range s.rows {
		r := &s.rows[m]
		s.single += r.cost[len(r.seq)]
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
// jobs of several lots and the make-span could at most save; b < 0: a alone.
func (s *state) room(most float64, a, b int) float64 {
	most += s.gain[a]
	long := s.rows[a].finish >= s.span
	if b >= 0 {
		most += s.gain[b]
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

// tail prices machine m with its queue from place i on replaced by g. keep is
// how many lots at the end of g are the old queue's own end. It gives up, with
// +Inf, once the row's cost is above limit.
func (s *state) tail(m, i int, g *segs, keep int, limit float64) (cost, end float64) {
	md := s.md
	r := &s.rows[m]
	prev, e, rank := int32(-1), md.free[m], int32(-1)
	if i > 0 {
		prev, e, cost, rank = r.seq[i-1], r.end[i-1], r.cost[i], r.last[i]
	}
	n := len(r.seq)
	var (
		at     = md.at[m]
		kind   = md.kind
		tab    []float64
		full   []float64
		line   = &md.lines[m]
		always = line.always
		wSetup = md.setWork[m]
		kinds  = md.kinds
		plain  = len(md.orders) == 0
		slope  = 0.0
	)
	if md.guide != nil {
		slope = md.guide.slope[m]
	}
	if md.over {
		full = md.full[m]
	} else {
		tab = md.tab[m]
	}
	for gi := 0; gi < g.n; gi++ {
		part := g.s[gi]
		last := gi == g.n-1
		skip := len(part) + 1 // from this index on the queue is the old one
		at0 := s.steps
		if last {
			skip = len(part) - keep
		}
		for k, t := range part {
			s.steps = at0 + int64(k) + 1
			// The rest is the old end behind its old neighbour, only shifted:
			// where nothing else changes there its cost is known.
			if o := n - (len(part) - k); k > skip && rank == r.last[o] {
				d := e - r.end[o-1]
				least := cost + r.cost[n] - r.cost[o]
				if d < 0 {
					least -= r.risky[o]
				}
				if least > limit { // what hangs on ends never falls with a later one
					return math.Inf(1), 0
				}
				if d == 0 {
					return cost + r.cost[n] - r.cost[o], r.end[n-1]
				}
				if d <= r.up[o] && r.rigid[o] != rigid {
					if r.rigid[o] == shifts && -d <= r.down[o] {
						return cost + r.cost[n] - r.cost[o] + d*r.lateW[o], r.end[n-1] + d
					}
					// In time before and after; the row's end is not known,
					// only that it does not set the make-span.
					if r.lateW[o] == 0 && !s.exact {
						if most := r.end[n-1] + max(d, 0); line.end(most) <= s.span {
							s.loose = true
							return cost + r.cost[n] - r.cost[o], most
						}
					}
				}
			}
			var set float64
			switch {
			case prev < 0:
				set = md.first[m][kind[t]]
			case full != nil:
				set = full[int(kind[prev])*kinds+int(kind[t])]
			default:
				set = tab[md.code(kind[prev], kind[t])]
			}
			a := &at[t]
			e += set
			start := e
			if e < a.release {
				e = a.release
				start = e
			}
			e += a.work
			cost += a.base + wSetup*set
			if md.old != nil {
				cost += md.old.charge(m, t, &rank)
			}
			if plain || md.order[t] < 0 {
				if e > a.due {
					switch {
					case slope > 0:
						cost += md.weight[t] * slope * (e - a.due)
					case always:
						cost += md.weight[t] * (e - md.due[t])
					default:
						cost += md.weight[t] * (line.end(e) - md.due[t])
					}
				}
				if e > a.safe {
					cost += md.risk[t] * md.chance(m, a, e)
				}
			} else {
				s.note(t, line.end(e), md.chance(m, a, e))
			}
			if h := md.hold[t]; h >= 0 {
				if late := line.start(start) - h; late > hair {
					cost += heldWeight * late
				}
			}
			if cost > limit {
				return math.Inf(1), 0
			}
			prev = t
		}
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
	s.loose = false
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
