package stitch

import (
	"math"
	"slices"
)

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
	ca, cb := w.chord(a), w.chord(b)
	la, lb := ca.long(), cb.long()
	if la == 0 || lb == 0 || cb.dot(ca) > turnedBack*la*lb {
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

// zigzags claims stitches lo ≤ i < hi that go to and fro across a column with the cloth to be seen between them: lines of
// one stitch, each like the one before the one before it and to the same side, openRows of them or more.
func (w *knower) zigzags(lo, hi int) {
	for i := lo; i < hi; {
		to := i + 1
		for to < hi && w.goesAcross(i, to) {
			to++
		}
		if to-i < openRows {
			i = max(i+1, to-1)
			continue
		}
		for ; i < to; i++ {
			w.k[i] = openSatin
		}
	}
}

// goesAcross reports whether stitch n goes on a zigzag that began with stitch first.
func (w *knower) goesAcross(first, n int) bool {
	a, b := w.l[n-1], w.l[n]
	if w.k[n] != NotSewn || w.k[n-1] != NotSewn || min(a, b) < columnLeast || max(a, b) > thereAndBack*min(a, b) || w.turn[n-1] > zigzagTurn {
		return false
	}
	if n-2 < first {
		return true
	}
	u, v, t := w.v[n-2], w.v[n-1], w.v[n]
	return u.side(v)*v.side(t) < 0 && cosine(u, t) > zigzagLike && w.p[n-2].to(w.p[n]).long() <= 2*zigzagWide
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

// soFar sums over the strokes of a chain, up to each.
type soFar struct {
	rows, several int     // strokes that are no steps; those of several stitches
	gaps          int     // between a row and the one before it
	mid, wide     float64 // sums of those gaps, where they are in the mean and at most
}

func (a soFar) since(b soFar) soFar {
	return soFar{a.rows - b.rows, a.several - b.several, a.gaps - b.gaps, a.mid - b.mid, a.wide - b.wide}
}

// isFill reports whether so many rows have several stitches that they are a fill's.
func (a soFar) isFill() bool { return float64(a.several) >= multiShare*float64(a.rows) }

// isOpen reports whether cloth is left to be seen between rows, or lines of a column.
func (a soFar) isOpen() bool {
	if a.isFill() {
		return a.wide > fillWide*float64(a.gaps)
	}
	return a.mid > openApart*float64(a.gaps)
}

// part is strokes from ≤ i < to of a chain that are alike.
type part struct {
	from, to   int
	fill, open bool
}

// gap is how far the ends of the shorter of two rows lie from the longer one: in
// the mean and at most; one gap over a hole in the cloth is not to count for many.
func (w *knower) gap(a, b stroke) (mid, wide float64) {
	c, d := w.chord(a), w.chord(b)
	if d.dot(d) > c.dot(c) {
		a, b, c = b, a, d
	}
	o, long := w.p[a.from-1], c.long()
	if long == 0 {
		return 0, 0
	}
	x, y := c.side(o.to(w.p[b.from-1]))/long, c.side(o.to(w.p[b.to-1]))/long
	return min(math.Abs(x+y)/2, 1.5*openApart), min(max(math.Abs(x), math.Abs(y)), 1.5*fillWide)
}

// chain tells satin from fill along strokes that go to and fro, and both from
// zigzags and rows that leave the cloth to be seen.
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
	w.sums = append(w.sums[:0], soFar{})
	t, before := soFar{}, -1
	for i, s := range all {
		if !s.step {
			if before >= 0 {
				// A row that is sewn again on the way back is no row beside it.
				if mid, wide := w.gap(all[before], s); wide >= sameLine {
					t.gaps, t.mid, t.wide = t.gaps+1, t.mid+mid, t.wide+wide
				}
			}
			before = i
			t.rows++
			if s.to-s.from > 1 && !w.split(s) {
				t.several++
			}
		}
		w.sums = append(w.sums, t)
	}
	const around = 4
	of := func(s int) (fill, open bool) {
		near := w.sums[min(n, s+around+1)].since(w.sums[max(0, s-around)])
		return near.isFill(), near.isOpen()
	}
	w.parts = w.parts[:0]
	for s := 0; s < n; {
		pt := part{from: s, to: s + 1}
		pt.fill, pt.open = of(s)
		for ; pt.to < n; pt.to++ {
			if f, o := of(pt.to); (f != pt.fill || o != pt.open) && pt.to-s >= leastRows && n-pt.to >= leastRows {
				break
			}
		}
		s = pt.to
		pt.fill = pt.fill && w.sums[pt.to].since(w.sums[pt.from]).several >= leastMulti
		w.parts = append(w.parts, pt)
	}
	for i, pt := range w.parts {
		if pt.fill && !pt.open {
			w.parts[i].fill = w.fill(all[pt.from:pt.to], w.sums[pt.to].since(w.sums[pt.from]))
		}
	}
	isFill := func(i int) bool { return i >= 0 && i < len(w.parts) && w.parts[i].fill && !w.parts[i].open }
	for i, pt := range w.parts {
		rows, sum := all[pt.from:pt.to], w.sums[pt.to].since(w.sums[pt.from])
		switch {
		case pt.fill: // claimed above, or rows that leave the cloth to be seen
		case !pt.open && sum.rows <= tipRows && (isFill(i-1) || isFill(i+1)):
			w.claim(rows, Fill)
		case again(sum) || sum.rows < openRows && (pt.open || w.narrow(rows)): // a line that turns back here and there
		default:
			w.column(rows, pt.open, sum.rows >= leastRows && sum.rows <= zigzagMost && sum.mid > zigzagApart*float64(sum.gaps))
		}
	}
}

// fill claims rows for a fill. A way through the fill that happens to lead
// along its rows is none of them: it lies on a row and has stitches of its own
// length. It reports false where the strokes are no fill after all.
func (w *knower) fill(all []stroke, sum soFar) bool {
	longest, n := 0.0, 0.0
	onLine, before := 0, -1
	for s, a := range all {
		if a.to-a.from > 1 {
			longest, n = longest+w.longest(a), n+1
		}
		if !a.step {
			if before >= 0 && w.lies(a, all[before]) {
				onLine++
			}
			before = s
		}
	}
	// Out and back on one line is no fill; nor are rows as dense as the lines of a
	// column of which some have one stitch only.
	if 2*onLine > sum.rows || sum.mid < denseApart*float64(sum.gaps) && float64(sum.several) < mostRows*float64(sum.rows) {
		return false
	}
	least := 0.85 * longest / n
	for s, a := range all {
		way := !a.step && a.to-a.from > 1 && w.longest(a) < least &&
			(s > 0 && w.lies(a, all[s-1]) || s+1 < len(all) && w.lies(a, all[s+1]))
		if !way {
			w.claim(all[s:s+1], Fill)
		}
	}
	return true
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
func (w *knower) column(all []stroke, open, few bool) {
	if !w.even(all) {
		return
	}
	kind := Satin
	switch {
	case open:
		kind = openSatin
	case few:
		kind = fewLines
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

// even reports whether at least half of the strokes are as wide as a column and
// much like the one before, and those there as long as those back: a line that turns
// back here and there is no column, nor one that goes two forward and one back.
func (w *knower) even(all []stroke) bool {
	before, n, way := 0.0, 0, 0
	var ways [2]float64 // lengths there and back
	for _, s := range all {
		if s.step {
			n++
			continue
		}
		l := w.chord(s).long()
		if l >= leastWide && before > 0 && l < 2*before && before < 2*l {
			n++
		}
		ways[way] += l
		way = 1 - way
		before = l
	}
	return 2*(n+1) >= len(all) && max(ways[0], ways[1]) <= thereAndBack*min(ways[0], ways[1])
}

// again reports whether most of the strokes lie on the line of the one before, which
// is a line that is sewn several times.
func again(sum soFar) bool { return 3*(sum.rows-1-sum.gaps) >= 2*(sum.rows-1) }

// narrow reports whether strokes are in the mean shorter than a column is wide.
func (w *knower) narrow(all []stroke) bool {
	sum := 0.0
	for _, s := range all {
		sum += w.chord(s).long()
	}
	return sum < columnLeast*float64(len(all))
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
	return w.chord(s).long() <= splitMost
}
