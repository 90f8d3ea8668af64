package audit

import (
	"iter"
	"math"
	"math/bits"
)

// ThreadWidth is how wide sewn thread lies, in mm: the apparent diameter of
// 40-weight embroidery thread, quoted as 0.3 and as 0.4 mm (an embroidery
// forum; E. Campbell, mrxstitch.com/pull-compensation). The wider keeps more
// objects in their order.
const ThreadWidth = 0.4

// reach is ThreadWidth in 0.1 mm: threads touch where their middle lines come
// this close.
const reach = 4

// pairs says of any two objects whether their threads touch or overlap.
type pairs struct {
	n     int
	words int
	bits  []uint64
}

func newPairs(n int) *pairs {
	w := (n + 63) / 64
	return &pairs{n, w, make([]uint64, n*w)}
}

func (p *pairs) has(i, j int) bool { return p.bits[i*p.words+j>>6]>>(j&63)&1 != 0 }

// after goes through all j > i with which i is a pair.
func (p *pairs) after(i int) iter.Seq[int] {
	return func(yield func(int) bool) {
		for w := (i + 1) >> 6; w < p.words; w++ {
			in := p.bits[i*p.words+w]
			if w == (i+1)>>6 {
				in &= ^uint64(0) << ((i + 1) & 63)
			}
			for ; in != 0; in &= in - 1 {
				if !yield(w<<6 + bits.TrailingZeros64(in)) {
					return
				}
			}
		}
	}
}

func (p *pairs) set(i, j int) {
	p.bits[i*p.words+j>>6] |= 1 << (j & 63)
	p.bits[j*p.words+i>>6] |= 1 << (i & 63)
}

// line is a piece of sewn thread: from hole to hole within one object.
type line struct {
	x0, y0, x1, y1 int32
	object         int32
}

// threads are the pieces of thread of all objects, in sewing order. An object
// of a single hole has one piece without length.
func (l *layout) threads() []line {
	lines := make([]line, 0, len(l.holes))
	for k := range l.objects {
		o := &l.objects[k]
		if o.Bare {
			h := l.holes[o.First]
			lines = append(lines, line{h.x, h.y, h.x, h.y, int32(k)})
			continue
		}
		a := l.holes[o.First]
		for _, b := range l.holes[o.First+1 : o.Last] {
			if a.x != b.x || a.y != b.y {
				lines = append(lines, line{a.x, a.y, b.x, b.y, int32(k)})
			}
			a = b
		}
	}
	return lines
}

// grid keeps the pieces of thread by square cells, each in every cell that
// its width reaches into (and 0.1 mm more, for covered).
type grid struct {
	lines      []line
	x0, y0     int32
	cell       int32
	nx, ny     int32
	start      []int32 // of each cell in entry
	entry      []int32 // numbers of lines, ascending in each cell
	cellMargin int32
}

const (
	cellUnits = 20 // 2 mm: a few stitches a cell
	maxCells  = 1 << 22
)

func newGrid(lines []line) *grid {
	g := &grid{lines: lines, cell: cellUnits, cellMargin: reach/2 + 1}
	if len(lines) == 0 {
		g.nx, g.ny, g.start = 1, 1, make([]int32, 2)
		return g
	}
	x0, y0, x1, y1 := lines[0].x0, lines[0].y0, lines[0].x0, lines[0].y0
	for _, s := range lines {
		x0, y0 = min(x0, s.x0, s.x1), min(y0, s.y0, s.y1)
		x1, y1 = max(x1, s.x0, s.x1), max(y1, s.y0, s.y1)
	}
	g.x0, g.y0 = x0-reach, y0-reach
	w, h := int64(x1)-int64(g.x0)+reach+1, int64(y1)-int64(g.y0)+reach+1
	for (w/int64(g.cell)+1)*(h/int64(g.cell)+1) > maxCells {
		g.cell *= 2
	}
	g.nx, g.ny = int32(w/int64(g.cell))+1, int32(h/int64(g.cell))+1
	count := make([]int32, g.nx*g.ny+1)
	for i := range lines {
		g.cells(&lines[i], func(c int32) { count[c+1]++ })
	}
	for c := 1; c < len(count); c++ {
		count[c] += count[c-1]
	}
	g.start = append([]int32(nil), count...)
	g.entry = make([]int32, count[len(count)-1])
	for i := range lines {
		g.cells(&lines[i], func(c int32) {
			g.entry[count[c]] = int32(i)
			count[c]++
		})
	}
	return g
}

// cells calls f for every cell the piece may reach into: row by row, the
// columns between its ends within the row.
func (g *grid) cells(s *line, f func(int32)) {
	m := g.cellMargin
	xa, ya, xb, yb := s.x0, s.y0, s.x1, s.y1
	if ya > yb {
		xa, ya, xb, yb = xb, yb, xa, ya
	}
	r0, r1 := (ya-m-g.y0)/g.cell, (yb+m-g.y0)/g.cell
	lo, hi := min(xa, xb), max(xa, xb)
	if r1-r0 < 2 || hi-lo < 2*g.cell {
		c0, c1 := (lo-m-g.x0)/g.cell, (hi+m-g.x0)/g.cell
		for r := r0; r <= r1; r++ {
			for c := c0; c <= c1; c++ {
				f(r*g.nx + c)
			}
		}
		return
	}
	dx, dy := float64(xb-xa), float64(yb-ya)
	at := func(y int32) int32 { // x on the line at y, held to its ends
		t := float64(y-ya) / dy
		if t < 0 {
			t = 0
		} else if t > 1 {
			t = 1
		}
		return xa + int32(t*dx)
	}
	for r := r0; r <= r1; r++ {
		// the part of the line within the row, with the margin above and below
		a, b := at(g.y0+r*g.cell-m), at(g.y0+(r+1)*g.cell+m)
		if a > b {
			a, b = b, a
		}
		c0, c1 := (a-m-1-g.x0)/g.cell, (b+m+1-g.x0)/g.cell
		for c := max(0, c0); c <= min(g.nx-1, c1); c++ {
			f(r*g.nx + c)
		}
	}
}

// box is a rectangle in 0.1 mm.
type box struct{ x0, y0, x1, y1 int32 }

// apart says whether nothing in one box comes as close as reach to the other.
func (b *box) apart(c *box) bool {
	return b.x1+reach < c.x0 || c.x1+reach < b.x0 || b.y1+reach < c.y0 || c.y1+reach < b.y0
}

// touching finds the pairs of objects whose threads come as close as reach. Where
// two do, a cell holds the middle between them: in it, what lies near it of both
// is looked at, and boxes around that leave most pieces out.
func (g *grid) touching(objects int) *pairs {
	p := newPairs(objects)
	type stretch struct { // the pieces of one object in a cell
		object   int32
		from, to int32
		box      box
	}
	var runs []stretch
	var boxes []box // of the cell's entries
	for c := range g.nx * g.ny {
		from, to := g.start[c], g.start[c+1]
		if from == to || g.lines[g.entry[from]].object == g.lines[g.entry[to-1]].object {
			continue
		}
		cx, cy := g.x0+c%g.nx*g.cell-g.cellMargin, g.y0+c/g.nx*g.cell-g.cellMargin
		side := g.cell + 2*g.cellMargin
		runs, boxes = runs[:0], boxes[:0]
		for i := from; i < to; i++ {
			s := &g.lines[g.entry[i]]
			b := box{max(cx, min(s.x0, s.x1)), max(cy, min(s.y0, s.y1)), min(cx+side, max(s.x0, s.x1)), min(cy+side, max(s.y0, s.y1))}
			boxes = append(boxes, b)
			if n := len(runs); n == 0 || runs[n-1].object != s.object {
				runs = append(runs, stretch{s.object, i - from, i - from + 1, b})
				continue
			}
			r := &runs[len(runs)-1]
			r.to++
			r.box = box{min(r.box.x0, b.x0), min(r.box.y0, b.y0), max(r.box.x1, b.x1), max(r.box.y1, b.y1)}
		}
		entry := g.entry[from:to]
		for a := range runs {
			for b := a + 1; b < len(runs); b++ {
				i, j := &runs[a], &runs[b]
				if i.box.apart(&j.box) || p.has(int(i.object), int(j.object)) {
					continue
				}
				for m := i.from; m < i.to; m++ {
					if !boxes[m].apart(&j.box) && g.anyTouch(entry[m], &boxes[m], entry[j.from:j.to], boxes[j.from:j.to]) {
						p.set(int(i.object), int(j.object))
						break
					}
				}
			}
		}
	}
	return p
}

// anyTouch says whether a piece touches one of others, whose boxes stand beside.
func (g *grid) anyTouch(piece int32, of *box, others []int32, boxes []box) bool {
	for k := range others {
		if !of.apart(&boxes[k]) && touch(&g.lines[piece], &g.lines[others[k]]) {
			return true
		}
	}
	return false
}

// touch says whether two pieces of thread come as close as reach. All is in
// whole numbers, so there is no rounding to be wrong about.
func touch(s, t *line) bool {
	if crosses(s, t) {
		return true
	}
	return near(t.x0, t.y0, s) || near(t.x1, t.y1, s) || near(s.x0, s.y0, t) || near(s.x1, s.y1, t)
}

func crosses(s, t *line) bool {
	side := func(l *line, x, y int32) int64 {
		return int64(l.x1-l.x0)*int64(y-l.y0) - int64(l.y1-l.y0)*int64(x-l.x0)
	}
	a, b := side(s, t.x0, t.y0), side(s, t.x1, t.y1)
	c, d := side(t, s.x0, s.y0), side(t, s.x1, s.y1)
	return (a > 0 && b < 0 || a < 0 && b > 0) && (c > 0 && d < 0 || c < 0 && d > 0)
}

// near says whether the point lies within reach of the line.
func near(x, y int32, l *line) bool { return within(x, y, l, reach*reach) }

// within says whether the square of the distance from (x, y) to the line is at
// most square.
func within(x, y int32, l *line, square int64) bool {
	ux, uy := int64(l.x1)-int64(l.x0), int64(l.y1)-int64(l.y0)
	px, py := int64(x)-int64(l.x0), int64(y)-int64(l.y0)
	dot, len2 := ux*px+uy*py, ux*ux+uy*uy
	if dot <= 0 || len2 == 0 {
		return px*px+py*py <= square
	}
	if dot >= len2 {
		qx, qy := int64(x)-int64(l.x1), int64(y)-int64(l.y1)
		return qx*qx+qy*qy <= square
	}
	cross := ux*py - uy*px
	if cross < 0 {
		cross = -cross
	}
	// cross² ≤ square·len2, without overflow for lines up to kilometres
	return float64(cross)*float64(cross) <= float64(square)*float64(len2)
}

// covered is the number of a line of objects sewn after the given one that lies within
// square of the point, −1 where none does. Line was, which covered the point before, is
// asked first. Rounded to 0.1 mm the point would find cover beside it.
func (g *grid) covered(x, y float64, after int, square float64, was int32) int32 {
	if was >= 0 && g.lines[was].lies(x, y, square) {
		return was
	}
	cx, cy, far := int32(math.Round(x)), int32(math.Round(y)), int32(math.Sqrt(square))+1
	list := g.at(cx, cy)
	for i := len(list) - 1; i >= 0; i-- {
		s := &g.lines[list[i]]
		if int(s.object) <= after {
			return -1
		}
		if cx < min(s.x0, s.x1)-far || cx > max(s.x0, s.x1)+far || cy < min(s.y0, s.y1)-far || cy > max(s.y0, s.y1)+far {
			continue
		}
		if s.lies(x, y, square) {
			return list[i]
		}
	}
	return -1
}

// lies says whether the line lies within square of the point.
func (l *line) lies(x, y, square float64) bool {
	ux, uy := float64(l.x1-l.x0), float64(l.y1-l.y0)
	px, py := x-float64(l.x0), y-float64(l.y0)
	if long := ux*ux + uy*uy; long > 0 {
		t := min(1, max(0, (ux*px+uy*py)/long))
		px, py = px-t*ux, py-t*uy
	}
	return px*px+py*py <= square+hair
}

// hair is what a sum of squares in 0.1 mm may be off by rounding.
const hair = 1e-6

// any says whether a line for which is says yes lies within square of the point.
func (g *grid) any(x, y int32, square int64, is func(line int) bool) bool {
	for _, i := range g.at(x, y) {
		if is(int(i)) && within(x, y, &g.lines[i], square) {
			return true
		}
	}
	return false
}

// at is the numbers of the lines that reach into the cell of a point.
func (g *grid) at(x, y int32) []int32 {
	c, r := (x-g.x0)/g.cell, (y-g.y0)/g.cell
	if x < g.x0 || y < g.y0 || c >= g.nx || r >= g.ny {
		return nil
	}
	at := r*g.nx + c
	return g.entry[g.start[at]:g.start[at+1]]
}
