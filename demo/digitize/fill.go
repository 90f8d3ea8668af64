package digitize

import (
	"math"
	"slices"

	"needlepace/stitch"
)

// Shape is an area: closed rings, where a ring inside another is a hole
// (even-odd rule). The last point of a ring may repeat the first or not.
type Shape [][]Pt

// Area makes a shape of rings.
func Area(rings ...[]Pt) Shape { return rings }

// Fill sews the shape in rows: angle in degrees from the x axis, rows spacing mm
// apart, stitches of about stitch mm whose ends are staggered over four rows,
// as fills are so that no furrow shows. Where the shape falls into parts the
// needle walks from part to part inside the shape. Rows shorter than LeastMM
// are left out. Rows turn at the edge without a stitch along it.
func (p *Piece) Fill(s Shape, angle, spacing, stitch float64) {
	f := &filling{piece: p, angle: angle, stitch: max(stitch, LeastMM), spacing: max(spacing, leastSpacing)}
	f.scan(s)
	f.group()
	f.sew()
}

// FillUnderlay sews what holds the fabric to its backing under a fill at the
// given angle: a run just inside the edge and wide rows across those of the fill.
func (p *Piece) FillUnderlay(s Shape, angle float64) {
	for i, ring := range s {
		p.Run(s.inside(i, ring, 0.6), UnderlayMM)
	}
	f := &filling{piece: p, angle: angle + 90, stitch: 3, inset: 1, spacing: 2.5}
	f.scan(s)
	f.group()
	f.sew()
}

// inside is ring i moved mm into the shape and closed.
func (s Shape) inside(i int, ring []Pt, mm float64) []Pt {
	ring = distinct(ring)
	if len(ring) < 3 {
		return nil
	}
	if ring[0].Dist(ring[len(ring)-1]) > 1e-6 {
		ring = append(ring, ring[0])
	}
	area := 0.0 // twice the area, positive where the ring runs counter-clockwise
	for k := 1; k < len(ring); k++ {
		area += ring[k-1].X*ring[k].Y - ring[k].X*ring[k-1].Y
	}
	left := area > 0
	for j, other := range s {
		if j != i && within(ring[0], other) {
			left = !left
		}
	}
	if !left {
		mm = -mm
	}
	return Offset(ring, mm)
}

// within reports whether q lies inside the ring (even-odd rule).
func within(q Pt, ring []Pt) bool {
	in := false
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		if (a.Y <= q.Y) != (b.Y <= q.Y) && q.X < a.X+(b.X-a.X)*(q.Y-a.Y)/(b.Y-a.Y) {
			in = !in
		}
	}
	return in
}

// span is one stretch of a row inside the shape, in the fill's own axes.
type span struct {
	x0, x1, y float64
	row       int
	next      []int // spans of the neighbouring rows that overlap this one
	down, up  int   // how many of next lie in the row below and above
}

func (s *span) mid() Pt { return Pt{(s.x0 + s.x1) / 2, s.y} }

type filling struct {
	piece         *Piece
	angle, stitch float64
	inset         float64 // mm the rows stop short of the edge
	spacing       float64 // mm
	spans         []span
	parts         [][]int // spans, row after row, that can be sewn in one go
}

func (f *filling) scan(s Shape) {
	var rings Shape
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, r := range s {
		q := Map(r, func(p Pt) Pt { return p.Rotate(-f.angle) })
		for _, v := range q {
			lo, hi = min(lo, v.Y), max(hi, v.Y)
		}
		rings = append(rings, q)
	}
	var before []int // spans of the row before
	for row := 0; ; row++ {
		y := lo + (float64(row)+0.5)*f.spacing
		if !(y < hi) {
			return
		}
		var xs []float64
		for _, r := range rings {
			for i, a := range r {
				b := r[(i+1)%len(r)]
				if (a.Y <= y) != (b.Y <= y) {
					xs = append(xs, a.X+(b.X-a.X)*(y-a.Y)/(b.Y-a.Y))
				}
			}
		}
		slices.Sort(xs)
		var now []int
		for i := 0; i+1 < len(xs); i += 2 {
			xs[i] += f.inset
			xs[i+1] -= f.inset
			if xs[i+1]-xs[i] < LeastMM {
				continue
			}
			k := len(f.spans)
			f.spans = append(f.spans, span{x0: xs[i], x1: xs[i+1], y: y, row: row})
			now = append(now, k)
			for _, j := range before {
				if min(f.spans[j].x1, xs[i+1])-max(f.spans[j].x0, xs[i]) > LeastMM/2 {
					f.spans[j].next = append(f.spans[j].next, k)
					f.spans[k].next = append(f.spans[k].next, j)
					f.spans[j].up++
					f.spans[k].down++
				}
			}
		}
		before = now
	}
}

// group cuts the rows into parts: a part goes on while each row has one
// neighbour and is its only one.
func (f *filling) group() {
	part := make([]int, len(f.spans))
	for k := range f.spans {
		s := &f.spans[k]
		part[k] = len(f.parts)
		if s.down == 1 {
			for _, j := range s.next {
				if f.spans[j].row < s.row && f.spans[j].up == 1 {
					part[k] = part[j]
				}
			}
		}
		if part[k] == len(f.parts) {
			f.parts = append(f.parts, nil)
		}
		f.parts[part[k]] = append(f.parts[part[k]], k)
	}
}

func (f *filling) sew() {
	left := slices.Clone(f.parts)
	here := -1 // span the needle stands in
	for len(left) > 0 {
		at := f.piece.At().Rotate(-f.angle)
		best, bestPart, fromTop, fromRight := math.Inf(1), 0, false, false
		for i, part := range left {
			for c := range 4 {
				s := &f.spans[part[0]]
				if c&1 != 0 {
					s = &f.spans[part[len(part)-1]]
				}
				q := Pt{s.x0, s.y}
				if c&2 != 0 {
					q.X = s.x1
				}
				if d := at.Dist(q); d < best {
					best, bestPart, fromTop, fromRight = d, i, c&1 != 0, c&2 != 0
				}
			}
		}
		part := left[bestPart]
		left = slices.Delete(left, bestPart, bestPart+1)
		if fromTop {
			part = slices.Clone(part)
			slices.Reverse(part)
		}
		if here >= 0 {
			f.walkTo(here, part[0])
		}
		f.rows(part, fromRight)
		here = part[len(part)-1]
	}
}

// rows sews a part row by row, to and fro.
func (f *filling) rows(part []int, fromRight bool) {
	stagger := [4]float64{0, 0.5, 0.25, 0.75}
	p := f.piece
	for i, k := range part {
		s := f.spans[k]
		first, last := Pt{s.x0, s.y}, Pt{s.x1, s.y}
		if fromRight {
			first, last = last, first
		}
		if i == 0 {
			p.begin(f.back(first), f.back(last))
			if f.spacing < openMM {
				defer p.as(stitch.Fill)()
				defer func() { p.cover(f.outline(part)) }()
			}
		}
		// a row turns into the next with one penetration, at the one of the two
		// ends that lies farther out; where the edge leans so far that the
		// stitch between them is long enough, with two
		if i+1 < len(part) {
			n := f.spans[part[i+1]]
			turn := Pt{n.x1, n.y}
			if fromRight {
				turn.X = n.x0
			}
			if (turn.X > last.X) != fromRight && turn.Dist(last) < 1.2*LeastMM {
				last = turn
			}
		}
		f.sewTo(first, 1.2*LeastMM)
		phase := stagger[s.row%4] * f.stitch
		var xs []float64
		for x := math.Ceil((s.x0+LeastMM-phase)/f.stitch)*f.stitch + phase; x <= s.x1-LeastMM; x += f.stitch {
			xs = append(xs, x)
		}
		if fromRight {
			slices.Reverse(xs)
		}
		for _, x := range xs {
			f.sewTo(Pt{x, s.y}, LeastMM)
		}
		f.sewTo(last, 0.9*LeastMM)
		fromRight = !fromRight
	}
}

// outline is the ring round the rows of a part, half a row beyond the first and
// the last: so far their thread reaches.
func (f *filling) outline(part []int) []Pt {
	ring := make([]Pt, 2*len(part))
	beyond := f.spacing / 2
	if f.spans[part[0]].y < f.spans[part[len(part)-1]].y {
		beyond = -beyond
	}
	for i, k := range part {
		s := f.spans[k]
		y := s.y
		if i == 0 {
			y += beyond
		}
		if i == len(part)-1 {
			y -= beyond
		}
		ring[i], ring[len(ring)-1-i] = f.back(Pt{s.x0, y}), f.back(Pt{s.x1, y})
	}
	return ring
}

// sewTo sews to q, in the fill's axes, unless that is nearer than least; a way
// much longer than the fill's stitch is cut in two or more.
func (f *filling) sewTo(q Pt, least float64) {
	q = f.back(q)
	if d := f.piece.At().Dist(q); d >= least {
		f.piece.walk([]Pt{f.piece.At(), q}, d/math.Ceil(d/(1.35*f.stitch)))
	}
}

// walkTo runs inside the shape from one span to another: over neighbouring
// spans, as straight as they allow.
func (f *filling) walkTo(from, to int) {
	prev := make([]int, len(f.spans))
	for i := range prev {
		prev[i] = -1
	}
	prev[to] = to
	queue := []int{to}
	for len(queue) > 0 && prev[from] < 0 {
		k := queue[0]
		queue = queue[1:]
		for _, j := range f.spans[k].next {
			if prev[j] < 0 {
				prev[j] = k
				queue = append(queue, j)
			}
		}
	}
	if prev[from] < 0 {
		return // an island: the connector goes straight
	}
	way := []int{from}
	for k := from; k != to; k = prev[k] {
		way = append(way, prev[k])
	}
	pts := []Pt{f.piece.At()}
	at := pts[0].Rotate(-f.angle)
	for i := 0; i < len(way)-1; {
		j := i + 1
		for n := i + 2; n < len(way) && f.straight(at, way[i:n+1]); n++ {
			j = n
		}
		at = f.spans[way[j]].mid()
		pts = append(pts, f.back(at))
		i = j
	}
	if Length(pts) >= LeastMM {
		f.piece.walk(distinct(pts), ConnectorMM)
	}
}

// straight reports whether the line from at to the middle of the last span stays
// inside the spans of the way, which must lead one way only.
func (f *filling) straight(at Pt, way []int) bool {
	end := f.spans[way[len(way)-1]].mid()
	sign := f.spans[way[1]].row - f.spans[way[0]].row
	for i := 1; i < len(way); i++ {
		s := &f.spans[way[i]]
		if s.row-f.spans[way[i-1]].row != sign {
			return false
		}
		x := at.X + (end.X-at.X)*(s.y-at.Y)/(end.Y-at.Y)
		if x < s.x0+0.4 || x > s.x1-0.4 {
			return false
		}
	}
	return true
}

func (f *filling) back(q Pt) Pt { return q.Rotate(f.angle) }
