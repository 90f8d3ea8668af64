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
	tieMost     = 8   // stitches of a tie
	sameHole    = 5.5 // places that are meant to be one
	sameLine    = 1.5 // rows that lie on each other
	sureStitch  = 18
	stepLong    = 14  // a stitch along the edge from one row to the next
	rowsApart   = 10  // rows that lie farther apart leave the cloth to be seen
	denseApart  = 2.6 // lines of a column lie so near each other
	fillApart   = 7   // rows of a fill lie no farther apart in the mean
	openApart   = 6   // so does a zigzag: half of the way from its first line to the third
	splitLong   = 60  // a satin stitch beyond what a record holds is cut in pieces longer than this

	turnedBack   = -0.5  // cosine: the stitch goes back from the one before
	goesOn       = 0.5   // cosine: the stitch goes on from the one before
	goesStraight = 0.8   // the same where both are at least sureStitch long
	straight     = 0.9   // chord over way of a row of a fill
	against      = -0.85 // cosine: a row lies along the one before
	multiShare   = 0.4   // share of rows with several stitches from which rows are a fill
	leastRows    = 4     // strokes to and fro that make a column or a fill
	mostRows     = 0.75
	leastMulti   = 6 // rows of several stitches that make a fill
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
	several []int // prefix sums over a chain: strokes of several stitches

	open []bool // by record: satin that leaves cloth to be seen
}

func (w knower) know(trimAfter int) {
	w.open = make([]bool, len(w.rec))
	x, y, next := 0, 0, 0
	for e := range Events(w.rec, trimAfter) {
		if e.Kind != Run {
			continue
		}
		for ; next < e.From; next++ {
			x, y = x+int(w.rec[next].DX), y+int(w.rec[next].DY)
		}
		w.at, w.p, w.v, w.l = w.at[:0], w.p[:0], w.v[:0], w.l[:0]
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
		if w.k[i] == openSatin {
			w.out[r], w.open[r] = Satin, true
		}
	}
	for i := from; i < to; i++ {
		if w.out[i] == openSatin {
			w.out[i] = Satin
		}
	}
}

const openSatin = Kind(255) // a zigzag until it is known what covers it

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
		w.lines(lo, to)
		lo = to
	}
	w.k[0] = w.k[1]
}

// tieIn is how many stitches a tie at the start of the thread has.
func (w *knower) tieIn() int { return w.tie(0, 1) }

// tieOff is how many stitches a tie at the end of the thread has.
func (w *knower) tieOff() int { return w.tie(len(w.p)-1, -1) }

// tie counts the stitches of a tie that begins at place o and leads on (dir 1)
// or back (dir −1): small ones that stay about the place and turn back at least
// once, or tiny ones before longer ones.
func (w *knower) tie(o, dir int) int {
	n := len(w.p)
	at := func(m int) int { // the m-th stitch, from 1
		if dir > 0 {
			return o + m
		}
		return o - m + 1
	}
	inside := func(m int) bool { i := at(m); return i >= 1 && i < n }
	back := func(m int) bool { // does the thread turn back between the m-th stitch and the next?
		return w.turn[min(at(m), at(m+1))] < turnedBack
	}
	alike := func(a, b int) bool {
		i, j := at(a), at(b)
		return w.v[i].dot(w.v[j]) > 0.9*w.l[i]*w.l[j] && w.l[i] < 1.35*w.l[j] && w.l[j] < 1.35*w.l[i]
	}
	// column reports whether stitches go to and fro in one measure from the m-th on.
	column := func(m int) bool {
		if !inside(m + 4) {
			return false
		}
		for k := range 4 {
			if !back(m+k) || w.l[at(m+k)] < columnLeast {
				return false
			}
		}
		return alike(m, m+2) && alike(m+1, m+3) && alike(m+2, m+4)
	}
	most, end := 0, 0
	for m := 1; m <= tieMost && inside(m) && w.l[at(m)] <= tieLong; m++ {
		if w.k[at(m)] != NotSewn || w.p[o].to(w.p[o+dir*m]).long() > tieReach {
			break
		}
		if column(m) {
			end = m - 1
			break
		}
		most = m
	}
	if end == 0 {
		if most >= 2 && !inside(most+1) { // all of the thread
			return most
		}
		// The tie ends where the thread turns back, or into longer stitches.
		for end = most; end > 0; end-- {
			if !inside(end+1) || back(end) || end == most && w.l[at(end+1)] > tieLong {
				break
			}
		}
	}
	if end < 2 {
		return 0
	}
	sum := 0.0
	for m := 1; m <= end; m++ {
		if m < end && back(m) {
			return end
		}
		sum += w.l[at(m)]
	}
	if mean := sum / float64(end); mean <= 8 && inside(end+1) && w.l[at(end+1)] >= 1.8*mean {
		return end
	}
	return 0
}

// beans finds stitches lo ≤ i < hi that are sewn there, back and there again:
// at least two such after each other.
func (w *knower) beans(lo, hi int) {
	back := func(i int) bool { // does stitch i+1 go back over stitch i?
		return i+1 < hi && w.turn[i] < turnedBack &&
			w.p[i-1].to(w.p[i+1]).long() < max(sameHole, w.l[i]/4)
	}
	for i := lo; i < hi; {
		from, groups := i, 0
		for i < hi {
			m := 1
			for m < 9 && back(i+m-1) {
				m++
			}
			again := i+m < hi && w.turn[i+m-1] < turnedBack // then it is a column
			if again || m < 3 && !(m == 2 && i == 1) || m > 3 && m%2 == 0 {
				break
			}
			i += m
			groups++
		}
		if groups >= 2 {
			for k := from; k < i; k++ {
				w.k[k] = Bean
			}
			continue
		}
		i = from + 1
	}
}

// goesOn reports whether stitch i+1 goes on in the direction of stitch i: the
// longer they are, the surer is their direction.
func (w *knower) goesOn(i int) bool {
	if min(w.l[i], w.l[i+1]) >= sureStitch {
		return w.turn[i] > goesStraight
	}
	return w.turn[i] > goesOn
}

// stroke cuts stitches lo ≤ i < hi into strokes.
func (w *knower) stroke(lo, hi int) {
	w.strokes = w.strokes[:0]
	for i := lo; i < hi; {
		to := i + 1
		for to < hi && w.goesOn(to-1) {
			to++
		}
		w.strokes = append(w.strokes, stroke{from: i, to: to})
		i = to
	}
	for s := 1; s+1 < len(w.strokes); s++ {
		st := &w.strokes[s]
		if st.to-st.from > 1 || w.l[st.from] > stepLong || w.strokes[s-1].step {
			continue
		}
		a, b := w.v[st.from-1], w.v[st.from+1]
		st.step = w.turn[st.from-1] > turnedBack && w.turn[st.from] > turnedBack && cosine(a, b) < -0.7 &&
			a.side(w.v[st.from])*w.v[st.from].side(b) > 0
	}
}

func (w *knower) chord(s stroke) place { return w.p[s.from-1].to(w.p[s.to-1]) }

// apart is how far from each other strokes a and b lie, b going back beside a;
// ok is false where it does not.
func (w *knower) apart(a, b stroke) (d float64, ok bool) {
	if w.v[a.to-1].dot(w.v[b.from]) > turnedBack*w.l[a.to-1]*w.l[b.from] {
		return 0, false
	}
	ca, cb := w.chord(a), w.chord(b)
	la, lb := ca.long(), cb.long()
	if cb.dot(ca) > 0 || la == 0 || lb == 0 {
		return 0, false
	}
	o := w.p[a.from-1]
	if lb > la { // measure from the longer one: its direction is surer
		a, b, ca, la, o = b, a, cb, lb, w.p[b.from-1]
	}
	mid := place{(w.p[b.from-1].x + w.p[b.to-1].x) / 2, (w.p[b.from-1].y + w.p[b.to-1].y) / 2}
	return math.Abs(ca.side(o.to(mid))) / la, true
}

// isStraight reports whether a stroke is a row and no bend.
func (w *knower) isStraight(s stroke) bool {
	if s.to-s.from == 1 {
		return true
	}
	way := 0.0
	for i := s.from; i < s.to; i++ {
		way += w.l[i]
	}
	return w.chord(s).long() >= straight*way
}

// chains finds strokes that go to and fro beside each other.
func (w *knower) chains() {
	all := w.strokes
	for s := 0; s < len(all); {
		if all[s].step {
			s++
			continue
		}
		prev, last, rows := s, s, 1
		for last+1 < len(all) {
			n := last + 1
			if all[n].step {
				n++
			}
			if n >= len(all) {
				break
			}
			a, b := all[last], all[n]
			// A run that leads into the first row, or away from the last, is cut
			// from it below and need not be straight.
			if d, ok := w.apart(w.near(a, b), w.near(b, a)); !ok || d > rowsApart {
				break
			}
			if rows > 1 {
				d, ok := w.apart(w.near(all[prev], a), a)
				if !ok || d > rowsApart || !w.isStraight(a) {
					break
				}
			}
			prev, last, rows = last, n, rows+1
		}
		if rows >= leastRows {
			w.chain(all[s : last+1])
			s = last + 1 // its last stroke has been cut to what belongs to it
			continue
		}
		s = max(last, s+1)
	}
}

// near is the part of stroke a that lies along stroke b, which goes before or
// after it; at least one stitch.
func (w *knower) near(a, b stroke) stroke {
	c := w.chord(b)
	reach := c.long() + stepLong
	along := func(i int) bool { return w.v[i].dot(c) < against*w.l[i]*c.long() }
	if a.from < b.from {
		from := a.to - 1
		for from > a.from && along(from-1) && w.p[from-2].to(w.p[a.to-1]).long() <= reach {
			from--
		}
		a.from = from
	} else {
		to := a.from + 1
		for to < a.to && along(to) && w.p[a.from-1].to(w.p[to]).long() <= reach {
			to++
		}
		a.to = to
	}
	return a
}

// chain tells satin from fill along strokes that go to and fro.
func (w *knower) chain(all []stroke) {
	n := len(all)
	first, last := 1, n-2 // beside the first and the last
	if all[first].step {
		first++
	}
	if all[last].step {
		last--
	}
	all[0], all[n-1] = w.near(all[0], all[first]), w.near(all[n-1], all[last])
	w.several = append(w.several[:0], 0)
	for _, s := range all {
		m := 0
		if s.to-s.from > 1 && !w.split(s) {
			m = 1
		}
		w.several = append(w.several, w.several[len(w.several)-1]+m)
	}
	const around = 4
	isFill := func(s int) bool {
		lo, hi := max(0, s-around), min(n, s+around+1)
		return float64(w.several[hi]-w.several[lo]) >= multiShare*float64(hi-lo)
	}
	for s := 0; s < n; {
		to := s + 1
		for to < n && isFill(to) == isFill(s) {
			to++
		}
		if part := all[s:to]; isFill(s) && w.several[to]-w.several[s] >= leastMulti {
			w.fill(part)
		} else {
			w.column(part)
		}
		s = to
	}
}

// fill claims rows for a fill. A way through the fill that happens to lead
// along its rows is none of them: it lies on a row and has stitches of its own length.
func (w *knower) fill(all []stroke) {
	longest, n := 0.0, 0.0
	onLine, pairs := 0, 0
	for s, a := range all {
		if a.to-a.from > 1 {
			longest, n = longest+w.longest(a), n+1
		}
		if s > 0 && !a.step && !all[s-1].step {
			pairs++
			if w.lies(a, all[s-1]) {
				onLine++
			}
		}
	}
	// Out and back on one line is no fill; nor are rows as dense as the lines of a
	// column of which some have one stitch only.
	if apart := w.meanApart(all); 2*onLine > pairs || apart < denseApart && n < mostRows*float64(len(all)) {
		w.column(all)
		return
	} else if apart > fillApart {
		return
	}
	least := 0.85 * longest / n
	for s, a := range all {
		way := !a.step && a.to-a.from > 1 && w.longest(a) < least &&
			(s > 0 && w.lies(a, all[s-1]) || s+1 < len(all) && w.lies(a, all[s+1]))
		if !way {
			w.claim(all[s:s+1], Fill)
		}
	}
}

// lies reports whether strokes beside each other in a chain are on one line.
func (w *knower) lies(a, b stroke) bool {
	d, ok := 0.0, false
	if a.from < b.from {
		d, ok = w.apart(w.near(a, b), w.near(b, a))
	} else {
		d, ok = w.apart(w.near(b, a), w.near(a, b))
	}
	return ok && d < sameLine
}

func (w *knower) longest(s stroke) (most float64) {
	for i := s.from; i < s.to; i++ {
		most = max(most, w.l[i])
	}
	return most
}

// claim gives stitches a kind.
func (w *knower) claim(all []stroke, k Kind) {
	for i := all[0].from; i < all[len(all)-1].to; i++ {
		w.k[i] = k
	}
}

// column claims strokes for satin: those of one stitch, and of others what lies
// along such a one. The rest leads from a column to another.
func (w *knower) column(all []stroke) {
	kind := Satin
	if w.meanApart(all) > openApart {
		kind = openSatin
	}
	// A way that turns back into the column, or out of it, does not lie like its stitches.
	alike := func(a, b stroke) bool {
		c, d := w.chord(a), w.chord(b)
		return c.dot(d) > 0.87*c.long()*d.long() && d.long() < 2*c.long() && c.long() < 2*d.long()
	}
	for range 2 {
		if n := len(all); n > 4 && !alike(all[0], all[2]) && alike(all[1], all[3]) && alike(all[2], all[4]) {
			all = all[1:]
		}
		slices.Reverse(all)
	}
	single := func(s int) bool { return s >= 0 && s < len(all) && (all[s].to-all[s].from == 1 || w.split(all[s])) }
	for s := range all {
		if single(s) {
			w.claim(all[s:s+1], kind)
			continue
		}
		if single(s - 1) {
			w.claimAlong(all[s], all[s-1], kind)
		}
		if single(s + 1) {
			w.claimAlong(all[s], all[s+1], kind)
		}
	}
}

// claimAlong claims the part of stroke a that lies along stroke b.
func (w *knower) claimAlong(a, b stroke, k Kind) {
	whole := a
	a = w.near(a, b)
	c := w.chord(b)
	if a == whole && a.to-a.from > 1 && w.chord(a).long() < 1.25*c.long() { // a line with a hole on its way
		w.claim([]stroke{a}, k)
		return
	}
	if a.to-a.from == 1 && w.v[a.from].dot(c) < against*w.l[a.from]*c.long() && w.l[a.from] < c.long()+stepLong {
		w.k[a.from] = k
	}
}

// split reports whether a stroke is one satin stitch that no record could hold.
func (w *knower) split(s stroke) bool {
	for i := s.from; i < s.to; i++ {
		if w.l[i] < splitLong {
			return false
		}
	}
	return true
}

// meanApart is how far strokes lie from each other in the mean.
func (w *knower) meanApart(all []stroke) float64 {
	sum, n := 0.0, 0.0
	for i := 1; i < len(all); i++ {
		if all[i].step || all[i-1].step {
			continue
		}
		if d, ok := w.apart(all[i-1], all[i]); ok {
			sum, n = sum+d, n+1
		}
	}
	if n == 0 {
		return 0
	}
	return sum / n
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
		to, back := i, 0
		for to < hi && w.k[to] == NotSewn {
			if to > i && w.turn[to-1] < turnedBack {
				back++
			}
			to++
		}
		kind := Running
		if to-i <= tipMost && w.small(i, to) && i > lo && to < hi && w.k[i-1] == w.k[to] && w.k[to] != Bean {
			kind = w.k[to] // where a column comes to a point
		} else if to-i >= 6 && 2*back > to-i {
			kind = Unknown
		}
		for ; i < to; i++ {
			w.k[i] = kind
		}
	}
}
