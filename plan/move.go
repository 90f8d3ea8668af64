package plan

import (
	"math"
	"slices"
)

// The kinds of move the search makes.
const (
	moveBlock = iota // size lots from place i of machine a to before place j of machine b
	moveSwap         // the lots at (a, i) and (b, j) change places
	moveTails        // the queues of a from i on and of b from j on change machines
)

// change is one move; places are those before the move.
type change struct {
	kind       int
	a, i, b, j int
	size       int
}

// legal reports whether the move's lots fit on the machines they come to and
// no running lot is touched; a move that changes nothing is not legal.
func (s *state) legal(c *change) bool {
	ra, rb := &s.rows[c.a], &s.rows[c.b]
	if c.i < ra.locked || c.j < rb.locked || c.i > len(ra.seq) || c.j > len(rb.seq) {
		return false
	}
	fit := func(m int, lots []int32) bool {
		for _, t := range lots {
			if !s.md.can[m][t] {
				return false
			}
		}
		return true
	}
	switch c.kind {
	case moveBlock:
		if c.i+c.size > len(ra.seq) || c.size < 1 {
			return false
		}
		if c.a == c.b {
			return c.j < c.i || c.j > c.i+c.size
		}
		return fit(c.b, ra.seq[c.i:c.i+c.size])
	case moveSwap:
		if c.i >= len(ra.seq) || c.j >= len(rb.seq) {
			return false
		}
		if c.a == c.b {
			return c.i != c.j
		}
		return fit(c.b, ra.seq[c.i:c.i+1]) && fit(c.a, rb.seq[c.j:c.j+1])
	}
	if c.a == c.b || c.i == len(ra.seq) && c.j == len(rb.seq) {
		return false
	}
	return fit(c.b, ra.seq[c.i:]) && fit(c.a, rb.seq[c.j:])
}

// pieces gives the new tails of the move: of machine a from place i on, and,
// where b is another machine, of b from place j on; keepA and keepB say how
// much of their ends is the old queue.
func (s *state) pieces(c *change, ga, gb *segs) (i, j, keepA, keepB int) {
	qa, qb := s.rows[c.a].seq, s.rows[c.b].seq
	i, j = c.i, c.j
	ga.n, gb.n = 0, 0
	switch {
	case c.kind == moveBlock && c.a == c.b:
		if c.j < c.i {
			i = c.j
			ga.own(qa, c.i, c.i+c.size)
			ga.own(qa, c.j, c.i)
			ga.own(qa, c.i+c.size, len(qa))
			keepA = len(qa) - c.i - c.size
		} else {
			ga.own(qa, c.i+c.size, c.j)
			ga.own(qa, c.i, c.i+c.size)
			ga.own(qa, c.j, len(qa))
			keepA = len(qa) - c.j
		}
	case c.kind == moveBlock:
		ga.own(qa, c.i+c.size, len(qa))
		keepA = len(qa) - c.i - c.size
		gb.other(qa[c.i : c.i+c.size])
		gb.own(qb, c.j, len(qb))
		keepB = len(qb) - c.j
	case c.kind == moveSwap && c.a == c.b:
		i, j = min(c.i, c.j), max(c.i, c.j)
		ga.own(qa, j, j+1)
		ga.own(qa, i+1, j)
		ga.own(qa, i, i+1)
		ga.own(qa, j+1, len(qa))
		keepA = len(qa) - j - 1
	case c.kind == moveSwap:
		ga.other(qb[c.j : c.j+1])
		ga.own(qa, c.i+1, len(qa))
		keepA = len(qa) - c.i - 1
		gb.other(qa[c.i : c.i+1])
		gb.own(qb, c.j+1, len(qb))
		keepB = len(qb) - c.j - 1
	default:
		ga.other(qb[c.j:])
		gb.other(qa[c.i:])
	}
	return i, j, keepA, keepB
}

// price is the change of the plan's cost by a legal move, +Inf where it is
// certainly above most.
func (s *state) price(c *change, most float64) float64 {
	d, sure := s.estimate(c, most)
	if !sure {
		s.exact = true
		d, _ = s.estimate(c, most)
		s.exact = false
	}
	return d
}

// estimate is price, perhaps with too late an end of a row; sure says that
// this made no difference.
func (s *state) estimate(c *change, most float64) (delta float64, sure bool) {
	var ga, gb segs
	i, j, keepA, keepB := s.pieces(c, &ga, &gb)
	s.begin()
	ra, rb := &s.rows[c.a], &s.rows[c.b]
	old := ra.cost()
	if c.a == c.b {
		room := s.room(most, c.a, -1)
		cost, end := s.tail(c.a, i, &ga, keepA, old+room, nil)
		if math.IsInf(cost, 1) {
			return cost, true
		}
		return s.delta(cost-old, c.a, end, 1, -1, 0, 0)
	}
	old += rb.cost()
	room := s.room(most, c.a, c.b)
	var toA, toB halt
	first := old + room - ra.stops[i].cost
	if s.rough {
		first += s.gain[c.a]
	}
	costB, endB := s.tail(c.b, j, &gb, keepB, first, &toB)
	if math.IsInf(costB, 1) {
		return costB, true
	}
	costA, endA := s.tail(c.a, i, &ga, keepA, old+room-costB, &toA)
	if !math.IsInf(costA, 1) && toA.k > 0 {
		costA, endA = s.tail(c.a, i, &ga, keepA, old+room-costB, &toA)
	}
	if math.IsInf(costA, 1) {
		return costA, true
	}
	if toB.k > 0 {
		costB, endB = s.tail(c.b, j, &gb, keepB, old+room-costA, &toB)
	}
	if math.IsInf(costB, 1) || costA+costB > old+room+s.spared {
		return math.Inf(1), true
	}
	na, nb := i, j
	for k := 0; k < ga.n; k++ {
		na += len(ga.s[k].lots)
	}
	for k := 0; k < gb.n; k++ {
		nb += len(gb.s[k].lots)
	}
	return s.delta(costA+costB-old, c.a, endA, na, c.b, endB, nb)
}

// delta adds to a change of the rows' cost that of jobs of several lots and of
// the make-span.
func (s *state) delta(rows float64, a int, endA float64, na, b int, endB float64, nb int) (d float64, sure bool) {
	d = rows
	if len(s.touched) > 0 {
		d += s.multiDelta()
	}
	if s.md.w.MakeSpan == 0 {
		return d, true
	}
	span, sure := s.spanWith(a, endA, na, b, endB, nb)
	return d + s.md.w.MakeSpan*(span-s.span), sure
}

// apply makes a legal move.
func (s *state) apply(c *change) {
	ra, rb := &s.rows[c.a], &s.rows[c.b]
	before := ra.cost()
	if c.a != c.b {
		before += rb.cost()
	}
	switch c.kind {
	case moveBlock:
		if c.a == c.b {
			i, j, k := c.i, c.i+c.size, c.j // rotate [i,j) [j,k) or [k,i) [i,j)
			if c.j < c.i {
				i, j, k = c.j, c.i, c.i+c.size
			}
			rotate(ra.seq[i:k], j-i)
			s.refresh(c.a, i)
		} else {
			block := ra.seq[c.i : c.i+c.size]
			rb.seq = slices.Insert(rb.seq, c.j, block...)
			ra.seq = slices.Delete(ra.seq, c.i, c.i+c.size)
			s.refresh(c.a, c.i)
			s.refresh(c.b, c.j)
		}
	case moveSwap:
		ra.seq[c.i], rb.seq[c.j] = rb.seq[c.j], ra.seq[c.i]
		if c.a == c.b {
			s.refresh(c.a, min(c.i, c.j))
		} else {
			s.refresh(c.a, c.i)
			s.refresh(c.b, c.j)
		}
	case moveTails:
		ta := slices.Clone(ra.seq[c.i:])
		ra.seq = append(ra.seq[:c.i], rb.seq[c.j:]...)
		rb.seq = append(rb.seq[:c.j], ta...)
		s.refresh(c.a, c.i)
		s.refresh(c.b, c.j)
	}
	after := ra.cost()
	if c.a != c.b {
		after += rb.cost()
	}
	s.single += after - before
	s.span = 0
	for m := range s.rows {
		s.span = max(s.span, s.rows[m].finish)
	}
	s.shared()
}

// rotate moves the first k elements behind the others.
func rotate(s []int32, k int) {
	slices.Reverse(s[:k])
	slices.Reverse(s[k:])
	slices.Reverse(s)
}
