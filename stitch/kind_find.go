package stitch

import (
	"math"
	"slices"
)

// What tells the kinds apart. Lengths are in units of 0.1 mm. Each is common
// practice with no published source, set so that the places of the needle may
// be 0.2 mm off.
const (
	leastStitch = 2.5 // a shorter one has no direction
	tieLong     = 15  // a stitch of a tie is no longer
	tieReach    = 16  // and none leads farther from where the tie began
	tipMost     = 10  // stitches in the point of a column
	columnLeast = 8   // a column is no narrower: stitches to and fro that are shorter are a tie
	leastWide   = 4   // most of its lines are at least so long
	tieMost     = 8   // stitches of a tie
	sameHole    = 5.5 // places that are meant to be one
	sameLine    = 1.5 // rows that lie on each other
	samePlace   = 2.5 // a line that is sewn again ends there
	sureStitch  = 18
	stepLong    = 14  // a stitch along the edge from one row to the next
	rowsApart   = 10  // rows that lie farther apart leave the cloth to be seen
	denseApart  = 2.6 // lines of a column lie so near each other
	fillWide    = 10  // rows of a fill lie no farther apart in the mean, where they are farthest
	openApart   = 6   // so does a zigzag: half of the way from its first line to the third
	zigzagMost  = 16  // lines of a zigzag under one stretch of a column
	zigzagWide  = 30  // lines of a zigzag that stands alone lie no farther apart
	zigzagApart = 2.5 // and they lie farther apart than most columns' in the mean
	splitLong   = 60  // a satin stitch beyond what a record holds is cut in pieces longer than this
	splitMost   = 250 // and no column is wider

	turnedBack   = -0.5  // cosine: the stitch goes back from the one before
	zigzagTurn   = -0.35 // cosine: the lines of an open zigzag go back from each other
	zigzagLike   = 0.8   // cosine: and each lies like the one before the one before
	goesOn       = 0.5   // cosine: the stitch goes on from the one before
	goesStraight = 0.8   // the same where both are at least sureStitch long
	straight     = 0.9   // chord over way of a row of a fill
	against      = -0.85 // cosine: a row lies along the one before
	multiShare   = 0.4   // share of rows with several stitches from which rows are a fill
	leastRows    = 4     // strokes to and fro that make a column or a fill
	mostRows     = 0.6
	tipRows      = 12   // rows of one stitch where a fill comes to a point
	leadsOn      = 0.25 // of its way: a line that turns back often, but goes on
	thereAndBack = 1.6  // lines of a column one way are in sum no longer than those the other way by more
	openRows     = 8    // lines of a zigzag that is seen
	leastMulti   = 6    // rows of several stitches that make a fill
)

// place is a penetration, units of 0.1 mm.
type place struct{ x, y float64 }

func (p place) to(q place) place     { return place{q.x - p.x, q.y - p.y} }
func (p place) dot(q place) float64  { return p.x*q.x + p.y*q.y }
func (p place) side(q place) float64 { return p.x*q.y - p.y*q.x }
func (p place) long() float64        { return math.Sqrt(p.x*p.x + p.y*p.y) }

func cosine(v, w place) float64 {
	l := math.Sqrt(v.dot(v) * w.dot(w))
	if l == 0 {
		return 1
	}
	return v.dot(w) / l
}

// stroke is stitches that go on in one direction: from ≤ i < to. One that only
// leads along the edge from one row to the next is a step.
type stroke struct {
	from, to int
	step     bool
}

// knower works through a design thread by thread. Stitch i of a thread leads
// from place i−1 to place i; there is no stitch 0.
type knower struct {
	rec []Record
	out []Kind

	at      []int // record of each place
	p       []place
	v       []place // of each stitch
	l       []float64
	turn    []float64 // cosine between stitch i and i+1
	k       []Kind
	strokes []stroke
	sums    []soFar // over a chain
	parts   []part  // of it

	open []Kind // by record: what of satin may be underlay
}

func (w knower) know(trimAfter int) {
	w.open = make([]Kind, len(w.rec))
	x, y, next := 0, 0, 0
	for e := range Events(w.rec, trimAfter) {
		if e.Kind != Run {
			continue
		}
		for ; next < e.From; next++ {
			x, y = x+int(w.rec[next].DX), y+int(w.rec[next].DY)
		}
		n := e.To - e.From
		w.at, w.p, w.v, w.l = slices.Grow(w.at[:0], n), slices.Grow(w.p[:0], n), slices.Grow(w.v[:0], n), slices.Grow(w.l[:0], n)
		for ; next < e.To; next++ {
			r := w.rec[next]
			x, y = x+int(r.DX), y+int(r.DY)
			if r.Op == Jump {
				continue
			}
			q, v, long := place{float64(x), float64(y)}, place{}, 0.0
			if n := len(w.p); n > 0 {
				v = w.p[n-1].to(q)
				if long = v.long(); long < leastStitch {
					continue
				}
			}
			w.at, w.p, w.v, w.l = append(w.at, next), append(w.p, q), append(w.v, v), append(w.l, long)
		}
		w.thread()
		w.spread(e.From, e.To)
	}
	w.areas()
	w.cover()
}

// spread gives the kinds of the stitches to all records of their run.
func (w *knower) spread(from, to int) {
	if len(w.k) == 0 {
		for i := from; i < to; i++ {
			w.out[i] = Unknown
		}
		return
	}
	n := 0
	for i := from; i < to; i++ {
		for n < len(w.at)-1 && w.at[n] < i {
			n++ // a jump leads to the next place
		}
		w.out[i] = w.k[n]
		if w.at[n] > i && w.rec[i].Op != Jump {
			w.out[i] = w.k[n-1] // too short for a direction: with the stitch before
		}
	}
	for i, r := range w.at {
		if k := w.k[i]; k >= fewLines {
			w.out[r], w.open[r] = Satin, k
		}
	}
	for i := from; i < to; i++ {
		if w.out[i] >= fewLines {
			w.out[i] = Satin
		}
	}
}

// Satin until it is known what covers it.
const (
	fewLines  = Kind(254) // a short column: it hides what is under it, and may be underlay as a whole
	openSatin = Kind(255) // a zigzag
)

// Fills that hide nothing.
const (
	areaFill = Kind(252) // the cloth shows between its lines
	netFill  = Kind(253) // a net, which may be underlay
)

// thread finds the kinds of one thread's stitches.
func (w *knower) thread() {
	n := len(w.p)
	w.k, w.turn = w.k[:0], w.turn[:0]
	for i := range n {
		w.k = append(w.k, NotSewn)
		c := 1.0
		if i > 0 && i+1 < n {
			c = w.v[i].dot(w.v[i+1]) / (w.l[i] * w.l[i+1])
		}
		w.turn = append(w.turn, c)
	}
	if n < 2 {
		for i := range w.k {
			w.k[i] = Unknown
		}
		return
	}
	w.beans(1, n)
	for i := 1 + w.tieIn(); i > 1; i-- {
		w.k[i-1] = Tie
	}
	for i := n - w.tieOff(); i < n; i++ {
		w.k[i] = Tie
	}
	for lo, hi := 1, n; lo < hi; {
		if w.k[lo] != NotSewn {
			lo++
			continue
		}
		to := lo
		for to < hi && w.k[to] == NotSewn {
			to++
		}
		w.stroke(lo, to)
		w.chains()
		w.zigzags(lo, to)
		w.lines(lo, to)
		lo = to
	}
	w.k[0] = w.k[1]
}

// small reports whether stitches i ≤ … < to are all too small for a column.
func (w *knower) small(i, to int) bool {
	for ; i < to; i++ {
		if w.l[i] > columnLeast {
			return false
		}
	}
	return true
}

// lines says of the stitches lo ≤ i < hi that nothing else claims whether they
// follow a line.
func (w *knower) lines(lo, hi int) {
	for i := lo; i < hi; {
		if w.k[i] != NotSewn {
			i++
			continue
		}
		to, back, on, way := i, 0, 0.0, 0.0
		for to < hi && w.k[to] == NotSewn {
			if to > i && w.turn[to-1] < turnedBack {
				back++
			}
			if to++; to-i >= 4 { // how far four stitches lead
				on, way = on+w.p[to-5].to(w.p[to-1]).long(), way+w.l[to-4]+w.l[to-3]+w.l[to-2]+w.l[to-1]
			}
		}
		kind := Running
		if to-i <= tipMost && w.small(i, to) && i > lo && to < hi && w.k[i-1] == w.k[to] && w.k[to] != Bean {
			kind = w.k[to] // where a column comes to a point
		} else if to-i >= 6 && 2*back > to-i && on < leadsOn*way {
			kind = Unknown
		}
		for ; i < to; i++ {
			w.k[i] = kind
		}
	}
}
