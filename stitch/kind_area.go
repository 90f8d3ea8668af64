package stitch

import (
	"math"
	"slices"
)

// How an area is found that lines fill in curves, or with a thread a row: lines of
// one colour that lie beside each other, whatever is sewn in between. Lengths in
// units of 0.1 mm; common practice with no published source.
const (
	areaCell   = 10   // of the grid in which neighbours are looked up
	areaGap    = 8    // a wider gap leaves the cloth to be seen
	denseGap   = 4.5  // lines so near to each other hide what is under them
	areaWide   = 18   // what lines with no such gap cover at least, to fill and not to outline
	areaLike   = 0.8  // cosine: a neighbour lies along the stitch
	areaLong   = 130  // a longer stitch is a way
	offSide    = 3    // so far beside a line a net is looked for: from the middle of one in a net of crosses all ways go through others' ends
	areaRow    = 12   // records of a thread that is one row
	areaLeast  = 40   // stitches of no other kind that are worth a look
	areaEach   = 4    // of so many stitches one is looked at first, the others where it is among some
	areaNear   = 6    // stitches before and after that are looked at with one:
	areaShare  = 0.55 // so many of them lie among others
	areaHole   = 30   // records between two stretches of one area
	netGap     = 25   // lines of a net lie no farther apart, in both directions
	netWide    = 70   // and cover so much in each
	mostBeside = 24   // neighbours that are looked at, however many lie on one spot
)

// line is a stitch as it lies on the cloth.
type line struct {
	rec   int
	a, b  place
	u     place   // its direction, of length 1
	wide  float64 // what it and its neighbours must cover to fill an area
	dense bool    // it and its neighbours hide the cloth
	net   bool    // it is found to lie in a net: the cloth shows between its lines
}

// areas finds running stitch that fills an area, one colour after the other.
func (w *knower) areas() {
	x, y := 0, 0
	var lines []line
	for i := 0; i < len(w.rec); {
		to, dot := i, true // of records of one thread
		for to < len(w.rec) && w.out[to] != NotSewn {
			dot = dot && w.out[to] == Tie
			to++
		}
		first := len(lines)
		for k := i; k < to; k++ {
			a := place{float64(x), float64(y)}
			x, y = x+int(w.rec[k].DX), y+int(w.rec[k].DY)
			b := place{float64(x), float64(y)}
			v := a.to(b)
			l, kind := v.long(), w.out[k]
			if k > i && l >= leastStitch && l <= areaLong && (kind == Running || kind == Unknown || dot) {
				lines = append(lines, line{rec: k, a: a, b: b, u: place{v.x / l, v.y / l}, wide: areaWide})
			}
		}
		if own := lines[first:]; len(own) > 0 && to-i <= areaRow && onOne(own) {
			for k := range own {
				own[k].wide = areaGap
			}
		}
		if i = to; i < len(w.rec) {
			x, y = x+int(w.rec[i].DX), y+int(w.rec[i].DY)
			if w.rec[i].Op == ColourStop {
				w.area(lines)
				lines = lines[:0]
			}
			i++
		}
	}
	w.area(lines)
}

// onOne reports whether lines lie on one line.
func onOne(lines []line) bool {
	o := lines[0]
	for _, l := range lines {
		if math.Abs(o.a.to(l.a).side(o.u)) > sameLine || math.Abs(o.a.to(l.b).side(o.u)) > sameLine {
			return false
		}
	}
	return true
}

// area gives the lines of one colour that lie among others the kind of a fill.
func (w *knower) area(lines []line) {
	if len(lines) < areaLeast {
		return
	}
	g := newLineGrid(lines)
	some := make([]bool, len(lines)/areaEach+1)
	for i := range some {
		some[i] = i*areaEach < len(lines) && g.fills(i*areaEach)
	}
	among := make([]int, len(lines)+1) // sums over the lines
	for i := range lines {
		among[i+1] = among[i]
		k := i / areaEach
		fills := some[k]
		if i%areaEach != 0 {
			fills = slices.Contains(some[max(0, k-2):min(len(some), k+3)], true) && g.fills(i)
		}
		if fills {
			among[i+1]++
		}
	}
	full := func(i int) bool {
		lo, hi := max(0, i-areaNear), min(len(lines), i+areaNear+1)
		return float64(among[hi]-among[lo]) >= areaShare*float64(hi-lo)
	}
	last, before := -areaHole-1, 0 // where the last stretch ended, and its length
	for i := 0; i < len(lines); i++ {
		if !full(i) {
			continue
		}
		to := i + 1
		for to < len(lines) && full(to) && lines[to].rec-lines[to-1].rec <= areaHole {
			to++
		}
		from, end := w.withEnds(lines[i].rec, lines[to-1].rec)
		long := end - from
		if gap := from - last; gap <= areaHole && gap <= before+long {
			from = last
		}
		net, dense := 0, 0
		for _, l := range lines[i:to] {
			if l.net {
				net++
			}
			if l.dense {
				dense++
			}
		}
		for k := from; k < end; k++ {
			if w.out[k] == NotSewn {
				continue
			}
			w.out[k] = Fill
			if open := showsCloth(net, dense, among[to]-among[i]); open != 0 {
				w.open[k] = open
			}
		}
		last, before, i = end, long, to-1
	}
}

// showsCloth is what of a fill's so many lines that lie among others shows the cloth: a net where
// most of them lie in one, and any other fill unless most are dense. 0: it hides the cloth.
func showsCloth(net, dense, lines int) Kind {
	switch {
	case 2*net > lines:
		return netFill
	case 2*dense <= lines:
		return areaFill
	}
	return 0
}

// withEnds is records from ≤ i < to: those of stitches first to last, the first
// place of their thread and what is too short for a direction.
func (w *knower) withEnds(first, last int) (from, to int) {
	from, to = first, last+1
	if from == 1 || w.out[from-2] == NotSewn {
		from--
	}
	for to < len(w.rec) && w.out[to] != NotSewn &&
		(place{float64(w.rec[to].DX), float64(w.rec[to].DY)}).long() < leastStitch {
		to++
	}
	return from, to
}

// lineGrid finds the lines near a place.
type lineGrid struct {
	lines  []line
	x0, y0 float64
	cell   float64
	nx, ny int
	head   []int32 // by cell: the first of its entries, 0 where there is none
	all    []gridEntry
}

type gridEntry struct{ line, next int32 }

func newLineGrid(lines []line) *lineGrid {
	g := &lineGrid{lines: lines, x0: math.Inf(1), y0: math.Inf(1), cell: areaCell}
	x1, y1 := math.Inf(-1), math.Inf(-1)
	for _, l := range lines {
		g.x0, x1 = min(g.x0, l.a.x, l.b.x), max(x1, l.a.x, l.b.x)
		g.y0, y1 = min(g.y0, l.a.y, l.b.y), max(y1, l.a.y, l.b.y)
	}
	most := float64(1024 + 64*len(lines)) // few lines on much cloth get a coarser grid
	for ((x1-g.x0)/g.cell+1)*((y1-g.y0)/g.cell+1) > most {
		g.cell *= 2
	}
	g.nx, g.ny = int((x1-g.x0)/g.cell)+1, int((y1-g.y0)/g.cell)+1
	g.head, g.all = make([]int32, g.nx*g.ny), make([]gridEntry, 1, 1+3*len(lines))
	for i, l := range lines {
		n := int(2*max(math.Abs(l.a.x-l.b.x), math.Abs(l.a.y-l.b.y))/g.cell) + 1
		last := -1
		for s := range n + 1 {
			t := float64(s) / float64(n)
			c := int((l.a.y+(l.b.y-l.a.y)*t-g.y0)/g.cell)*g.nx + int((l.a.x+(l.b.x-l.a.x)*t-g.x0)/g.cell)
			if c != last {
				g.all = append(g.all, gridEntry{int32(i), g.head[c]})
				g.head[c], last = int32(len(g.all)-1), c
			}
		}
	}
	return g
}

// fills reports whether the lines that lie along line i cover the cloth to both
// sides of its middle as wide as its own want, with no gap between them; or
// whether it lies in a net: with wider gaps, but across it too.
func (g *lineGrid) fills(i int) bool {
	l := &g.lines[i]
	m, n := place{(l.a.x + l.b.x) / 2, (l.a.y + l.b.y) / 2}, place{-l.u.y, l.u.x}
	if l.dense = g.covers(m, n, denseGap, l.wide); l.dense || g.covers(m, n, areaGap, l.wide) {
		return true
	}
	m = place{m.x + offSide*n.x, m.y + offSide*n.y}
	l.net = l.wide == areaWide && g.covers(m, n, netGap, netWide) && g.covers(m, l.u, netGap, netWide)
	return l.net
}

// covers reports whether lines across the ways from m in direction n and back cover
// the cloth there as far as enough in all, with no gap wider than that.
func (g *lineGrid) covers(m, n place, gap, enough float64) bool {
	far := 0.0
	for range 2 {
		if far += g.reaches(m, n, gap, enough-far); far >= enough {
			return true
		}
		n = place{-n.x, -n.y}
	}
	return false
}

// reaches is how far from m in direction n lines across that way cover the cloth;
// it looks no farther than enough.
func (g *lineGrid) reaches(m, n place, gap, enough float64) (far float64) {
	var beside [mostBeside]float64
	found, last := beside[:0], -1
	along := place{n.y, -n.x}
	for t := 0.0; t <= far+gap+g.cell && far < enough; t += g.cell / 2 {
		x, y := m.x+n.x*t-g.x0, m.y+n.y*t-g.y0
		if x < 0 || y < 0 || x >= float64(g.nx)*g.cell || y >= float64(g.ny)*g.cell {
			break
		}
		c := int(y/g.cell)*g.nx + int(x/g.cell)
		if c == last {
			continue
		}
		last = c
		seen := 0
		for e := g.head[c]; e != 0 && seen < mostBeside; e = g.all[e].next {
			seen++
			o := &g.lines[g.all[e].line]
			if math.Abs(o.u.dot(along)) < areaLike {
				continue
			}
			// Where it crosses the way.
			ta, tb := m.to(o.a).dot(along), m.to(o.b).dot(along)
			if ta*tb > 0 || ta == tb {
				continue
			}
			da, db := m.to(o.a).dot(n), m.to(o.b).dot(n)
			if d := da + (db-da)*ta/(ta-tb); d > far && len(found) < mostBeside {
				found = append(found, d)
			}
		}
		for more := true; more; {
			more = false
			for _, d := range found {
				if d > far && d <= far+gap {
					far, more = d, true
				}
			}
		}
	}
	return far
}
